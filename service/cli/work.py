"""The commands that keep the work going: watch a mailbox, place what waits, try again what failed."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from moondesk.service.cli.console import EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED, errors, line_of, progress
from moondesk.service.cli.options import EXIT_CODES, cluster_option, data_option, workers_option
from moondesk.service.errors import BadInputError, DeskError
from moondesk.service.settings.config import Config, default_data_dir, load_config
from moondesk.service.web.running import tell_missing

if TYPE_CHECKING:
    from moondesk.service.intake.imap import Account
    from moondesk.service.intake.intake import Intake
    from moondesk.service.store.storage import Storage

#: Between two looks at the queue where others may fill it.
LOOK_SECONDS = 5.0


def now() -> datetime:
    return datetime.now(UTC)


def place_and_tell(
    storage: Storage, config: Config, cluster: str | None, stopped: Callable[[], bool] = lambda: False
) -> tuple[int, int]:
    """Place all that waits, a line for each on stdout and the progress on stderr; how many, and how many in vain.

    stopped: asked again and again; what is being placed then is given back.
    """
    from contextlib import closing
    from dataclasses import replace

    from moondesk.service.jobs.engine import PRELOAD, engine_version, load_engine
    from moondesk.service.jobs.executors import ClusterPool
    from moondesk.service.jobs.queue_owners import take_from_the_gone
    from moondesk.service.jobs.waiting import place_waiting
    from moondesk.service.store import queue, versions
    from moondesk.service.store.media import Media

    version = engine_version()
    take_from_the_gone(storage)
    waiting = queue.counts(storage, version, now()).waiting
    if not waiting and not versions.waiting(storage, 1):
        return 0, 0
    pool = ClusterPool(cluster, config.limits.place_seconds, PRELOAD) if cluster else None
    if pool is not None:
        config = replace(config, data_dir=config.data_dir.resolve(), workers=pool.workers)
    count = failed = 0
    try:
        with closing(
            place_waiting(storage, Media(config.data_dir), config, load_engine, version, now, pool, stopped)
        ) as placed:
            for picture, stored in progress(placed, waiting):
                count += 1
                failed += not stored.annotation.status.facts.opens
                arrival = picture.submission.arrival
                name = arrival.sender_name or arrival.sender_address or picture.enclosure.given_name
                click.echo(line_of(name, stored.annotation, config.programme.zone))
                if stopped():
                    break
    finally:
        if pool is not None:
            pool.shutdown(cancel_futures=True)
    return count, failed


def tell_held(storage: Storage) -> None:
    """Say what was not placed because another program has it."""
    from moondesk.service.store import queue

    count, until = queue.held(storage, now())
    if until is not None:
        click.echo(
            f"{count} pictures are held by another program that places; if it is gone, they are free from "
            f"{until:%H:%M:%S} UTC on.",
            err=True,
        )


@click.command(epilog=EXIT_CODES)
@data_option
@workers_option
@cluster_option
@click.option("--follow", is_flag=True, help="Go on until stopped, placing what comes in.")
def work(data: Path | None, workers: int | None, cluster: str | None, follow: bool) -> None:
    """Place the pictures that wait. Any number of these may run at once, beside the desk and on its machine.

    Other machines help by --cluster: one program writes to the store, the others only place.
    """
    from moondesk.service.jobs.housekeeping import keep_house_by_the_hour, keep_house_once
    from moondesk.service.store.disks import network_kind
    from moondesk.service.store.storage import Storage

    with errors():
        config, stop = load_config(data or default_data_dir(), workers), _stop_event()
        kind = network_kind(config.data_dir)
        if kind and not cluster:
            raise BadInputError(
                f"The data folder {config.data_dir} lies on a network's file system ({kind}), on which two machines "
                "that write break the store.",
                "On the machine that runs the desk run moondesk work --cluster ADDRESS: it alone writes, and the "
                "others place. The desk places by itself, too.",
            )
        if follow:
            keep_house_by_the_hour(config.data_dir, _say, stop)
        else:
            keep_house_once(config.data_dir, _say)
        count = failed = 0
        with Storage(config.data_dir) as storage:
            while True:
                done, bad = place_and_tell(storage, config, cluster, stop.is_set)
                count, failed = count + done, failed + bad
                if not follow or stop.wait(LOOK_SECONDS):
                    break
            if not follow:
                tell_held(storage)
    sys.exit(EXIT_SOME_FAILED if failed else EXIT_OK if count or follow else EXIT_NOTHING)


@click.command(epilog=EXIT_CODES)
@data_option
@workers_option
@cluster_option
def retry(data: Path | None, workers: int | None, cluster: str | None) -> None:
    """Try again what was refused or put aside, and place it: after an extra was installed, or a fault mended."""
    from moondesk.service.intake.retry import retry as look_again
    from moondesk.service.intake.retry import to_place
    from moondesk.service.store.storage import Storage

    with errors():
        config = load_config(data or default_data_dir(), workers)
        with Storage(config.data_dir) as storage:
            found = still = 0
            for tried in look_again(_intake(storage, config)):
                found, still = found + tried.pictures, still + bool(tried.sentence)
                if tried.sentence:
                    click.echo(f"{tried.name}: {tried.sentence}", err=True)
            again = to_place(storage)
            placed, failed = place_and_tell(storage, config, cluster)
    click.echo(
        f"{found} refused files can be used now, {still} cannot; {again} pictures tried again, {placed} placed.",
        err=True,
    )
    sys.exit(EXIT_SOME_FAILED if failed or still else EXIT_OK if found or placed else EXIT_NOTHING)


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
def watch(
    data: Path | None, workers: int | None, cluster: str | None, once: bool, placing: bool, mark: bool, **given: Any
) -> None:
    """Watch a mailbox, take the mails that come in, place their pictures. Settings: [mailbox] in moondesk.toml."""
    with errors():
        config = load_config(data or default_data_dir(), workers)
        settings = {**config.ways["mail"], **{k: v for k, v in given.items() if v is not None}}
        sys.exit(_watch(config, settings, mark, once, placing, cluster))


def _watch(
    config: Config, settings: Mapping[str, Any], mark: bool, once: bool, placing: bool, cluster: str | None
) -> int:
    from moondesk.service.intake.imap import CutError
    from moondesk.service.intake.watch import POLL_SECONDS, Watch, read_password
    from moondesk.service.jobs.child_pool import start_server
    from moondesk.service.jobs.housekeeping import keep_house_by_the_hour, keep_house_once
    from moondesk.service.store.storage import Storage

    tell_missing()
    account, stop = _account(settings, mark), _stop_event()
    file = settings.get("password_file")
    password = read_password(Path(file) if file else None)  # before any child is started
    start_server(["moondesk.service.jobs.preload"] if placing else ["moondesk.service.intake.reading"])
    placer = threading.Thread(target=_keep_placing, args=(config, cluster, stop), daemon=True)
    refused = taken = 0
    if once:
        keep_house_once(config.data_dir, _say)
    else:
        keep_house_by_the_hour(config.data_dir, _say, stop)
    with Storage(config.data_dir) as storage:
        if placing and not once:
            placer.start()
        watching = Watch(
            account=account,
            password=password,
            intake=lambda: _intake(storage, config),
            say=_say,
            stopped=stop.is_set,
            pause=stop.wait,
            since=_day(settings.get("since")),
            poll_seconds=float(settings.get("poll_seconds", POLL_SECONDS)),
        )
        try:
            for item in watching.run(once):
                taken, refused = taken + (item.outcome == "taken"), refused + (item.outcome == "refused")
                _say(f"{item.origin}: {item.outcome}{': ' if item.sentence else ''}{item.sentence}")
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
    from moondesk.service.store.storage import Storage

    while not stop.wait(LOOK_SECONDS):
        try:
            with Storage(config.data_dir) as storage:
                while not stop.wait(LOOK_SECONDS):
                    place_and_tell(storage, config, cluster, stop.is_set)
        except (DeskError, OSError) as error:
            _say(f"Placing waits: {error}")


def _intake(storage: Storage, config: Config) -> Intake:
    from moondesk.service.intake.intake import Intake, open_edition
    from moondesk.service.programme.evenings import load_calendar
    from moondesk.service.store.media import Media

    edition = open_edition(storage, config, now(), load_calendar(config).day_of_plan)
    return Intake(storage=storage, media=Media(config.data_dir), edition=edition, config=config, now=now)


def _account(settings: Mapping[str, Any], mark: bool) -> Account:
    from moondesk.service.intake.imap import Account

    for key in ("host", "user"):
        if not settings.get(key):
            raise BadInputError(f"The mailbox has no {key}.", f"Give it as --{key}, or in [mailbox] of moondesk.toml.")
    ca_file = settings.get("ca_file")
    return Account(
        host=str(settings["host"]),
        user=str(settings["user"]),
        port=settings.get("port"),
        folder=str(settings.get("folder", "INBOX")),
        plain=bool(settings.get("plain", False)),
        ca_file=Path(ca_file) if ca_file else None,
        mark=mark,
    )


def _day(text: Any) -> date | None:
    try:
        return text if text is None or isinstance(text, date) else date.fromisoformat(str(text))
    except ValueError as error:
        raise BadInputError(f"{text} is not a day.", "Write it like 2026-03-25.") from error


def _say(sentence: str) -> None:
    click.echo(f"{datetime.now():%H:%M:%S}  {sentence}", err=True)


def _stop_event() -> threading.Event:
    """Set by Ctrl-C, or when the system ends the program: what is being stored is stored first. A second ends it."""
    stop = threading.Event()

    def ask_to_stop(number: int, _: object) -> None:
        stop.set()
        signal.signal(number, signal.default_int_handler)

    if threading.current_thread() is threading.main_thread():
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, ask_to_stop)
    return stop
