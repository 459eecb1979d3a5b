"""`moondesk after`: what remains of an edition, into one folder."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.exports.after_show_files import remains_of
from moondesk.service.store.editions import read_edition
from moondesk.service.store.media import write_whole
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio


@click.command(epilog=EXIT_CODES)
@click.argument("edition", type=int)
@click.option(
    "--to", type=click.Path(path_type=Path, file_okay=False), required=True, metavar="DIR", help="Folder for the files."
)
@click.option(
    "--lead",
    type=click.FloatRange(0, 86_400),
    default=0.0,
    metavar="SECONDS",
    help="How long before EDITION went on air the recording begins: chapters and subtitles are moved by it.",
)
@data_option
def command(edition: int, to: Path, lead: float, data: Path | None) -> None:
    """Write what remains of EDITION: the log of what was on air, chapters, subtitles, credits, a spelling list, and the
    evening's page.

    Nothing of who did not agree, or took the picture back, is in them.
    """
    with errors():
        folder = require_store(data)
        with Storage(folder) as storage:
            studio = Studio(storage, load_config(folder))
            made = remains_of(studio, read_edition(storage, edition), datetime.now(UTC), timedelta(seconds=lead))
        for name, content in made.files.items():
            target = to / name
            target.parent.mkdir(parents=True, exist_ok=True)
            write_whole(target, content, to_hand=True)
            click.echo(target)
    if made.timing.sentences:
        say(
            f"{made.timing.paired} of the text's {made.timing.marks} marks were found in the log; the rest by its words."
        )
