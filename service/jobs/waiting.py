"""Placing what waits in the store: leased, placed in workers, settled; with what people have decided by hand.

    queue --lease--> job --worker--> Placed --settle--> annotation and sketch, one commit --> copies are looked for

Several programs may place at once; see `store.queue` for what becomes of a picture whose worker dies or is late.
"""

from __future__ import annotations

import logging
import time
from collections import deque
from collections.abc import Callable, Generator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from moondesk.sentences import sentence
from moondesk.service.errors import BadInputError
from moondesk.service.jobs.child_pool import ChildDiedError, ChildLateError, ChildPool
from moondesk.service.jobs.duplicate_search import Copies, sketch_row
from moondesk.service.jobs.engine import PRELOAD, Loader
from moondesk.service.jobs.executors import InProcess, attend
from moondesk.service.jobs.placing import PlacedPicture, PlacingJob, in_worker, unreadable
from moondesk.service.jobs.queue_owners import owner_name
from moondesk.service.programme.words import names_kept
from moondesk.service.settings.config import Config
from moondesk.service.store import queue
from moondesk.service.store.decisions import revision, standing_corrections
from moondesk.service.store.forget import erase_leftovers
from moondesk.service.store.media import Media, derived_key
from moondesk.service.store.messages import StoredMessage
from moondesk.service.store.records import Lease, SentPicture, StoredAnnotation
from moondesk.service.store.storage import Storage

log = logging.getLogger(__name__)

#: Pictures given out before the first of them is done, for each worker; they are noted as they are done.
LEASED_AHEAD = 2
#: How long a worker that is never heard of again keeps its pictures from others, and how often one that lives says so.
LEASE_SECONDS, RENEW_SECONDS = 90.0, 20.0
#: How often it is asked whether to stop while nothing is done.
STOP_SECONDS = 0.5


def place_waiting(
    storage: Storage,
    media: Media,
    config: Config,
    load: Loader,
    version: str,
    now: Callable[[], datetime],
    pool: Executor | None = None,
    stopped: Callable[[], bool] = lambda: False,
) -> Generator[tuple[SentPicture, StoredAnnotation]]:
    """Place what this version of the engine has not seen and nobody else has leased; each is stored, then yielded.

    pool: where to; None: children of this process, as many as the settings say (0: in this process). stopped: asked
    again and again; what is being placed then is given back.
    """

    own, owner = pool is None, owner_name()
    try:
        if pool is None:
            workers = min(config.workers, max(1, queue.counts(storage, version, now()).waiting))
            pool = ChildPool(workers, config.limits.place_seconds, PRELOAD) if workers else InProcess()
        yield from _place_leased(
            storage,
            pool,
            _Stored(media=media, config=config, load=load, version=version, now=now, owner=owner, stopped=stopped),
        )
    finally:
        queue.release(storage, owner)
        if own and pool is not None:
            pool.shutdown(cancel_futures=True)


@dataclass(frozen=True, kw_only=True)
class _Stored:
    """What the placing of stored pictures needs to know."""

    media: Media
    config: Config
    load: Loader
    version: str
    now: Callable[[], datetime]
    owner: str
    stopped: Callable[[], bool]

    def given(self, storage: Storage, lease: Lease) -> _Given:
        """What to do for a leased picture, with all that people have decided about it by now."""

        arrival, sha = lease.picture.submission.arrival, lease.picture.enclosure.sha256
        assert sha is not None  # only kept originals are leased
        known = replace(arrival.known(self.config.zones), given_name=lease.picture.enclosure.given_name)
        corrections = standing_corrections(storage, lease.picture.id)
        key = derived_key(self.version, known, corrections)
        job = PlacingJob(
            path=self.media.root / "originals" / sha[:2] / sha,
            known=replace(known, now_utc=self.now()),
            derived_folder=self.media.derived_folder(sha, key),
            corrections=corrections,
        )
        return _Given(lease, job, key, revision(storage, lease.picture.id))


@dataclass(frozen=True)
class _Given:
    """A leased picture that is being placed. seen: the revision of its decisions that the job knows."""

    lease: Lease
    job: PlacingJob
    key: str
    seen: str


def _place_leased(storage: Storage, pool: Executor, what: _Stored) -> Generator[tuple[SentPicture, StoredAnnotation]]:

    ahead = LEASED_AHEAD * max(1, what.config.workers)
    copies = Copies(storage, pool, what.media.root / "originals", ahead)
    given: dict[Future[PlacedPicture], _Given] = {}
    settled: dict[int, tuple[SentPicture, StoredAnnotation] | None] = {}
    order: deque[Lease] = deque()  # yielded as leased: a list that jumps about is hard to read
    renewed = time.monotonic()
    while not what.stopped():
        if len(given) <= ahead // 2:
            for lease in queue.lease(storage, what.version, what.owner, ahead - len(given), what.now(), LEASE_SECONDS):
                fresh = what.given(storage, lease)
                given[attend(pool, in_worker, what.load, fresh.job)] = fresh
                order.append(lease)
        copies.give_out()
        if not given and not copies.given:
            return
        working: list[Future[Any]] = [*given, *copies.given]
        done, _ = wait(working, timeout=STOP_SECONDS, return_when=FIRST_COMPLETED)
        if time.monotonic() - renewed > RENEW_SECONDS:
            queue.renew(storage, what.owner, what.now(), LEASE_SECONDS)
            renewed = time.monotonic()
        for future in done:
            if future in copies.given:
                copies.settle(future)
                continue
            one = given.pop(future)
            settled[id(one.lease)] = _settle(storage, what, one, future)
        while order and id(order[0]) in settled:
            result = settled.pop(id(order.popleft()))
            if result is not None:
                yield result


def _settle(
    storage: Storage, what: _Stored, given: _Given, future: Future[PlacedPicture]
) -> tuple[SentPicture, StoredAnnotation] | None:
    """Store what came of a lease; None where it will be tried again, or is somebody else's by now."""
    picture = given.lease.picture
    try:
        placed = future.result()
        if placed.version not in ("", what.version):
            raise BadInputError(
                "A worker has another version of the core than this program.",
                "Install the same one everywhere, and run it again; nothing was placed by it.",
            )
        why = (
            None if placed.sha256 else placed.annotation.reasons[0]
        )  # the original could not be read where the worker runs
    except BadInputError:
        raise
    except ChildLateError as error:
        why = sentence("placer_late", time=error)
    except ChildDiedError:
        why = sentence("placer_died")
    except Exception as error:
        if type(error).__name__ != "KilledWorker":  # no picture's fault, and to be blamed on none
            raise BadInputError(
                f"Pictures cannot be placed where they were sent ({type(error).__name__}: {error}).",
                "On a cluster: do scheduler and workers have this release, and see the data folder? "
                "Nothing is lost; run it again.",
            ) from error
        why = sentence("cluster_died")
    if why is not None:
        made = unreadable(why, sentence("ask_again"), sentence("retry_once_more"))
        stored = StoredAnnotation(
            picture_id=picture.id,
            annotation=made,
            engine_version=what.version,
            made_utc=what.now(),
            derived_key=given.key,
        )
        if queue.fail(storage, what.owner, picture.id, what.version, StoredMessage(why.code, why.values), stored):
            return picture, stored
        erase_leftovers(storage, what.media, picture)
        return None
    for problem in placed.problems:
        log.warning("picture %d: %s", picture.id, problem)
    stored = StoredAnnotation(
        picture_id=picture.id,
        annotation=placed.annotation,
        engine_version=what.version,
        made_utc=what.now(),
        derived_key=given.key,
        quality=placed.quality,
    )
    names = names_kept(placed.annotation)
    row = sketch_row(picture.id, placed.sketch, placed.annotation) if placed.sketch else None
    if queue.finish(storage, what.owner, stored, names, row, given.seen):
        return picture, stored
    erase_leftovers(storage, what.media, picture)
    return None
