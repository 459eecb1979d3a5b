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
SHAPES = {"paper": collection_files.SHEET, "feed": collection_files.FEED, "story": collection_files.STORY}

#: What the files of a month are called in a kit.
KIT_NAMES = {
    collection_files.SHEET: "month.png",
    collection_files.FEED: "month-feed.png",
    collection_files.STORY: "month-story.png",
    collection_files.MARCH: "month.webp",
    collection_files.FILM: "month.mp4",
    collection_files.UPRIGHT: "month-upright.mp4",
}


@click.command(epilog=EXIT_CODES)
@click.argument("first", type=click.DateTime(["%Y-%m-%d"]))
@click.option("--sheet", type=click.Path(path_type=Path, dir_okay=False), help="Poster to write, PNG.")
@click.option(
    "--for",
    "shape",
    type=click.Choice(list(SHAPES)),
    default="paper",
    help="The poster for A3 (3508x4961, the default), a feed (1080x1350) or a story (1080x1920).",
)
@click.option(
    "--march",
    "marches",
    type=click.Path(path_type=Path, dir_okay=False),
    multiple=True,
    help="Film to write, .mp4 (with the extra “video”), or small .webp or .gif; may be given several times.",
)
@click.option("--upright", is_flag=True, help="The march 1080x1920 instead of 1920x1080.")
@data_option
def command(
    first: datetime, sheet: Path | None, shape: str, marches: tuple[Path, ...], upright: bool, data: Path | None
) -> None:
    """The best picture of each of the 30 evenings from FIRST (2026-10-12) on, as a poster or as an animation.

    Only what is surely placed and may be shown is used; every sender is named on it. In the march the light moves from
    one picture to the next; which frames are photographs stands on them.
    """
    if (sheet is None and not marches) or any(m.suffix not in SUFFIXES for m in marches):
        raise click.UsageError("Name --sheet FILE.png, --march FILE.mp4 (.webp, .gif), or both.")
    with errors():
        code = write_month(require_store(data), first.date(), sheet, marches, shape, upright)
    sys.exit(code)


def write_month(
    folder: Path, first: date, sheet: Path | None, marches: Sequence[Path], shape: str = "paper", upright: bool = False
) -> int:
    """The poster, the animations, or both; an exit code. Raises DeskError."""
    with Storage(folder) as storage:
        studio = Studio(storage, load_config(folder))
        found = month_of(studio, first, make=False)
        inputs = at_hand(studio, found.inputs)
    photos = collection_files.for_child(inputs)
    failed, made, missing = 0, dict[Path, bytes](), list[NotFound]()
    if sheet is not None:
        posters = at_once(collection_files.posters, *photos, found.words)
        if isinstance(posters, NotFound):
            missing.append(posters)
        else:
            made[sheet] = posters[SHAPES[shape]]
    for march in marches:
        try:
            film = at_once(collection_files.march_file, *photos, found.words, march.suffix, upright)
        except BadInputError as error:
            failed += 1
            say(f"{march}: {error} {error.advice}")
        else:
            if isinstance(film, NotFound):
                missing.append(film)
            else:
                made[march] = film
    if missing:
        say(f"{missing[0].reason} {missing[0].advice}")
        return EXIT_NOTHING
    for path, data in made.items():
        write_whole(path, data, to_hand=True)
        click.echo(path)
    heads = {i.id: found.words.heads[i.day] for i in found.inputs}
    for _, picture_id, words in found.pictures:
        click.echo(f"{heads[picture_id]}: {words}")
    return EXIT_SOME_FAILED if failed else EXIT_OK


def write_month_files(folder: Path, first: date, out: Path) -> int:
    """Posters and march in all their sizes, as the desk makes them; an exit code. Raises DeskError."""
    with Storage(folder) as storage:
        found = month_of(Studio(storage, load_config(folder)), first, make=True)
    if not isinstance(found.folder, Path):
        if found.folder is not None:
            say(f"{found.folder.reason} {found.folder.advice}")
        return EXIT_NOTHING
    for made, name in KIT_NAMES.items():
        if (found.folder / made).is_file():
            write_whole(out / name, (found.folder / made).read_bytes(), to_hand=True)
            click.echo(out / name)
    return EXIT_OK
