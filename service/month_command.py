"""`moondesk month`: thirty evenings of many senders as a poster, and as the march of the terminator."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import click

from service.config import load_config
from service.console import EXIT_NOTHING, EXIT_OK, errors, stored_in
from service.options import EXIT_CODES, data_option

SUFFIXES = (".webp", ".gif", ".mp4")


@click.command(epilog=EXIT_CODES)
@click.argument("first", type=click.DateTime(["%Y-%m-%d"]))
@click.option("--sheet", type=click.Path(path_type=Path, dir_okay=False), help="Poster to write, PNG.")
@click.option("--march", type=click.Path(path_type=Path, dir_okay=False),
              help="Animation to write, .webp, .gif or .mp4 (with the extra “video”).")
@data_option
def month(first: datetime, sheet: Path | None, march: Path | None, data: Path | None) -> None:
    """The best picture of each of the 30 evenings from FIRST (2026-10-12) on, as a poster or as an animation.

    Only what is surely placed and may be shown is used; every sender is named on it.
    """
    from annotate.records import NotFound
    from service.archive import made
    from service.archive.animation import animation
    from service.archive.together import month_of
    from service.evenings import load_calendar
    from service.store.storage import Storage
    from service.work.airing import at_once
    from service.work.engine import load_engine
    from service.work.media import write_whole

    if (sheet is None and march is None) or (march is not None and march.suffix not in SUFFIXES):
        raise click.UsageError("Name --sheet FILE.png, --march FILE.webp (.gif, .mp4), or both.")
    with errors():
        folder = stored_in(data)
        config = load_config(folder)
        with Storage(folder) as storage:
            found = month_of(storage, config, load_calendar(config), first.date(), at_once if sheet else None)
        if sheet is not None and isinstance(found.folder, Path):
            write_whole(sheet, (found.folder / made.SHEET).read_bytes())
            click.echo(sheet)
        frames = made.march_frames(load_engine(), found.inputs, found.words) if march is not None else None
        for told in (found.folder, frames):
            if isinstance(told, NotFound):
                click.echo(f"{told.reason} {told.advice}", err=True)
                sys.exit(EXIT_NOTHING)
        if march is not None and isinstance(frames, list):
            write_whole(march, animation(frames, march.suffix))
            click.echo(march)
    heads = dict(zip((i.id for i in found.inputs), (found.words[1 + i.day] for i in found.inputs), strict=True))
    for _, picture_id, words in found.pictures:
        click.echo(f"{heads[picture_id]}: {words}")
    sys.exit(EXIT_OK)
