"""`moondesk place`: pictures placed without a store."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

import click

from moondesk.records import Known
from moondesk.service.cli import EXIT_CODES, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors, line_of, progress, say, workers_option
from moondesk.service.errors import BadInputError
from moondesk.service.intake.tables import Table, read_table
from moondesk.service.jobs import child_pool, engine
from moondesk.service.jobs.placing import PlacingJob, place_all
from moondesk.service.settings.config import IntakeLimits


def picture_names(files: Iterable[Path]) -> dict[Path, str]:
    """A name for each file's pictures: its own, numbered where two files share it."""
    names: dict[Path, str] = {}
    used: set[str] = set()
    for file in files:
        name, k = file.stem, 1
        while name.casefold() in used:
            k += 1
            name = f"{file.stem}-{k}"
        used.add(name.casefold())
        names[file] = name
    return names


@contextmanager
def output(jsonl: str | None) -> Iterator[IO[str] | None]:
    if jsonl is None:
        yield None
    elif jsonl == "-":
        yield sys.stdout
    else:
        try:
            file = open(jsonl, "w", encoding="utf-8")  # noqa: SIM115 (closed below; the error is told here)
        except OSError as error:
            raise BadInputError(f"{jsonl} cannot be written: {error.strerror}.", "Choose another file.") from error
        with file:
            yield file


@click.command(epilog=EXIT_CODES)
@click.argument(
    "files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path, exists=True, dir_okay=False)
)
@click.option(
    "--known",
    metavar="TABLE.csv",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help='What is known of the pictures: a table with a column "file".',
)
@click.option(
    "--jsonl",
    metavar="OUT",
    type=click.Path(dir_okay=False, allow_dash=True),
    help="Write one JSON object a picture; - for stdout.",
)
@click.option(
    "--pictures",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Write the labelled and the upright pictures into this folder.",
)
@workers_option
def command(
    files: tuple[Path, ...], known: Path | None, jsonl: str | None, pictures: Path | None, workers: int | None
) -> None:
    """Place pictures without storing them; one line each."""
    child_pool.start_server(["moondesk.service.jobs.preload"])  # first: it loads while this process goes on

    with errors():
        table = read_table(known) if known else Table()
        for remark in (*table.remarks, *(r for row in table.rows.values() for r in row.remarks)):
            say(str(remark))
        if pictures:
            pictures.mkdir(parents=True, exist_ok=True)
        names = picture_names(files)
        jobs, now = [], datetime.now(UTC)
        for file in files:
            row = table.row_for(file.as_posix())
            labelled, upright = (
                pictures / f"{names[file]}_{role}.png" if pictures else None for role in ("labelled", "upright")
            )
            known_of = replace(row.known() if row else Known(), now_utc=now, given_name=file.name)
            jobs.append(
                PlacingJob(
                    path=file,
                    known=known_of,
                    derived_folder=None,
                    labelled=labelled,
                    upright=upright,
                    line_name=file.as_posix() if jsonl else None,
                )
            )
        with output(jsonl) as lines:
            placed_all = place_all(
                jobs, engine.load_engine, min(len(jobs), workers or os.cpu_count() or 1), IntakeLimits().place_seconds
            )
            failed = 0
            for file, placed in zip(files, progress(placed_all, len(jobs)), strict=True):
                failed += not placed.annotation.status.facts.opens
                if lines:
                    lines.write(placed.line + "\n")
                    lines.flush()
                click.echo(line_of(file.name, placed.annotation, "UTC"), err=jsonl == "-")
                for problem in placed.problems:
                    say(f"{file.name}: {problem}")
    sys.exit(EXIT_SOME_FAILED if failed else EXIT_OK)
