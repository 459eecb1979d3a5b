"""`moondesk watch`: mails are taken from a mailbox as they come, and their pictures placed."""

from __future__ import annotations

import sys
import threading
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors, say_when, stop_event, workers_option
from moondesk.service.cli.data_folder import data_option
from moondesk.service.cli.placing import LOOK_SECONDS, cluster_option, open_intake, place_and_tell, tell_missing
from moondesk.service.errors import BadInputError, DeskError
from moondesk.service.intake.imap import CutError, MailboxAccount
from moondesk.service.intake.watch import POLL_SECONDS, Watch, read_password
from moondesk.service.jobs import child_pool
from moondesk.service.jobs.housekeeping import run_housekeeping_hourly, run_housekeeping_once
from moondesk.service.settings.config import Config, default_data_dir
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage


@click.command(epilog=EXIT_CODES)
@click.option("--host", help="The mail server (TLS on port 993 unless --port or --plain says otherwise).")
@click.option("--user", help="Name to log in with.")
@click.option("--port", type=click.IntRange(1, 65535))
@click.option("--folder", help="Folder to watch (default INBOX).")
@click.option(
    "--password-file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File whose first line is the password; else the environment's MOONDESK_MAIL_PASSWORD.",
)
@click.option(
    "--ca-file",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    help="Certificate of who signed the server's, where this machine does not know them.",
)
@click.option("--plain", is_flag=True, default=None, help="Without TLS; to a server on this machine only.")
@click.option("--since", metavar="DATE", help="Only mails that reached the server on this day or later (2026-03-25).")
@click.option("--poll-seconds", type=click.FloatRange(1), help="Between two looks where the server pushes no news.")
@click.option("--mark/--no-mark", default=True, help="Mark as read what was taken (default), or leave the marks alone.")
@click.option("--once", is_flag=True, help="Take what is there, place it, and end.")
@click.option(
    "--place/--no-place",
    "placing",
    default=True,
    help="Place what was taken (default), or leave that to moondesk work.",
)
@data_option
@workers_option
@cluster_option
def command(
    data: Path | None, workers: int | None, cluster: str | None, once: bool, placing: bool, **given: Any
) -> None:
    """Watch a mailbox, take the mails that come in, place their pictures. Settings: [mailbox] in moondesk.toml."""
    with errors():
        config = load_config(data or default_data_dir(), workers)
        settings = {**config.ways["mail"], **{k: v for k, v in given.items() if v is not None}}
        sys.exit(_watch(config, settings, once, placing, cluster))


def _watch(config: Config, settings: Mapping[str, Any], once: bool, placing: bool, cluster: str | None) -> int:
    tell_missing()
    account, stop = _account(settings), stop_event()
    file = settings.get("password_file")
    password = read_password(Path(file) if file else None)  # before any child is started
    child_pool.start_server(["moondesk.service.jobs.preload"] if placing else ["moondesk.service.intake.reading"])
    placer = threading.Thread(target=_keep_placing, args=(config, cluster, stop), daemon=True)
    refused = taken = 0
    if once:
        run_housekeeping_once(config.data_dir, say_when)
    else:
        run_housekeeping_hourly(config.data_dir, say_when, stop)
    with Storage(config.data_dir) as storage:
        if placing and not once:
            placer.start()
        watching = Watch(
            account=account,
            password=password,
            intake=lambda: open_intake(storage, config),
            say=say_when,
            stopped=stop.is_set,
            pause=stop.wait,
            since=_day(settings.get("since")),
            poll_seconds=float(settings.get("poll_seconds", POLL_SECONDS)),
        )
        try:
            for item in watching.run(once):
                taken, refused = taken + (item.outcome == "taken"), refused + (item.outcome == "refused")
                say_when(f"{item.origin}: {item.outcome}{': ' if item.sentence else ''}{item.sentence}")
        except CutError as error:
            raise BadInputError(
                f"The mailbox of {account.user} at {account.host} cannot be read: {error}.",
                "Check the server's name and port, and run it again; no mail is lost.",
            ) from error
        finally:
            if not once:
                stop.set()
        failed = 0
        if placing and once:
            _, failed = place_and_tell(storage, config, cluster, stop.is_set)
    if placer.ident is not None:
        placer.join(10)
    return EXIT_SOME_FAILED if refused or failed else EXIT_OK if taken or not once else EXIT_NOTHING


def _keep_placing(config: Config, cluster: str | None, stop: threading.Event) -> None:
    """Place what comes in until stopped; whatever goes wrong with the placing, the taking goes on."""
    while not stop.wait(LOOK_SECONDS):
        try:
            with Storage(config.data_dir) as storage:
                while not stop.wait(LOOK_SECONDS):
                    place_and_tell(storage, config, cluster, stop.is_set)
        except (DeskError, OSError) as error:
            say_when(f"Placing waits: {error}")


def _account(settings: Mapping[str, Any]) -> MailboxAccount:
    for key in ("host", "user"):
        if not settings.get(key):
            raise BadInputError(f"The mailbox has no {key}.", f"Give it as --{key}, or in [mailbox] of moondesk.toml.")
    ca_file = settings.get("ca_file")
    return MailboxAccount(
        host=str(settings["host"]),
        user=str(settings["user"]),
        port=settings.get("port"),
        folder=str(settings.get("folder", "INBOX")),
        plain=bool(settings.get("plain", False)),
        ca_file=Path(ca_file) if ca_file else None,
        mark=settings["mark"],
    )


def _day(text: Any) -> date | None:
    try:
        return text if text is None or isinstance(text, date) else date.fromisoformat(str(text))
    except ValueError as error:
        raise BadInputError(f"{text} is not a day.", "Write it like 2026-03-25.") from error
