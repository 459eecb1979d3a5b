"""`moondesk restore`: a backup as a data folder again, or only checked."""

from __future__ import annotations

from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES
from moondesk.service.cli.backup import tell_report
from moondesk.service.cli.console import errors
from moondesk.service.cli.data_folder import data_option
from moondesk.service.settings.config import default_data_dir
from moondesk.service.store.backup import check
from moondesk.service.store.restoring import restore


@click.command(epilog=EXIT_CODES)
@click.argument("source", metavar="FOLDER", type=click.Path(path_type=Path, file_okay=False, exists=True))
@click.option("--check", "only_check", is_flag=True, help="Only check that the backup is whole; nothing is written.")
@click.option(
    "--forgotten",
    multiple=True,
    metavar="FOLDER",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    help="A data folder or another backup that knows who was forgotten after this one was made; may be given "
    "several times.",
)
@data_option
def command(source: Path, only_check: bool, forgotten: tuple[Path, ...], data: Path | None) -> None:
    """Bring a backup back as a data folder that does not exist yet, or only check it.

    Whoever was forgotten after the backup was made is erased from what comes back.
    """
    with errors():
        if only_check:
            tell_report(check(source), "found whole in", source)
        else:
            folder = data or default_data_dir()
            tell_report(restore(source, folder, forgotten), "restored into", folder)
