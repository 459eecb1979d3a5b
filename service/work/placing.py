"""Placing pictures in worker processes: jobs in, annotations out in the same order; one bad picture never stops it.

The work goes through a `concurrent.futures.Executor`. A picture whose worker dies (a fault in a decoder, no memory)
is tried once more, in another; one that ends its worker again, or takes too long, is `unreadable`.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from annotate.records import Annotation, Clock, Known, NotFound, Taken
from service.web.words import best_seen, feature_name
from service.work.children import ChildDiedError, ChildLateError, ChildPool
from service.work.engine import Engine
from service.work.media import Media, derived_key, sha256_of

if TYPE_CHECKING:
    from service.config import Config
    from service.store.records import SentPicture, StoredAnnotation
    from service.store.storage import Storage

log = logging.getLogger(__name__)

BEST_SEEN_KEPT = 6
#: Jobs given out before the first of them is done, for each worker: one slow picture must not starve the others.
AHEAD = 8
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
        problems = _draw(engine, data, annotation, job)
    except Exception as error:  # the placement stands, whatever the drawing does
        log.exception("drawing %s", job.path.name)
        problems = (f"The pictures could not be made ({type(error).__name__}: {error}).",)
    return _settled(job, annotation, sha, problems)


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


def _draw(engine: Engine, data: bytes, annotation: Annotation, job: Job) -> tuple[str, ...]:
    from service.work.derive import derive_all, draw_pictures, is_drawn  # not needed where no picture is drawn

    if job.derived_folder is not None:
        return derive_all(engine, data, annotation, job.derived_folder)
    if job.labelled is None or job.upright is None or not is_drawn(annotation):
        return ()
    rgb = engine.decode_rgb(data)
    if isinstance(rgb, NotFound):
        return (rgb.reason,)
    return draw_pictures(engine, rgb, annotation, job.labelled, job.upright)


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
    return place_one(_loaded(load), job)


@cache
def _loaded(load: Loader) -> Engine:
    import cv2

    cv2.setNumThreads(1)
    return load()


def place_waiting(storage: Storage, media: Media, config: Config, load: Loader, version: str,
                  now: Callable[[], datetime]) -> Iterator[tuple[SentPicture, StoredAnnotation]]:
    """Place what this version of the engine has not seen; each is stored before it is yielded."""
    from service.store.records import StoredAnnotation

    pictures = storage.unplaced(version)
    keys = [derived_key(version, p.submission.arrival.known(config.zones)) for p in pictures]
    jobs = (_stored_job(p, key, media, config, now()) for p, key in zip(pictures, keys, strict=True))
    placed_all = place_all(jobs, load, min(config.workers, len(pictures)), config.limits.place_seconds)
    for picture, key, placed in zip(pictures, keys, placed_all, strict=True):
        for problem in placed.problems:
            log.warning("picture %d: %s", picture.id, problem)
        stored = StoredAnnotation(picture.id, placed.annotation, version, now(), key)
        names = [feature_name(m) for m in best_seen(placed.annotation, BEST_SEEN_KEPT)]
        storage.add_annotation(stored, names, placed.packed)
        yield picture, stored


def _stored_job(picture: SentPicture, key: str, media: Media, config: Config, now_utc: datetime) -> Job:
    sha = picture.enclosure.sha256
    assert sha is not None  # `unplaced` gives only kept originals
    known = replace(picture.submission.arrival.known(config.zones), now_utc=now_utc)
    return Job(media.root / "originals" / sha[:2] / sha, known,
               media.derived_folder(sha, key))
