"""`moondesk month`: thirty evenings of many senders as a poster, and as the march of the terminator."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path

import click

from moondesk.records import NotFound
from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.errors import BadInputError
from moondesk.service.exports import collection_files
from moondesk.service.exports.collection import at_hand, month_of
from moondesk.service.jobs.warm_pool import at_once
from moondesk.service.store.media import write_whole
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio

SUFFIXES = (".webp", ".gif", ".mp4")


@click.command(epilog=EXIT_CODES)
@click.argument("first", type=click.DateTime(["%Y-%m-%d"]))
@click.option("--sheet", type=click.Path(path_type=Path, dir_okay=False), help="Poster to write, PNG.")
@click.option(
    "--march",
    "marches",
    type=click.Path(path_type=Path, dir_okay=False),
    multiple=True,
    help="Animation to write, .webp, .gif or .mp4 (with the extra “video”); may be given several times.",
)
@data_option
def command(first: datetime, sheet: Path | None, marches: tuple[Path, ...], data: Path | None) -> None:
    """The best picture of each of the 30 evenings from FIRST (2026-10-12) on, as a poster or as an animation.

    Only what is surely placed and may be shown is used; every sender is named on it.
    """
    if (sheet is None and not marches) or any(m.suffix not in SUFFIXES for m in marches):
        raise click.UsageError("Name --sheet FILE.png, --march FILE.webp (.gif, .mp4), or both.")
    with errors():
        code = write_month(require_store(data), first.date(), sheet, marches)
    sys.exit(code)


def write_month(folder: Path, first: date, sheet: Path | None, marches: Sequence[Path]) -> int:
    """The poster, the animations, or both; an exit code. Raises DeskError."""
    with Storage(folder) as storage:
        studio = Studio(storage, load_config(folder))
        found = month_of(studio, first, make=sheet is not None)
        inputs = at_hand(studio, found.inputs) if marches else []
    if sheet is not None and isinstance(found.folder, Path):
        write_whole(sheet, (found.folder / collection_files.SHEET).read_bytes(), to_hand=True)
        click.echo(sheet)
    failed, films = 0, dict[Path, bytes]()
    missing = [found.folder] if isinstance(found.folder, NotFound) else []
    for march in marches:
        photos = collection_files.for_child(inputs)
        try:
            film = at_once(collection_files.march_file, *photos, found.words, march.suffix)
        except BadInputError as error:
            failed += 1
            say(f"{march}: {error} {error.advice}")
        else:
            if isinstance(film, NotFound):
                missing.append(film)
            else:
                films[march] = film
    if missing:
        say(f"{missing[0].reason} {missing[0].advice}")
        return EXIT_NOTHING
    for march, made in films.items():
        write_whole(march, made, to_hand=True)
        click.echo(march)
    heads = dict(zip((i.id for i in found.inputs), (found.words[1 + i.day] for i in found.inputs), strict=True))
    for _, picture_id, words in found.pictures:
        click.echo(f"{heads[picture_id]}: {words}")
    return EXIT_SOME_FAILED if failed else EXIT_OK
