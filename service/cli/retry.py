"""`moondesk retry`: what was refused or put aside, tried again."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors, say, workers_option
from moondesk.service.cli.data_folder import data_option
from moondesk.service.cli.placing import cluster_option, open_intake, place_and_tell
from moondesk.service.intake.retry import retry, to_place
from moondesk.service.settings.config import default_data_dir
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage


@click.command(epilog=EXIT_CODES)
@data_option
@workers_option
@cluster_option
def command(data: Path | None, workers: int | None, cluster: str | None) -> None:
    """Try again what was refused or put aside, and place it: after an extra was installed, or a fault mended."""
    with errors():
        config = load_config(data or default_data_dir(), workers)
        with Storage(config.data_dir) as storage:
            found = still = 0
            for tried in retry(open_intake(storage, config)):
                found, still = found + tried.pictures, still + bool(tried.sentence)
                if tried.sentence:
                    say(f"{tried.name}: {tried.sentence}")
            again = to_place(storage)
            placed, failed = place_and_tell(storage, config, cluster)
    say(f"{found} refused files can be used now, {still} cannot; {again} pictures tried again, {placed} placed.")
    sys.exit(EXIT_SOME_FAILED if failed or still else EXIT_OK if found or placed else EXIT_NOTHING)
