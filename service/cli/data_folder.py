"""The data folder that a command works on."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from moondesk.service.cli import EXIT_NOTHING
from moondesk.service.cli.console import say
from moondesk.service.settings.config import default_data_dir
from moondesk.service.store.storage import DATABASE_NAME, Storage

data_option = click.option(
    "--data",
    type=click.Path(path_type=Path, file_okay=False, resolve_path=True),
    default=None,
    help="Data folder (default: MOONDESK_DATA, else the platform's place for data).",
)


def require_store(data: Path | None) -> Path:
    """The data folder, in which a store must be already; ends the command where there is none."""
    folder = data or default_data_dir()
    if not (folder / DATABASE_NAME).is_file():
        say(f"Nothing was taken into {folder} yet.")
        sys.exit(EXIT_NOTHING)
    return folder


def open_store(data: Path | None) -> Storage:
    """The store of a data folder, which must be there already."""
    return Storage(require_store(data))
