"""`moondesk backup`: a checked copy of the store and its originals."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option
from moondesk.service.settings.config import default_data_dir
from moondesk.service.store.backup import Report, backup


@click.command(epilog=EXIT_CODES)
@click.argument("target", metavar="FOLDER", type=click.Path(path_type=Path, file_okay=False))
@data_option
def command(target: Path, data: Path | None) -> None:
    """Copy the store and all originals into a folder, hashes checked; it may be in use meanwhile."""
    with errors():
        tell_report(backup(data or default_data_dir(), target), "copied into", target)


def tell_report(report: Report, done: str, where: Path) -> None:
    for problem in report.problems:
        say(problem)
    if report.problems:
        sys.exit(EXIT_SOME_FAILED)
    for note in report.notes:
        say(note)
    click.echo(f"The store and its {report.originals} originals were {done} {where}.")
    if report.removed:
        click.echo(f"{report.removed} files that the store does not name any more were removed there.")
    if report.strays:
        say(
            f"{report.strays} files of the source belong to nothing in its store, left by a program that was "
            "ended. They are not brought back; the next backup removes them, a folder in use by itself."
        )
    if report.erased:
        click.echo(f"{report.erased} submissions of people who were forgotten after the backup were erased again.")
