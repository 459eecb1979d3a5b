"""`moondesk receive`: the audience's upload page."""

from __future__ import annotations

from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES
from moondesk.service.cli.console import ended_by_system, errors, say
from moondesk.service.cli.data_folder import data_option
from moondesk.service.cli.placing import tell_missing
from moondesk.service.jobs.housekeeping import run_housekeeping_hourly
from moondesk.service.settings.config import LOOPBACK, default_data_dir
from moondesk.service.store.settings import load_config
from moondesk.service.web.public.app import create_public_app, public_server, serve_public


@click.command(epilog=EXIT_CODES)
@data_option
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=None,
    help="Port of the upload page (default 8760; 0 takes a free one).",
)
@click.option(
    "--host",
    default=LOOPBACK,
    show_default=True,
    help="Address to listen on. Others reach it through a proxy with https before it (see [public] in "
    "moondesk.toml), or directly with 0.0.0.0.",
)
def command(data: Path | None, port: int | None, host: str) -> None:
    """Serve the audience's upload page, an application of its own; the desk is not in it."""
    with errors(), ended_by_system():
        tell_missing()
        app = create_public_app(load_config(data or default_data_dir()))
        run_housekeeping_hourly(data or default_data_dir(), say)
        server = public_server(app, host, port)
        shown = f"[{server.effective_host}]" if ":" in server.effective_host else server.effective_host
        click.echo(f"The upload page: http://{shown}:{server.effective_port}/   (stop with Ctrl-C)")
        serve_public(app, server)
