"""Placing pictures in worker processes: jobs in, annotations out in the same order; one bad picture never stops it.

The work goes through a `concurrent.futures.Executor`: children of this process, or a cluster (see `pools`). Pictures of
the store are leased from its queue, so that several programs may place at once; see `store.queue` for what becomes of a
picture whose worker dies or is late. For files that are not stored: one that ends its worker twice, or takes too long,
is `unreadable`.
"""

from __future__ import annotations

import logging
import os
import secrets
import socket
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from annotate.records import Annotation, Clock, Known, NotFound, Taken
from service.errors import BadInputError
from service.words import best_seen, feature_name
from service.work.children import ChildDiedError, ChildLateError, ChildPool
from service.work.engine import Engine
from service.work.media import Media, derived_key, sha256_of

if TYPE_CHECKING:
    from service.config import Config
    from service.store.records import Lease, SentPicture, StoredAnnotation
    from service.store.storage import Storage

log = logging.getLogger(__name__)

BEST_SEEN_KEPT = 6
#: Jobs given out before the first of them is done, for each worker: one slow picture must not starve the others.
AHEAD = 8
#: The same for pictures of the store, which are noted as they are done.
LEASED_AHEAD = 2
#: How long a worker that is never heard of again keeps its pictures from others, and how often one that lives says so.
LEASE_SECONDS, RENEW_SECONDS = 90.0, 20.0
#: What the workers share from their start.
PRELOAD = ("service.work.warm",)

Loader = Callable[[], Engine]


@dataclass(frozen=True)
class Job:
    """One picture to place. Paths, not pixels: they cross to another process."""

    path: Path
    known: Known
    #: Folder for every derived picture (the store), or None.
    derived_folder: Path | None = None
    #: Files for the labelled and the upright picture alone, or None.
    labelled: Path | None = None
    upright: Path | None = None
    #: Name that the picture goes by in its line of JSON; None: no line is asked for.
    line_name: str | None = None


@dataclass(frozen=True)
class Placed:
    """What became of a job. problems: sentences about derived pictures that could not be made."""

    annotation: Annotation
    sha256: str
    problems: tuple[str, ...] = ()
    #: JSON without its line end, where the job asked for it; the annotation as the store keeps it, where it goes there.
    #: Made by the worker: the one process that hands out the work would else be the one that holds all others up.
    line: str = ""
    packed: bytes = b""
    #: For `copies`, where it goes to the store; empty where the picture cannot be opened.
    sketch: bytes = b""
    #: Of the engine that the worker had.
    version: str = ""


def unreadable(reason: str, advice: str) -> Annotation:
    """The annotation of a picture that gave nothing at all."""
    return Annotation("unreadable", False, reason, advice, 0, 0, Taken((), None, None), None,
                      Clock("no_clock", None, None))


def place_one(engine: Engine, job: Job) -> Placed:
    """Place one picture in this process. Never raises for what a file or the core may do."""
    try:
        data = job.path.read_bytes()
    except OSError as error:
        return _settled(job, unreadable(f"The file cannot be read: {error.strerror}.",
                                        "Check its name and permissions."), "")
    sha = sha256_of(data)
    try:
        annotation = engine.annotate(data, job.known)
    except Exception as error:  # whatever the core does with a picture, the others go on
        log.exception("placing %s", job.path.name)
        return _settled(job, unreadable(f"The tool failed on this picture ({type(error).__name__}: {error}).",
                                        "Please report it with the picture; the original is kept."), sha)
    try:
        problems, sketch = _draw(engine, data, annotation, job)
    except Exception as error:  # the placement stands, whatever the drawing does
        log.exception("drawing %s", job.path.name)
        problems, sketch = (f"The pictures could not be made ({type(error).__name__}: {error}).",), b""
    return replace(_settled(job, annotation, sha, problems), sketch=sketch)


def _settled(job: Job, annotation: Annotation, sha: str, problems: tuple[str, ...] = ()) -> Placed:
    ready = b""
    if job.derived_folder is not None:
        from service.store.rows import packed

        ready = packed(annotation)
    if job.line_name is None:
        return Placed(annotation, sha, problems, "", ready)
    import json

    from annotate.contract import json_line

    line = json.dumps(json_line(job.line_name, sha, annotation), ensure_ascii=False, allow_nan=False)
    return Placed(annotation, sha, problems, line, ready)


def _draw(engine: Engine, data: bytes, annotation: Annotation, job: Job) -> tuple[tuple[str, ...], bytes]:
    """The pictures that the job asks for: what could not be made, and for the store the picture's sketch."""
    from service.work.derive import derive_all, draw_pictures, is_drawn  # not needed where no picture is drawn

    named = (job.labelled, job.upright) if job.labelled and job.upright and is_drawn(annotation) else None
    if job.derived_folder is None and named is None:
        return (), b""
    rgb = engine.decode_rgb(data)
    if isinstance(rgb, NotFound):
        return (rgb.reason,), b""
    if job.derived_folder is not None:
        from service.work.copies import sketched

        return derive_all(engine, rgb, annotation, job.derived_folder), sketched(rgb)
    return (draw_pictures(engine, rgb, annotation, *named) if named else ()), b""


def place_all(jobs: Iterable[Job], load: Loader, workers: int, seconds: int) -> Iterator[Placed]:
    """Place jobs in order. workers 0: in this process; seconds: what one picture may take in a worker."""
    if workers <= 0:
        for job in jobs:
            yield place_one(load(), job)
        return
    pool = ChildPool(workers, seconds, PRELOAD)
    try:
        yield from place_through(pool, jobs, load, AHEAD * workers)
    finally:
        pool.shutdown(cancel_futures=True)


def place_through(pool: Executor, jobs: Iterable[Job], load: Loader, ahead: int) -> Iterator[Placed]:
    """Place jobs in order by an executor that runs elsewhere; at most `ahead` are given out and not yet yielded."""
    source = iter(jobs)
    waiting: deque[tuple[Job, Future[Placed]]] = deque()
    while True:
        while len(waiting) < ahead and (fresh := next(source, None)) is not None:
            waiting.append((fresh, pool.submit(_in_worker, load, fresh)))
        if not waiting:
            return
        job, future = waiting.popleft()
        yield _outcome(pool, load, job, future)


def _outcome(pool: Executor, load: Loader, job: Job, future: Future[Placed]) -> Placed:
    try:
        try:
            return future.result()
        except ChildLateError:
            raise
        except ChildDiedError:  # perhaps not by this picture: somebody may have ended the process
            return pool.submit(_in_worker, load, job).result()
    except ChildLateError as error:
        why = f"took {error}"
    except ChildDiedError:
        why = "made the program that opens it stop"
    sha = sha256_of(job.path.read_bytes()) if job.path.is_file() else ""
    return _settled(job, unreadable(f"The picture {why}.",
                                    "Please ask for it again as JPEG or PNG; the original is kept."), sha)


def _in_worker(load: Loader, job: Job) -> Placed:
    engine = _loaded(load)
    try:
        placed = place_one(engine, job)
    except Exception as error:  # told of the picture: what is raised here is said of the place where the work is done
        log.exception("settling %s", job.path.name)
        placed = Placed(unreadable(f"The tool failed on this picture ({type(error).__name__}: {error}).", ""), "")
    return replace(placed, version=engine.version)


@cache
def _loaded(load: Loader) -> Engine:
    import cv2

    cv2.setNumThreads(1)
    return load()


def place_waiting(storage: Storage, media: Media, config: Config, load: Loader, version: str,
                  now: Callable[[], datetime], pool: Executor | None = None,
                  ) -> Iterator[tuple[SentPicture, StoredAnnotation]]:
    """Place what this version of the engine has not seen and nobody else has leased; each is stored, then yielded.

    pool: where to; None: children of this process, as many as the settings say (0: in this process).
    """
    from service.store import queue
    from service.work.pools import InProcess

    own, owner = pool is None, owner_name()
    try:
        if pool is None:
            workers = min(config.workers, max(1, queue.counts(storage, version, now()).waiting))
            derived = media.root / "derived"
            derived.mkdir(parents=True, exist_ok=True)
            pool = (ChildPool(workers, config.limits.place_seconds, PRELOAD, may_write=[derived]) if workers
                    else InProcess())
        yield from _place_leased(storage, pool, _Stored(media, config, load, version, now, owner))
    finally:
        queue.release(storage, owner)
        if own and pool is not None:
            pool.shutdown(cancel_futures=True)


def owner_name() -> str:
    """A name for who holds leases that no other process has, or ever had."""
    return f"{socket.gethostname()}:{os.getpid()}:{secrets.token_hex(6)}"


@dataclass(frozen=True)
class _Stored:
    """What the placing of stored pictures needs to know."""

    media: Media
    config: Config
    load: Loader
    version: str
    now: Callable[[], datetime]
    owner: str

    def job(self, lease: Lease) -> tuple[Job, str]:
        """What to do for a leased picture, and its derived key."""
        arrival, sha = lease.picture.submission.arrival, lease.picture.enclosure.sha256
        assert sha is not None  # only kept originals are leased
        known = replace(arrival.known(self.config.zones), given_name=lease.picture.enclosure.given_name)
        key = derived_key(self.version, known)
        return Job(self.media.root / "originals" / sha[:2] / sha, replace(known, now_utc=self.now()),
                   self.media.derived_folder(sha, key)), key


def _place_leased(storage: Storage, pool: Executor, what: _Stored) -> Iterator[tuple[SentPicture, StoredAnnotation]]:
    from service.store import queue
    from service.work.copies import Copies

    ahead = LEASED_AHEAD * max(1, what.config.workers)
    copies = Copies(storage, pool, what.media.root / "originals", ahead)
    given: dict[Future[Placed], tuple[Lease, str]] = {}
    settled: dict[int, tuple[SentPicture, StoredAnnotation] | None] = {}
    order: deque[Lease] = deque()  # yielded as leased: a list that jumps about is hard to read
    renewed = time.monotonic()
    while True:
        if len(given) <= ahead // 2:
            for lease in queue.lease(storage, what.version, what.owner, ahead - len(given), what.now(), LEASE_SECONDS):
                job, key = what.job(lease)
                given[pool.submit(_in_worker, what.load, job)] = lease, key
                order.append(lease)
        copies.give_out()
        if not given and not copies.given:
            return
        done, _ = wait([*given, *copies.given], timeout=RENEW_SECONDS / 2, return_when=FIRST_COMPLETED)
        if time.monotonic() - renewed > RENEW_SECONDS:
            queue.renew(storage, what.owner, what.now(), LEASE_SECONDS)
            renewed = time.monotonic()
        for future in done:
            if future in copies.given:
                copies.settle(future)
                continue
            lease, key = given.pop(future)
            settled[id(lease)] = _settle(storage, what, lease, key, future)
        while order and id(order[0]) in settled:
            result = settled.pop(id(order.popleft()))
            if result is not None:
                yield result


def _settle(storage: Storage, what: _Stored, lease: Lease, key: str, future: Future[Placed],
            ) -> tuple[SentPicture, StoredAnnotation] | None:
    """Store what came of a lease; None where it will be tried again, or is somebody else's by now."""
    from service.store import queue
    from service.store.forget import erase_leftovers
    from service.store.records import StoredAnnotation
    from service.work.copies import sketch_row

    picture = lease.picture
    try:
        placed = future.result()
        if placed.version not in ("", what.version):
            raise BadInputError("A worker has another version of the core than this program.",
                                "Install the same one everywhere, and run it again; nothing was placed by it.")
        why = "" if placed.sha256 else placed.annotation.reason  # the original could not be read where the worker runs
    except BadInputError:
        raise
    except ChildLateError as error:
        why = f"The picture took {error}."
    except ChildDiedError:
        why = "The picture made the program that opens it stop."
    except Exception as error:
        if type(error).__name__ != "KilledWorker":  # no picture's fault, and to be blamed on none
            raise BadInputError(f"Pictures cannot be placed where they were sent ({type(error).__name__}: {error}).",
                                "On a cluster: do scheduler and workers have this release, and see the data folder? "
                                "Nothing is lost; run it again.") from error
        why = "The workers of the cluster that had the picture were ended, one after the other."
    if why:
        made = unreadable(why, "Please ask for it again as JPEG or PNG; the original is kept. moondesk retry tries "
                               "it once more.")
        stored = StoredAnnotation(picture.id, made, what.version, what.now(), key)
        if queue.fail(storage, what.owner, picture.id, what.version, why, stored):
            return picture, stored
        erase_leftovers(storage, what.media, picture)
        return None
    for problem in placed.problems:
        log.warning("picture %d: %s", picture.id, problem)
    stored = StoredAnnotation(picture.id, placed.annotation, what.version, what.now(), key)
    names = [feature_name(m) for m in best_seen(placed.annotation, BEST_SEEN_KEPT)]
    row = sketch_row(picture.id, placed.sketch, placed.annotation) if placed.sketch else None
    if queue.finish(storage, what.owner, stored, names, placed.packed, row):
        return picture, stored
    erase_leftovers(storage, what.media, picture)
    return None
