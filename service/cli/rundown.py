"""`moondesk rundown`: an edition's rundown as PDF, CSV or JSON."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from moondesk.service.cli.console import EXIT_OK, errors, stored_in
from moondesk.service.cli.options import EXIT_CODES, data_option
from moondesk.service.settings.config import load_config

SUFFIXES = (".pdf", ".csv", ".json")


@click.command(epilog=EXIT_CODES)
@click.argument("edition", type=int)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="File to write: .pdf (with the extra “pdf”), .csv or .json.",
)
@data_option
def rundown(edition: int, out: Path, data: Path | None) -> None:
    """Write EDITION's rundown: order, times, thumbnails (PDF), credits, pronunciation, notes.

    What may not go on air is in it with its reason (PDF), or not at all.
    """
    from moondesk.service.exports.rundown_paper import rundown_file
    from moondesk.service.jobs.warm_pool import at_once
    from moondesk.service.programme.evenings import load_calendar
    from moondesk.service.store.media import write_whole
    from moondesk.service.store.storage import Storage

    if out.suffix not in SUFFIXES:
        raise click.UsageError(f"The file's name must end in {', '.join(SUFFIXES)}.")
    with errors():
        folder = stored_in(data)
        config = load_config(folder)
        with Storage(folder) as storage:
            write_whole(
                out,
                rundown_file(storage, config, load_calendar(config), storage.edition(edition), at_once, out.suffix[1:]),
                to_hand=True,
            )  # type: ignore[arg-type]
        click.echo(out)
    sys.exit(EXIT_OK)
