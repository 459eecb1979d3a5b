"""`moondesk forget`: all that came from somebody, erased."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option, open_store
from moondesk.service.settings.config import default_data_dir
from moondesk.service.store.erased_marks import Backups, tell_backups
from moondesk.service.store.forget import erase_files, forget, submissions_of
from moondesk.service.store.media import Media
from moondesk.service.store.senders import Variant, variants


@click.command(epilog=EXIT_CODES)
@click.argument("senders", nargs=-1, required=True)
@click.option("--yes", is_flag=True, help="Do not ask.")
@data_option
def command(senders: tuple[str, ...], yes: bool, data: Path | None) -> None:
    """Erase all that came from SENDERS: an address, or the whole name where no address is known. It cannot be undone.

    Other spellings of the same person are told, and only erased if they are named too.
    """
    with errors(), open_store(data) as storage:
        media = Media(data or default_data_dir())
        erase_files(storage, media)  # of an earlier run that was cut short
        tell_backups(storage)
        ids = sorted({k for sender in senders for k in submissions_of(storage, sender)})
        also = variants(storage, ids, senders)
        tell_variants(also, f"moondesk forget {shlex.join(senders)}")
        if not ids:
            say("Nothing came from this sender.")
            sys.exit(EXIT_NOTHING)
        if not yes:
            click.confirm(f"Erase {len(ids)} submissions with their pictures, for good?", abort=True, err=True)
        now = datetime.now(UTC)
        done = [forget(storage, media, sender, now, "the command line") for sender in senders]
    erased, originals = sum(d.submissions for d in done), sum(d.originals for d in done)
    click.echo(f"Erased: {erased} submissions, {originals} originals and what was made of them.")
    for sentence in _backup_words(done[-1].backups):
        click.echo(sentence)


def tell_variants(also: Sequence[Variant], command: str) -> None:
    """Who may be the same person: to be named too, after the command as it was typed."""
    for one in also:
        say(
            f"{one.submissions} more may be theirs, under “{one.sender}”: {one.why}. If they are, name it too: "
            f"{command} {shlex.quote(one.sender)}"
        )


def _backup_words(backups: Backups) -> list[str]:
    """What is true of the copies; nobody knows of those that were not made by `moondesk backup`."""
    said = []
    if backups.told:
        said.append(
            "These backups hold them until they are made anew; restored as they are, they are erased again: "
            f"{', '.join(map(str, backups.told))}."
        )
    if backups.unreached:
        said.append(
            "These backups hold them too and cannot be reached now; they are told when they can. Restored "
            f"before that, name this data folder with --forgotten: {', '.join(map(str, backups.unreached))}."
        )
    return [*said, "Copies that were made in another way are not known here."]
