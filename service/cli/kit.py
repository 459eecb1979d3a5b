"""`moondesk kit`: everything that leaves the desk for an edition, by one command into one folder.

frames/NN-SENDER-FORMAT/     frame.png, frame.svg, layers/        (see `frame_commands`)
rundown.pdf, .csv, .json
nights/DATE.png              the composites of the evenings that have three pictures and more, with their names
month.png, month.webp, month.gif, month.mp4
open/                        pictures.csv, pictures.json, GeoJSON and FITS of each (see `export_command`)
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from moondesk.service.cli.console import EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED, errors, stored_in
from moondesk.service.cli.options import EXIT_CODES, data_option
from moondesk.service.settings.config import Config, load_config

if TYPE_CHECKING:
    from datetime import date

    from moondesk.service.programme.evenings import Calendar
    from moondesk.service.store.storage import Storage
    from moondesk.service.studio import Studio

#: Pictures that the demo picks.
PICKED = 5


@click.command(epilog=EXIT_CODES)
@click.argument("edition", type=int)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), required=True, help="Folder for the files.")
@data_option
def kit(edition: int, out: Path, data: Path | None) -> None:
    """Write everything that leaves the desk for EDITION: frames in all formats with their layers, the rundown, the
    composites and the month of its pictures' evenings, the open files.

    What wants an extra that is not installed (PDF, MP4) is told and left out. Replies are not among it: each wants its
    approval at the desk.
    """
    with errors():
        code = write_kit(stored_in(data), edition, out)
    sys.exit(code)


def sample_kit(data: Path, out: Path) -> int:
    """The demo's edition: the pictures that rank first are picked, then everything is written. An exit code."""
    from moondesk.service.store.editions import list_editions
    from moondesk.service.store.storage import Storage

    with Storage(data) as storage:
        edition = list_editions(storage)[0].plan.number
        _pick(storage, load_config(data), edition)
    return write_kit(data, edition, out)


def write_kit(data: Path, edition: int, out: Path) -> int:
    """An exit code: EXIT_SOME_FAILED where something could not be made."""
    from moondesk.service.cli.main import main
    from moondesk.service.programme.evenings import load_calendar
    from moondesk.service.store.editions import read_edition
    from moondesk.service.store.storage import Storage
    from moondesk.service.studio import Studio

    config = load_config(data)
    with Storage(data) as storage:
        read_edition(storage, edition)  # a number that is none is told
        nights = _nights(Studio(storage, config), edition)
    first = min(nights) if nights else None
    formats = [f"--format={name}" for name in ("hd", "uhd", "vertical")]
    tasks = [["frames", str(edition), "--out", str(out / "frames"), *formats]]
    tasks += [["rundown", str(edition), "--out", str(out / f"rundown.{kind}")] for kind in ("pdf", "csv", "json")]
    tasks += [
        ["composite", day.isoformat(), "--caption", "--out", str(out / "nights" / f"{day}.png")]
        for day, count in sorted(nights.items())
        if count >= 3
    ]
    if first is not None:
        start = _lunation(load_calendar(config), first).isoformat()
        tasks.append(
            [
                "month",
                start,
                "--sheet",
                str(out / "month.png"),
                *(f"--march={out / f'month.{kind}'}" for kind in ("webp", "gif", "mp4")),
            ]
        )
    tasks.append(
        [
            "export",
            str(edition),
            "--out",
            str(out / "open"),
            *(f"--kind={kind}" for kind in ("csv", "json", "geojson", "fits")),
        ]
    )
    failed = [_ended(main, [*task, "--data", str(data)]) for task in tasks]
    return EXIT_SOME_FAILED if any(failed) else EXIT_OK


def _ended(command: click.Group, arguments: Sequence[str]) -> bool:
    """Whether it failed; what it has to say it has said."""
    try:
        command.main(args=list(arguments), prog_name="moondesk", standalone_mode=True)
    except SystemExit as ended:
        return ended.code not in (EXIT_OK, EXIT_NOTHING, None)
    return False


def _nights(studio: Studio, edition: int) -> dict[date, int]:
    """Evenings of the edition's pictures that may be shown, with how many pictures each evening has in all."""
    from moondesk.service.store.editions import read_edition
    from moondesk.service.store.pictures import list_pictures
    from moondesk.service.studio.nights import by_evening, night_of

    mine = {p.picture.id for p in list_pictures(studio.storage, read_edition(studio.storage, edition).id, 10_000)}
    days = [day for day, ids in by_evening(studio).items() if mine & set(ids)]
    found = {day: len(night_of(studio, day).pictures) for day in days}
    return {day: count for day, count in found.items() if count}


def _lunation(calendar: Calendar, evening: date) -> date:
    """First evening of the lunation that an evening belongs to, by the programme's count."""
    return evening - timedelta(days=(calendar.day_of_date(evening) or 1) - 1)


def _pick(storage: Storage, config: Config, number: int) -> None:
    """The pictures that rank first into the rundown, in the order in which they were taken."""
    from datetime import UTC, datetime

    from moondesk.service.programme.credit import credit_of
    from moondesk.service.programme.permission import reasons_not_to_air
    from moondesk.service.programme.ranking import rate
    from moondesk.service.store import rundowns
    from moondesk.service.store.appearances import appearances
    from moondesk.service.store.editions import read_edition
    from moondesk.service.store.pictures import list_pictures

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
