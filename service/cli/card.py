"""`moondesk card`: a sender's own picture as a card for a feed or a story."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Literal

import click

from moondesk.records import NotFound
from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.exports.share_card import SHAPES, card_of
from moondesk.service.store.media import write_whole
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio


@click.command(epilog=EXIT_CODES)
@click.argument("picture", type=int)
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), required=True, help="PNG file to write.")
@click.option(
    "--for",
    "shape",
    type=click.Choice(SHAPES),
    default="feed",
    help="A feed (1080x1350, the default) or a story (1080x1920).",
)
@data_option
def command(picture: int, out: Path, shape: Literal["feed", "story"], data: Path | None) -> None:
    """Write PICTURE (its number) as a card for its sender: north up, a few names, the sender's own name.

    Only of what may be shown, and only where it is known how its sender wants to be named.
    """
    with errors():
        code = write_card(require_store(data), picture, out, shape)
    sys.exit(code)


def write_card(folder: Path, picture: int, out: Path, shape: Literal["feed", "story"]) -> int:
    """The card as a file; an exit code. Raises DeskError."""
    with Storage(folder) as storage:
        made = card_of(Studio(storage, load_config(folder)), picture, shape)
    if isinstance(made, NotFound):
        say(f"{made.reason} {made.advice}")
        return EXIT_NOTHING
    write_whole(out, made, to_hand=True)
    click.echo(out)
    return EXIT_OK
