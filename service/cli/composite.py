"""`moondesk composite`: the audience's composite of an evening, from all pictures of it that may be shown."""

from __future__ import annotations

import sys
from datetime import date, datetime
from pathlib import Path

import click

from moondesk.records import NotFound
from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.exports.collection import composite_of
from moondesk.service.exports.collection_files import CAPTIONED, COMPOSITE
from moondesk.service.store.media import write_whole
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio


@click.command(epilog=EXIT_CODES)
@click.argument("evening", type=click.DateTime(["%Y-%m-%d"]))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), required=True, help="PNG file to write.")
@click.option("--caption", is_flag=True, help="With the date and all contributors under it.")
@data_option
def command(evening: datetime, out: Path, caption: bool, data: Path | None) -> None:
    """Stack the surely placed pictures of EVENING (2026-10-19) into one, quieter than any of them.

    Every contributor is named on the output, and what was left out with the reason. A picture that may not be shown is
    not used.
    """
    with errors():
        code = write_composite(require_store(data), evening.date(), out, caption)
    sys.exit(code)


def write_composite(folder: Path, evening: date, out: Path, caption: bool) -> int:
    """The evening's composite; an exit code. Raises DeskError."""
    with Storage(folder) as storage:
        night = composite_of(Studio(storage, load_config(folder)), evening, make=True)
    if night.withheld:
        say(f"{night.withheld} of the evening may not be shown, and none of it is used.")
    if night.made is None or isinstance(night.made, NotFound):
        if night.made is not None:
            say(f"{night.made.reason} {night.made.advice}")
        return EXIT_NOTHING
    found = night.made
    write_whole(out, (found.folder / (CAPTIONED if caption else COMPOSITE)).read_bytes(), to_hand=True)
    for k, why in found.left_out:
        say(f"left out: {night.names[k]}. {why}")
    click.echo(f"{out}: {len(found.used)} pictures; noise {found.times:.1f} times lower than of the middle one.")
    for name in dict.fromkeys(night.names[k] for k in found.used):
        click.echo(name)
    return EXIT_OK
