"""Placing pictures in worker processes: jobs in, annotations out in the same order; one bad picture never stops it.

The work goes through a `concurrent.futures.Executor`: children of this process, or a cluster (see `pools`). Here for
files that are not stored: one that ends its worker twice, or takes too long, is `unreadable`. For the store: `waiting`.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Executor, Future
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from annotate.records import Annotation, Clock, Known, NotFound, Taken
from service.work.children import ChildDiedError, ChildLateError, ChildPool
from service.work.engine import PRELOAD, Engine, Loader
from service.work.media import is_drawn, sha256_of

if TYPE_CHECKING:
    from annotate.byhand import Corrections

log = logging.getLogger(__name__)

#: Jobs given out before the first of them is done, for each worker: one slow picture must not starve the others.
AHEAD = 8


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
    #: What a person has set by hand in it.
    corrections: Corrections | None = None


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
    #: What was measured of it, as the store keeps it.
    quality: str = ""
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
        annotation = engine.annotate(data, job.known) if job.corrections is None else _corrected(engine, data, job)
    except Exception as error:  # whatever the core does with a picture, the others go on
        log.exception("placing %s", job.path.name)
        return _settled(job, unreadable(f"The tool failed on this picture ({type(error).__name__}: {error}).",
                                        "Please report it with the picture; the original is kept."), sha)
    try:
        drawn = _draw(engine, data, annotation, job)
    except Exception as error:  # the placement stands, whatever the drawing does
        log.exception("drawing %s", job.path.name)
        drawn = _Drawn((f"The pictures could not be made ({type(error).__name__}: {error}).",))
    return replace(_settled(job, annotation, sha, drawn.problems), sketch=drawn.sketch, quality=drawn.quality)


@dataclass(frozen=True)
class _Drawn:
    """What became of a picture's pixels; see `Placed`."""

    problems: tuple[str, ...] = ()
    sketch: bytes = b""
    quality: str = ""


def _corrected(engine: Engine, data: bytes, job: Job) -> Annotation:
    from service.work.correcting import annotate_corrected

    return annotate_corrected(engine, data, job.known, job.corrections)


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


def _draw(engine: Engine, data: bytes, annotation: Annotation, job: Job) -> _Drawn:
    """The pictures that the job asks for; for the store the sketch and the measures too."""
    from service.work.derive import derive_all, draw_pictures  # not needed where no picture is drawn

    named = (job.labelled, job.upright) if job.labelled and job.upright and is_drawn(annotation) else None
    if job.derived_folder is None and named is None:
        return _Drawn()
    rgb = engine.decode_rgb(data)
    if isinstance(rgb, NotFound):
        return _Drawn((rgb.reason,))
    if job.derived_folder is None:
        return _Drawn(draw_pictures(engine, rgb, annotation, *named)) if named else _Drawn()
    from service.store.measured import quality_text
    from service.work.copies import sketched

    problems = derive_all(engine, rgb, annotation, job.derived_folder, at_first=True)
    return _Drawn(problems, sketched(rgb), quality_text(engine.measure(rgb, annotation)))


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
            waiting.append((fresh, pool.submit(in_worker, load, fresh)))
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
            return pool.submit(in_worker, load, job).result()
    except ChildLateError as error:
        why = f"took {error}"
    except ChildDiedError:
        why = "made the program that opens it stop"
    sha = sha256_of(job.path.read_bytes()) if job.path.is_file() else ""
    return _settled(job, unreadable(f"The picture {why}.",
                                    "Please ask for it again as JPEG or PNG; the original is kept."), sha)


def in_worker(load: Loader, job: Job) -> Placed:
    """`place_one` in a worker, by the engine that it has loaded."""
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
