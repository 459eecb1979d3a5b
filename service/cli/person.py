"""`moondesk person`: all that is stored of somebody who asks for it, as one archive."""

from __future__ import annotations

import shlex
import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.cli.forget import tell_variants
from moondesk.service.exports.person_archive import write_person
from moondesk.service.store.forget import submissions_of
from moondesk.service.store.person import person_record
from moondesk.service.store.senders import variants
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio


@click.command(epilog=EXIT_CODES)
@click.argument("senders", nargs=-1, required=True)
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="ZIP to write; without it only a count.")
@data_option
def command(senders: tuple[str, ...], out: Path | None, data: Path | None) -> None:
    """Write all that is stored of SENDERS into one archive, for a person who asks what is known of them.

    An address, or the whole name where no address is known. Other spellings of the same person are told, and only taken
    in if they are named too. Nothing of other people is in it; look through it before you hand it on.
    """
    with errors():
        code = write_record(require_store(data), senders, out)
    sys.exit(code)


def write_record(folder: Path, senders: tuple[str, ...], out: Path | None) -> int:
    """The archive of a person; an exit code. Raises DeskError."""
    with Storage(folder) as storage:
        ids = sorted({k for sender in senders for k in submissions_of(storage, sender)})
        tell_variants(variants(storage, ids, senders), f"moondesk person {shlex.join(senders)}")
        if not ids:
            say("Nothing came from this sender.")
            return EXIT_NOTHING
        record = person_record(storage, ids, senders)
        pictures = sum(len(s["pictures"]) for s in record.submissions)
        told = f"{len(ids)} submissions, {pictures} pictures, {len(record.files)} files"
        if out is None:
            click.echo(f"{told}. Name the archive to write with --out.")
            return EXIT_OK
        problems = write_person(Studio(storage, load_config(folder)), record, senders, out, datetime.now(UTC))
    for sentence in problems:
        say(sentence)
    click.echo(f"{out}: {told}.")
    return EXIT_SOME_FAILED if problems else EXIT_OK
