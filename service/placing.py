"""Placing pictures in worker processes: jobs in, annotations out in the same order; one bad picture never stops it.

A picture whose worker dies (a fault in a decoder, no memory left, time used up) breaks the whole pool, and the pool
does not say which one it was: those under way are then placed one by one, each in a process of its own, and the one
that kills its process again is `unreadable`.
"""

from __future__ import annotations

import hashlib
import logging
import multiprocessing
import os
import signal
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path

from annotate.records import Annotation, Clock, Known, NotFound, Taken
from service.config import Config
from service.derive import derive_all, draw_pictures, is_drawn
from service.engine import Engine
from service.media import Media, derived_key, sha256_of
from service.records import SentPicture, StoredAnnotation
from service.storage import Storage
from service.words import best_seen, feature_name

log = logging.getLogger(__name__)

BEST_SEEN_KEPT = 6

#: Each worker has one core; threads of its libraries would only fight over it. Set before those libraries load.
ENVIRONMENT = {
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "OPENCV_IO_MAX_IMAGE_PIXELS": "150000000",
}

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


@dataclass(frozen=True)
class Placed:
    """What became of a job. problems: sentences about derived pictures that could not be made."""

    annotation: Annotation
    sha256: str
    problems: tuple[str, ...] = ()


def unreadable(reason: str, advice: str) -> Annotation:
    """The annotation of a picture that gave nothing at all."""
    return Annotation("unreadable", False, reason, advice, 0, 0, Taken((), None, None), None,
                      Clock("no_clock", None, None))


def place_one(engine: Engine, job: Job) -> Placed:
    """Place one picture in this process. Never raises for what a file or the core may do."""
    try:
        data = job.path.read_bytes()
    except OSError as error:
        return Placed(unreadable(f"The file cannot be read: {error.strerror}.", "Check its name and permissions."), "")
    sha = sha256_of(data)
    try:
        annotation = engine.annotate(data, job.known)
    except Exception as error:  # whatever the core does with a picture, the others go on
        log.exception("placing %s", job.path.name)
        return Placed(unreadable(f"The tool failed on this picture ({type(error).__name__}: {error}).",
                                 "Please report it with the picture; the original is kept."), sha)
    try:
        problems = _draw(engine, data, annotation, job)
    except Exception as error:  # the placement stands, whatever the drawing does
        log.exception("drawing %s", job.path.name)
        problems = (f"The pictures could not be made ({type(error).__name__}: {error}).",)
    return Placed(annotation, sha, problems)


def _draw(engine: Engine, data: bytes, annotation: Annotation, job: Job) -> tuple[str, ...]:
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
    for name, value in ENVIRONMENT.items():
        os.environ.setdefault(name, value)
    source = iter(jobs)
    pool: ProcessPoolExecutor | None = None
    waiting: deque[tuple[Job, Future[Placed] | None]] = deque()
    try:
        while True:
            suspects = any(future is None for _, future in waiting)
            while not suspects and len(waiting) < 2 * workers and (fresh := next(source, None)) is not None:
                pool = pool or _pool(workers)
                waiting.append((fresh, _submit(pool, load, fresh, seconds)))
            if not waiting:
                return
            job, future = waiting.popleft()
            try:
                placed = future.result() if future else _place_alone(load, job, seconds)
            except BrokenProcessPool:
                if pool:
                    pool.shutdown(wait=True, cancel_futures=True)
                pool = None
                # those that were done before the break keep their results; the others are suspects like this one
                waiting = deque((j, f if f is not None and _succeeded(f) else None) for j, f in waiting)
                placed = _place_alone(load, job, seconds)
            yield placed
    finally:
        if pool:
            pool.shutdown(wait=True, cancel_futures=True)


def _pool(workers: int) -> ProcessPoolExecutor:
    # spawned, not forked: the parent may have threads, and a forked child would inherit its locks
    return ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn"))


def _submit(pool: ProcessPoolExecutor, load: Loader, job: Job, seconds: int) -> Future[Placed] | None:
    try:
        return pool.submit(_in_worker, load, job, seconds)
    except BrokenProcessPool:
        return None


def _succeeded(future: Future[Placed]) -> bool:
    return future.done() and not future.cancelled() and future.exception() is None


def _place_alone(load: Loader, job: Job, seconds: int) -> Placed:
    began = time.monotonic()
    with _pool(1) as pool:
        try:
            return pool.submit(_in_worker, load, job, seconds).result()
        except BrokenProcessPool:
            slow = time.monotonic() - began >= seconds
    why = f"took longer than {seconds} s" if slow else "made the program that opens it stop"
    sha = hashlib.sha256(job.path.read_bytes()).hexdigest() if job.path.is_file() else ""
    return Placed(unreadable(f"The picture {why}.", "Please ask for it again as JPEG or PNG; the original is kept."),
                  sha)


def _in_worker(load: Loader, job: Job, seconds: int) -> Placed:
    engine = _loaded(load)
    if hasattr(signal, "alarm"):  # nothing in Python stops a decoder that hangs; the default action of SIGALRM does
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(seconds)
    try:
        return place_one(engine, job)
    finally:
        if hasattr(signal, "alarm"):
            signal.alarm(0)


@cache
def _loaded(load: Loader) -> Engine:
    import cv2

    cv2.setNumThreads(1)
    return load()


def place_waiting(storage: Storage, media: Media, config: Config, load: Loader, version: str,
                  now: Callable[[], datetime]) -> Iterator[tuple[SentPicture, StoredAnnotation]]:
    """Place what this version of the engine has not seen; each is stored before it is yielded."""
    pictures = storage.unplaced(version)
    keys = [derived_key(version, p.submission.arrival.known(config.zones)) for p in pictures]
    jobs = (_stored_job(p, key, media, config, now()) for p, key in zip(pictures, keys, strict=True))
    placed_all = place_all(jobs, load, min(config.workers, len(pictures)), config.limits.place_seconds)
    for picture, key, placed in zip(pictures, keys, placed_all, strict=True):
        for problem in placed.problems:
            log.warning("picture %d: %s", picture.id, problem)
        stored = StoredAnnotation(picture.id, placed.annotation, version, now(), key)
        names = [feature_name(m) for m in best_seen(placed.annotation, BEST_SEEN_KEPT)]
        storage.add_annotation(stored, names)
        yield picture, stored


def _stored_job(picture: SentPicture, key: str, media: Media, config: Config, now_utc: datetime) -> Job:
    sha = picture.enclosure.sha256
    assert sha is not None  # `unplaced` gives only kept originals
    known = replace(picture.submission.arrival.known(config.zones), now_utc=now_utc)
    return Job(media.root / "originals" / sha[:2] / sha, known,
               media.derived_folder(sha, key))
