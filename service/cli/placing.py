"""What the commands that take and place share: everything that waits placed with a line for each."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime

import click

from moondesk.service.cli.console import line_of, progress, say
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.intake.picture_formats import missing_extras
from moondesk.service.jobs import engine
from moondesk.service.jobs.executors import ClusterPool
from moondesk.service.jobs.queue_owners import take_from_the_gone
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.programme.evenings import load_calendar
from moondesk.service.settings.config import Config
from moondesk.service.store import queue, versions
from moondesk.service.store.media import Media
from moondesk.service.store.records import SentPicture, StoredAnnotation
from moondesk.service.store.storage import Storage

cluster_option = click.option(
    "--cluster",
    metavar="ADDRESS",
    default=None,
    help="Place on a Dask cluster, by its scheduler's address (tcp://host:port). Its workers "
    "need this release and the data folder under the same path.",
)
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
    version = engine.engine_version()
    take_from_the_gone(storage)
    waiting = queue.counts(storage, version, now()).waiting
    if not waiting and not versions.waiting_ids(storage, 1):
        return 0, 0
    pool = ClusterPool(cluster, config.limits.place_seconds, engine.PRELOAD) if cluster else None
    if pool is not None:
        config = replace(config, data_dir=config.data_dir.resolve(), workers=pool.workers)
    count = failed = 0
    try:
        with closing(
            place_waiting(storage, Media(config.data_dir), config, engine.load_engine, version, now, pool, stopped)
        ) as placed:
            for picture, stored in progress(placed, waiting):
                count += 1
                failed += not stored.annotation.status.facts.opens
                click.echo(placed_line(picture, stored, config.programme.zone))
                if stopped():
                    break
    finally:
        if pool is not None:
            pool.shutdown(cancel_futures=True)
    return count, failed


def placed_line(picture: SentPicture, stored: StoredAnnotation, zone: str) -> str:
    arrival = picture.submission.arrival
    name = arrival.sender_name or arrival.sender_address or picture.enclosure.given_name
    return line_of(name, stored.annotation, zone)


def tell_held(storage: Storage) -> None:
    """Say what was not placed because another program has it."""
    count, until = queue.count_leased(storage, now())
    if until is not None:
        say(
            f"{count} pictures are held by another program that places; if it is gone, they are free from "
            f"{until:%H:%M:%S} UTC on."
        )


def tell_missing() -> None:
    """Say what this installation cannot open."""
    for sentence in missing_extras():
        say(sentence)


def open_intake(storage: Storage, config: Config) -> Intake:
    """Where arrivals go: the edition that is next to air."""
    edition = open_edition(storage, config, now(), load_calendar(config).day_of_plan)
    return Intake(storage=storage, media=Media(config.data_dir), edition=edition, config=config, now=now)
