"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

from moondesk.service.settings.config import DEFAULT_PORT

EXIT_CODES = "Exit codes: 0 all went well, 1 some pictures could not be read, 2 wrong usage, 3 nothing to do."

data_option = click.option(
    "--data",
    type=click.Path(path_type=Path, file_okay=False, resolve_path=True),
    default=None,
    help="Data folder (default: MOONDESK_DATA, else the platform's place for data).",
)
port_option = click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=None,
    help=f"Port of the desk (default {DEFAULT_PORT}; 0 takes a free one).",
)
workers_option = click.option(
    "--workers", type=click.IntRange(1, 64), default=None, help="Worker processes (default: one for each core)."
)
cluster_option = click.option(
    "--cluster",
    metavar="ADDRESS",
    default=None,
    help="Place on a Dask cluster, by its scheduler's address (tcp://host:port). Its workers "
    "need this release and the data folder under the same path.",
)
