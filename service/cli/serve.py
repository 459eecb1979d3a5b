"""`moondesk serve`: the desk until it is asked to stop; what comes in is placed beside it, and both end together."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES
from moondesk.service.cli.console import ended_by_system, errors, say, workers_option
from moondesk.service.cli.data_folder import data_option
from moondesk.service.cli.placing import now, placed_line, tell_missing
from moondesk.service.jobs import child_pool, engine
from moondesk.service.jobs.beside_desk import Beside
from moondesk.service.jobs.housekeeping import run_housekeeping_hourly
from moondesk.service.jobs.queue_owners import take_from_the_gone
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.replies.postman import ReplySender
from moondesk.service.settings.config import DEFAULT_PORT, LOOPBACK, Config, default_data_dir
from moondesk.service.store import queue, versions
from moondesk.service.store.media import Media
from moondesk.service.store.records import SentPicture, StoredAnnotation
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app, handout_of, listen

port_option = click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=None,
    help=f"Port of the desk (default {DEFAULT_PORT}; 0 takes a free one).",
)


@click.command(epilog=EXIT_CODES)
@data_option
@port_option
@click.option(
    "--host",
    default=LOOPBACK,
    show_default=True,
    help="Address to listen on. Beyond this machine only with accounts, and behind a proxy with https: see "
    "[desk] in moondesk.toml.",
)
@click.option(
    "--work/--no-work",
    "placing",
    default=True,
    help="Place what comes in beside the desk (default), or leave that to moondesk work.",
)
@click.option(
    "--air-folder",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Write what stands on air into this folder as pictures, replaced at each step, for mixing software.",
)
@workers_option
def command(
    data: Path | None, port: int | None, host: str, placing: bool, air_folder: Path | None, workers: int | None
) -> None:
    """Serve the desk, and place what comes in: to this machine, and by https to others once it has accounts."""
    with errors():
        tell_missing()
        folder = data or default_data_dir()
        serve_desk(folder, host, port, placing=placing, workers=workers, air_folder=air_folder)


def serve_desk(
    data: Path,
    host: str,
    port: int | None,
    may_move: bool = False,
    placing: bool = True,
    workers: int | None = None,
    air_folder: Path | None = None,
) -> None:
    """Serve the desk of a data folder until Ctrl-C, or until the system ends the program. Raises DeskError.

    may_move: to another port where none is asked and the usual one is taken. placing: place what comes in, by so many
    workers (None: one for each core); else that is left to `moondesk work`. air_folder: see `handout`; None: the one of
    moondesk.toml, if it names any.
    """
    if placing:
        child_pool.start_server(["moondesk.service.jobs.preload"])  # first: it loads while this process goes on
    config = load_config(data, workers)
    app = create_app(config)
    run_housekeeping_hourly(data, say)
    beside = placer(config, workers) if placing else None
    app.extensions["moondesk.placing"] = beside
    wanted = air_folder or (Path(config.air_folder).expanduser() if config.air_folder else None)
    handout = handout_of(app, wanted) if wanted is not None else None
    postman = app.extensions["moondesk.postman"] = ReplySender(data)

    def announce(url: str) -> None:
        click.echo(f"The desk: {url}   (stop with Ctrl-C)")
        postman.start()
        if handout is not None:
            handout.start()
        if beside is not None:
            beside.start()

    with ended_by_system():
        try:
            listen(app, host, port, announce, may_move)
        finally:
            if handout is not None:
                handout.stop()
            postman.stop()
            if beside is not None:
                beside.stop()


def placer(config: Config, workers: int | None) -> Beside:
    """What places beside the desk, with the settings as they stand at each round."""

    def place(storage: Storage, stopped: Callable[[], bool]) -> Iterator[tuple[SentPicture, StoredAnnotation]]:
        version = engine.engine_version()
        take_from_the_gone(storage)
        if queue.counts(storage, version, now()).waiting or versions.waiting_ids(storage, 1):
            settings = load_config(config.data_dir, workers)
            yield from place_waiting(
                storage, Media(config.data_dir), settings, engine.load_engine, version, now, stopped=stopped
            )

    def told(picture: SentPicture, stored: StoredAnnotation) -> None:
        click.echo(placed_line(picture, stored, config.programme.zone))

    return Beside(config.data_dir, place, told)
