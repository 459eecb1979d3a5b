"""`moondesk kit`: everything that leaves the desk for an edition, by one command into one folder.

frames/NN-SENDER-FORMAT/     frame.png, frame.svg, layers/        (see `frames`)
rundown.pdf, .csv, .json
nights/DATE.png              the composites of the evenings that have three pictures and more, with their names
month.png, month.webp, month.gif, month.mp4
open/                        pictures.csv, pictures.json, GeoJSON and FITS of each (see `export`)
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.composite import write_composite
from moondesk.service.cli.console import complain, errors
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.cli.export import KINDS as OPEN_KINDS
from moondesk.service.cli.export import write_open_files
from moondesk.service.cli.frames import FORMATS, write_frames
from moondesk.service.cli.month import write_month_files
from moondesk.service.cli.rundown import write_rundown
from moondesk.service.errors import DeskError
from moondesk.service.exports.rundown import KINDS
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.evenings import Calendar, load_calendar
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.programme.ranking import rate
from moondesk.service.settings.config import Config
from moondesk.service.store import rundowns
from moondesk.service.store.aired import appearances
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio
from moondesk.service.studio.nights import by_evening, night_of

#: Pictures that the demo picks, and pictures of an evening from which on it has a composite.
PICKED, STACKED = 5, 3


@click.command(epilog=EXIT_CODES)
@click.argument("edition", type=int)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), required=True, help="Folder for the files.")
@data_option
def command(edition: int, out: Path, data: Path | None) -> None:
    """Write everything that leaves the desk for EDITION: frames in all formats with their layers, the rundown, the
    composites and the month of its pictures' evenings, the open files.

    What wants an extra that is not installed (PDF, MP4) is told and left out. Replies are not among it: each wants its
    approval at the desk.
    """
    with errors():
        code = write_kit(require_store(data), edition, out)
    sys.exit(code)


def sample_kit(data: Path, out: Path) -> int:
    """The demo's edition: the pictures that rank first are picked, then everything is written. An exit code."""
    with Storage(data) as storage:
        edition = list_editions(storage)[0].plan.number
        _pick(storage, load_config(data), edition)
    return write_kit(data, edition, out)


def write_kit(data: Path, edition: int, out: Path) -> int:
    """An exit code: EXIT_SOME_FAILED where something could not be made."""
    config = load_config(data)
    calendar = load_calendar(config)
    with Storage(data) as storage:
        read_edition(storage, edition)  # a number that is none is told
        nights = _nights(Studio(storage, config), edition)
    tasks = [partial(write_frames, data, edition, out / "frames", FORMATS)]
    tasks += [partial(write_rundown, data, edition, out / f"rundown.{kind}", kind) for kind in KINDS]
    tasks += [
        partial(write_composite, data, day, out / "nights" / f"{day}.png", caption=True)
        for day, count in sorted(nights.items())
        if count >= STACKED
    ]
    if nights:
        tasks.append(partial(write_month_files, data, _lunation(calendar, min(nights)), out))
    tasks.append(partial(write_open_files, data, edition, out / "open", OPEN_KINDS))
    failed = [_try_step(task) for task in tasks]
    return EXIT_SOME_FAILED if any(failed) else EXIT_OK


def _try_step(task: Callable[[], int]) -> bool:
    """Do it; whether it failed. What it has to say it has said."""
    try:
        return task() not in (EXIT_OK, EXIT_NOTHING)
    except DeskError as error:
        complain(error)
        return True


def _nights(studio: Studio, edition: int) -> dict[date, int]:
    """Evenings of the edition's pictures that may be shown, with how many pictures each evening has in all."""
    mine = {p.picture.id for p in list_pictures(studio.storage, read_edition(studio.storage, edition).id, 10_000)}
    days = [day for day, ids in by_evening(studio).items() if mine & set(ids)]
    found = {day: len(night_of(studio, day).pictures) for day in days}
    return {day: count for day, count in found.items() if count}


def _lunation(calendar: Calendar, evening: date) -> date:
    """First evening of the lunation that an evening belongs to, by the programme's count."""
    return evening - timedelta(days=(calendar.day_of_date(evening) or 1) - 1)


def _pick(storage: Storage, config: Config, number: int) -> None:
    """The pictures that rank first into the rundown, in the order in which they were taken."""
    edition = read_edition(storage, number)
    able = [
        p
        for p in list_pictures(storage, edition.id, 10_000)
        if not reasons_not_to_air(p, config.entry_terms)
        and p.summary
        and p.summary.sure
        and credit_of(p.picture.submission.arrival).name
    ]
    of = rate(able, appearances(storage, before=number), config.weights).of
    best = sorted((p for p in able if p.picture.id in of), key=lambda p: -of[p.picture.id].total)[:PICKED]
    latest = datetime.max.replace(tzinfo=UTC)
    for p in sorted(best, key=lambda p: (p.summary and p.summary.taken_utc) or latest):
        rundowns.add(storage, edition.id, p.picture.id, "moondesk", datetime.now(UTC))
