"""`moondesk rundown`: an edition's rundown as PDF, CSV or JSON."""

from __future__ import annotations

from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_OK
from moondesk.service.cli.console import errors
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.exports.rundown import KINDS, PAPERS, Kind, PaperForm, rundown_file
from moondesk.service.store.editions import read_edition
from moondesk.service.store.media import write_whole
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio


@click.command(epilog=EXIT_CODES)
@click.argument("edition", type=int)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="File to write: .pdf (with the extra “pdf”), .csv or .json.",
)
@click.option(
    "--paper", type=click.Choice(list(PAPERS)), default=None, help="Of a PDF; as the settings say without it."
)
@click.option("--two", is_flag=True, help="Two pictures on a page of a PDF instead of one.")
@data_option
def command(edition: int, out: Path, paper: str | None, two: bool, data: Path | None) -> None:
    """Write EDITION's rundown: order, times, frames (PDF), credits, pronunciation, notes.

    What may not go on air is in it with its reason (PDF), or not at all.
    """
    kind = next((k for k in KINDS if out.suffix == f".{k}"), None)
    if kind is None:
        raise click.UsageError(f"The file's name must end in {', '.join(f'.{k}' for k in KINDS)}.")
    with errors():
        write_rundown(require_store(data), edition, out, kind, paper, two)


def write_rundown(
    folder: Path, edition: int, out: Path, kind: Kind, paper: str | None = None, two: bool = False
) -> int:
    """The rundown as a file of that kind; an exit code. Raises DeskError."""
    with Storage(folder) as storage:
        studio = Studio(storage, load_config(folder))
        form = PaperForm(paper or studio.config.programme.paper, two)
        made = rundown_file(studio, read_edition(storage, edition), kind, form)
    write_whole(out, made, to_hand=True)
    click.echo(out)
    return EXIT_OK
