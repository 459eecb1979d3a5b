"""`moondesk composite`: the audience's composite of an evening, from all pictures of it that may be shown."""

from __future__ import annotations

import sys
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from service.config import Config, default_data_dir, load_config
from service.console import EXIT_NOTHING, EXIT_OK, errors
from service.options import EXIT_CODES, data_option

if TYPE_CHECKING:
    from annotate.archive.registered import Member
    from service.evenings import Calendar
    from service.store.records import ListedPicture
    from service.store.storage import Storage

#: Pictures that are looked through, and that one composite takes at most (each wants some 30 MB).
LOOKED, MOST = 100_000, 40


@click.command(epilog=EXIT_CODES)
@click.argument("evening", type=click.DateTime(["%Y-%m-%d"]))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), required=True, help="PNG file to write.")
@data_option
def composite(evening: datetime, out: Path, data: Path | None) -> None:
    """Stack the surely placed pictures of EVENING (2026-10-19) into one, quieter than any of them.

    Every contributor is named on the output, and what was left out with the reason. A picture that may not be shown is
    not used.
    """
    from annotate.archive.composite import composite as stacked
    from annotate.records import NotFound
    from service.store.storage import DATABASE_NAME, Storage
    from service.work.airing import png
    from service.work.media import write_whole

    folder = data or default_data_dir()
    with errors():
        if not (folder / DATABASE_NAME).is_file():
            click.echo(f"Nothing was taken into {folder} yet.", err=True)
            sys.exit(EXIT_NOTHING)
        config = load_config(folder)
        with Storage(folder) as storage:
            usable, withheld = pictures_of(storage, config, evening.date())
            members = [m for m in (member_of(storage, config, p) for p in usable[:MOST]) if m is not None]
        names = {p.picture.id: credit_of_picture(p) for p in usable}
        found = stacked(members)
        if withheld:
            click.echo(f"{withheld} of the evening may not be shown, and none of it is used.", err=True)
        if isinstance(found, NotFound):
            click.echo(f"{found.reason} {found.advice}", err=True)
            sys.exit(EXIT_NOTHING)
        write_whole(out, png(found.rgb))
    for k, why in found.rejected:
        click.echo(f"left out: {names[k]}. {why}", err=True)
    click.echo(f"{out}: {len(found.used)} pictures; noise {found.gain.times:.1f} times lower than of the middle one.")
    for name in dict.fromkeys(names[k] for k in found.used):
        click.echo(name)
    sys.exit(EXIT_OK)


def pictures_of(storage: Storage, config: Config, evening: date) -> tuple[list[ListedPicture], int]:
    """An evening's surely placed pictures that may be shown, and how many may not."""
    from service.desk.planning.rundown_page import stops_of
    from service.evenings import load_calendar
    from service.store.inbox import Wanted, find

    calendar, usable, withheld = load_calendar(config), [], 0
    for listed in storage.listed_by(find(storage, Wanted(), LOOKED)):
        if evening_of(listed, calendar) != evening:
            continue
        if stops_of(listed, config):
            withheld += 1
        else:
            usable.append(listed)
    return sorted(usable, key=lambda p: p.picture.id), withheld


def evening_of(listed: ListedPicture, calendar: Calendar) -> date | None:
    """The evening of a picture that is surely placed, measured, and whose time is believed; else None."""
    summary = listed.summary
    if summary is None or not summary.sure or summary.taken_utc is None or not summary.quality:
        return None
    return None if summary.clock_verdict == "disagrees" else calendar.evening(summary.taken_utc).date


def credit_of_picture(listed: ListedPicture) -> str:
    """Exactly as the sender asks; who asks not to be named is not."""
    from service.arrivals.suggest import credit_of

    own = credit_of(listed.picture.submission.arrival)
    return "a viewer who asks not to be named" if own.unnamed or not own.name else own.name


def member_of(storage: Storage, config: Config, listed: ListedPicture) -> Member | None:
    """None for a picture whose files or measures are not at hand."""
    from annotate.archive.registered import Member
    from annotate.rating.quality import Quality
    from annotate.rating.resolution import Resolution
    from annotate.reading.picture import decode_rgb
    from annotate.records import NotFound
    from service.store.measured import quality_of
    from service.work.media import Media

    stored, sha = storage.annotation(listed.picture.id), listed.picture.enclosure.sha256
    if stored is None or sha is None or stored.annotation.pose is None:
        return None
    try:
        quality = quality_of(stored.quality)
    except (ValueError, KeyError, TypeError):  # written by another release
        return None
    resolution = quality.resolution if isinstance(quality, Quality) else None
    photo = Media(config.data_dir).derived(sha, stored.derived_key, "photo")
    if not isinstance(resolution, Resolution) or photo is None:
        return None
    rgb = decode_rgb(photo.read_bytes())
    return None if isinstance(rgb, NotFound) else Member(listed.picture.id, rgb, stored.annotation.pose,
                                                         resolution.blur_km)
