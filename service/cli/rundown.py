"""`moondesk rundown`: an edition's rundown as PDF, CSV or JSON."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from moondesk.service.cli.console import EXIT_OK, errors, stored_in
from moondesk.service.cli.options import EXIT_CODES, data_option
from moondesk.service.settings.config import load_config


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
    from moondesk.service.exports.rundown import KINDS, rundown_file
    from moondesk.service.store.editions import read_edition
    from moondesk.service.store.media import write_whole
    from moondesk.service.store.storage import Storage
    from moondesk.service.studio import Studio

    kind = next((k for k in KINDS if out.suffix == f".{k}"), None)
    if kind is None:
        raise click.UsageError(f"The file's name must end in {', '.join(f'.{k}' for k in KINDS)}.")
    with errors():
        folder = stored_in(data)
        config = load_config(folder)
        with Storage(folder) as storage:
            data_of = rundown_file(Studio(storage, config), read_edition(storage, edition), kind)
            write_whole(out, data_of, to_hand=True)
        click.echo(out)
    sys.exit(EXIT_OK)
