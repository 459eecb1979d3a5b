"""Running the desk until it is asked to stop: what comes in is placed beside it, and both end together."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from moondesk.service.settings.config import Config, load_config

if TYPE_CHECKING:
    from moondesk.service.jobs.beside_desk import Beside
    from moondesk.service.store.records import SentPicture, StoredAnnotation
    from moondesk.service.store.storage import Storage


def serve_desk(
    data: Path, host: str, port: int | None, may_move: bool = False, placing: bool = True, workers: int | None = None
) -> None:
    """Serve the desk of a data folder until Ctrl-C, or until the system ends the program. Raises DeskError.

    may_move: to another port where none is asked and the usual one is taken. placing: place what comes in, by so many
    workers (None: one for each core); else that is left to `moondesk work`.
    """
    from moondesk.service.jobs.child_pool import start_server
    from moondesk.service.jobs.housekeeping import keep_house_by_the_hour
    from moondesk.service.replies.postman import Postman
    from moondesk.service.web.desk.app import create_app, listen

    if placing:
        start_server(["moondesk.service.jobs.preload"])  # first, so that it loads while this process does
    config = load_config(data, workers)
    app = create_app(config)
    keep_house_by_the_hour(data, lambda sentence: click.echo(sentence, err=True))
    beside = placer(config, workers) if placing else None
    app.extensions["moondesk.placing"] = beside
    postman = app.extensions["moondesk.postman"] = Postman(data)

    def announce(url: str) -> None:
        click.echo(f"The desk: {url}   (stop with Ctrl-C)")
        postman.start()
        if beside is not None:
            beside.start()

    with ended_by_system():
        try:
            listen(app, host, port, announce, may_move)
        finally:
            postman.stop()
            if beside is not None:
                beside.stop()


def placer(config: Config, workers: int | None) -> Beside:
    """What places beside the desk, with the settings as they stand at each round."""
    from datetime import UTC, datetime

    from moondesk.service.cli.console import line_of
    from moondesk.service.jobs.beside_desk import Beside
    from moondesk.service.jobs.engine import engine_version, load_engine
    from moondesk.service.jobs.queue_owners import take_from_the_gone
    from moondesk.service.jobs.waiting import place_waiting
    from moondesk.service.store import queue, versions
    from moondesk.service.store.media import Media

    def now() -> datetime:
        return datetime.now(UTC)

    def place(storage: Storage, stopped: Callable[[], bool]) -> Iterator[tuple[SentPicture, StoredAnnotation]]:
        version = engine_version()
        take_from_the_gone(storage)
        if queue.counts(storage, version, now()).waiting or versions.waiting(storage, 1):
            settings = load_config(config.data_dir, workers)
            yield from place_waiting(
                storage, Media(config.data_dir), settings, load_engine, version, now, stopped=stopped
            )

    def told(picture: SentPicture, stored: StoredAnnotation) -> None:
        arrival = picture.submission.arrival
        name = arrival.sender_name or arrival.sender_address or picture.enclosure.given_name
        click.echo(line_of(name, stored.annotation, config.programme.zone))

    return Beside(config.data_dir, place, told)


def tell_missing() -> None:
    """Say on the terminal what this installation cannot open."""
    from moondesk.service.intake.picture_formats import missing

    for sentence in missing():
        click.echo(sentence, err=True)


@contextmanager
def ended_by_system() -> Iterator[None]:
    """Within it SIGTERM ends the program as Ctrl-C does: all is put away first. A second one ends it at once."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def end(number: int, _: object) -> None:
        signal.signal(number, signal.SIG_DFL)
        sys.exit(128 + number)

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
