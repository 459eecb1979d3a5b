"""`moondesk account`: for who forgot a password and has no presenter to ask, on the desk's own machine.

Whoever may read the data folder may do this: the folder holds everything anyway. Passwords are asked for, never taken
from the command line, where others on the machine could read them.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.passwords import complaint, hash_password
from moondesk.service.programme.account_form import NAME_CHARACTERS
from moondesk.service.settings.config import default_data_dir
from moondesk.service.store.accounts import accounts, add_account, credentials, set_open, set_password
from moondesk.service.store.storage import Storage

BY = "the command line"


@click.group(epilog=EXIT_CODES)
def command() -> None:
    """Accounts of the desk: list, add one, set a forgotten password anew."""


@command.command("list", epilog=EXIT_CODES)
@data_option
def list_accounts(data: Path | None) -> None:
    """List the accounts."""
    with errors(), _store(data) as storage:
        found = accounts(storage)
        for one in found:
            click.echo(f"{one.name}: {one.role}{', closed' if one.disabled_utc else ''}")
    sys.exit(0 if found else EXIT_NOTHING)


@command.command(epilog=EXIT_CODES)
@click.argument("name")
@click.option("--role", type=click.Choice(["helper", "presenter"]), default="presenter", show_default=True)
@data_option
def add(name: str, role: str, data: Path | None) -> None:
    """Make an account."""
    with errors(), _store(data) as storage:
        wanted = _check_name(name)
        made = add_account(
            storage,
            wanted,
            "presenter" if role == "presenter" else "helper",
            hash_password(_ask(wanted)),
            datetime.now(UTC),
            BY,
        )
    click.echo(f"{made.name} can log in, as {made.role}.")


@command.command(epilog=EXIT_CODES)
@click.argument("name")
@data_option
def reset(name: str, data: Path | None) -> None:
    """Set a new password, open the account if it is closed, and log it out everywhere."""
    with errors(), _store(data) as storage:
        found = credentials(storage, name)
        if found is None:
            raise NotStoredError(f"There is no account named {name}.", "moondesk account list shows them.")
        now, one = datetime.now(UTC), found[0]
        set_password(storage, one.id, hash_password(_ask(one.name)), now, BY)
        set_open(storage, one.id, True, now, BY)
    click.echo(f"{one.name} can log in with the new password, as {one.role}.")


def _store(data: Path | None) -> Storage:
    return Storage(data or default_data_dir())


def _check_name(name: str) -> str:
    text = " ".join(name.split())
    if not 1 <= len(text) <= NAME_CHARACTERS or not text.isprintable():
        raise BadInputError(
            "This cannot be the name of an account.", f"Give one of up to {NAME_CHARACTERS} characters."
        )
    return text


def _ask(name: str) -> str:
    """A new password, typed twice; asked for until it will do."""
    while True:
        asked: str = click.prompt(
            f"New password for {name}", hide_input=True, confirmation_prompt="The same again", err=True
        )
        why = complaint(asked, (name,))
        if not why:
            return asked
        say(why)
