"""`moondesk send`: sends the replies that somebody has approved at the desk, once, or as they come."""

from __future__ import annotations

import sys
import threading
from datetime import UTC, datetime
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors
from moondesk.service.cli.data_folder import data_option
from moondesk.service.errors import BadInputError
from moondesk.service.replies.sending import post_of, send_due
from moondesk.service.settings.config import default_data_dir
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage

#: Between two looks for what was approved meanwhile, or is due again.
LOOK_SECONDS = 15.0


@click.command(epilog=EXIT_CODES)
@data_option
@click.option("--follow", is_flag=True, help="Go on until stopped, sending what is approved.")
def command(data: Path | None, follow: bool) -> None:
    """Send approved replies through the mail server of [smtp] in moondesk.toml. Nothing goes out without approval."""
    sent = failed = 0
    with errors():
        config = load_config(data or default_data_dir())
        post = post_of(config)
        if post is None:
            raise BadInputError("No mail server is set.", "Set host and address under [smtp] in moondesk.toml.")
        waiting = threading.Event()
        while True:
            with Storage(config.data_dir) as storage:
                for reply, state, words in send_due(storage, config, post, lambda: datetime.now(UTC)):
                    sent, failed = sent + (state == "sent"), failed + (state in ("failed", "unknown"))
                    click.echo(f"{reply.to}: {state}{': ' if words else ''}{words}")
            if not follow or waiting.wait(LOOK_SECONDS):
                break
    sys.exit(EXIT_SOME_FAILED if failed else EXIT_OK if sent else EXIT_NOTHING)
