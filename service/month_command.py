"""`moondesk month`: thirty evenings of many senders as a poster, and as the march of the terminator."""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from service.composite_command import LOOKED, credit_of_picture, evening_of, member_of
from service.config import Config, default_data_dir, load_config
from service.console import EXIT_NOTHING, EXIT_OK, errors
from service.options import EXIT_CODES, data_option

if TYPE_CHECKING:
    from annotate.archive.month import Dated
    from annotate.records import ByteArray
    from service.store.records import ListedPicture
    from service.store.storage import Storage

EVENINGS = 30
#: Milliseconds that a picture and a step of a fade stand.
STANDS_MS, FADE_MS = 900, 90


@click.command(epilog=EXIT_CODES)
@click.argument("first", type=click.DateTime(["%Y-%m-%d"]))
@click.option("--sheet", type=click.Path(path_type=Path, dir_okay=False), help="Poster to write, PNG.")
@click.option("--march", type=click.Path(path_type=Path, dir_okay=False), help="Animation to write, .webp or .gif.")
@data_option
def month(first: datetime, sheet: Path | None, march: Path | None, data: Path | None) -> None:
    """The best picture of each of the 30 evenings from FIRST (2026-10-12) on, as a poster or as an animation.

    Only what is surely placed and may be shown is used; every sender is named on it.
    """
    from annotate.archive.month import contact_sheet
    from annotate.archive.month import march as marching
    from annotate.records import NotFound
    from service.store.storage import DATABASE_NAME, Storage
    from service.work.airing import png
    from service.work.media import write_whole

    if (sheet is None and march is None) or (march is not None and march.suffix not in (".webp", ".gif")):
        raise click.UsageError("Name --sheet FILE.png, --march FILE.webp (or .gif), or both.")
    folder = data or default_data_dir()
    with errors():
        if not (folder / DATABASE_NAME).is_file():
            click.echo(f"Nothing was taken into {folder} yet.", err=True)
            sys.exit(EXIT_NOTHING)
        config = load_config(folder)
        with Storage(folder) as storage:
            pictures, heads = evenings_of(storage, config, first.date())
        made = contact_sheet(pictures, config.programme.name, heads) if sheet is not None else None
        frames = marching(pictures, [heads[p.day] for p in pictures]) if march is not None else None
        for told in (made, frames):
            if isinstance(told, NotFound):
                click.echo(f"{told.reason} {told.advice}", err=True)
                sys.exit(EXIT_NOTHING)
        if sheet is not None and made is not None and not isinstance(made, NotFound):
            write_whole(sheet, png(made))
            click.echo(sheet)
        if march is not None and frames is not None and not isinstance(frames, NotFound):
            write_whole(march, animation(list(frames), march.suffix))
            click.echo(march)
    for picture in pictures:
        click.echo(f"{heads[picture.day]}: {picture.words}")
    sys.exit(EXIT_OK)


def evenings_of(storage: Storage, config: Config, first: date) -> tuple[list[Dated], list[str]]:
    """Of each evening the picture that ranks best by what was measured, and the words of all thirty."""
    from annotate.archive.month import Dated
    from annotate.notes.said import say
    from service.desk.planning.rundown_page import stops_of
    from service.evenings import load_calendar
    from service.languages.speaking import language_of
    from service.store.inbox import Wanted, find

    calendar, language = load_calendar(config), language_of(storage, config)
    days = [first + timedelta(days=k) for k in range(EVENINGS)]
    best: dict[date, tuple[float, ListedPicture]] = {}
    for listed in storage.listed_by(find(storage, Wanted(), LOOKED)):
        evening = evening_of(listed, calendar)
        if evening not in days or stops_of(listed, config):
            continue
        worth = _worth(listed)
        if evening not in best or worth > best[evening][0]:
            best[evening] = (worth, listed)
    found = []
    for evening in sorted(best):
        member = member_of(storage, config, best[evening][1])
        if member is not None:
            found.append(Dated(member.rgb, member.pose, days.index(evening), credit_of_picture(best[evening][1])))
    numbers = [calendar.day_of_date(day) for day in days]
    heads = [language.write(say("{date}", date=day) if number is None
                            else say("Day {day} of the lunation, {date}", day=number, date=day))
             for day, number in zip(days, numbers, strict=True)]
    return found, heads


def _worth(listed: ListedPicture) -> float:
    from annotate.rating.score import Facts, Score, score
    from service.store.measured import quality_of

    try:
        found = score(quality_of(listed.summary.quality if listed.summary else ""), Facts())
    except (ValueError, KeyError, TypeError):  # written by another release
        return 0.0
    return found.value if isinstance(found, Score) and found.value == found.value else 0.0


def animation(frames: Sequence[ByteArray], suffix: str) -> bytes:
    """WebP or GIF that runs for ever; a picture stands longer than the steps of a fade between two."""
    from PIL import Image

    from annotate.archive.month import FADES

    images = [Image.fromarray(frame) for frame in frames]
    times = [STANDS_MS if k % (FADES + 1) == 0 else FADE_MS for k in range(len(images))]
    out = io.BytesIO()
    images[0].save(out, "WEBP" if suffix == ".webp" else "GIF", save_all=True, append_images=images[1:],
                   duration=times, loop=0)
    return out.getvalue()
