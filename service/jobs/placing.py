"""Placing pictures in worker processes: jobs in, annotations out in the same order; one bad picture never stops it.

The work goes through a `concurrent.futures.Executor`: children of this process, or a cluster (see `executors`). Here for
files that are not stored: one that ends its worker twice, or takes too long, is `unreadable`. For the store: `waiting`.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from moondesk.records import Annotation, Clock, ClockVerdict, Known, NotFound, Status, TimeReadings
from moondesk.sentences import Sentence, sentence
from moondesk.service.jobs.checked_pictures import Picture
from moondesk.service.jobs.child_pool import ChildDiedError, ChildLateError, ChildPool, Run
from moondesk.service.jobs.engine import PRELOAD, Engine, Loader, WithEngine
from moondesk.service.jobs.executors import attend, call_here
from moondesk.service.jobs.quality_on_the_way import measure_quality, quality_row
from moondesk.service.store.media import AT_FIRST, DERIVED, is_drawn, sha256_of, write_whole

if TYPE_CHECKING:
    from moondesk.corrections import Corrections

log = logging.getLogger(__name__)

#: Jobs given out before the first of them is done, for each worker: one slow picture must not starve the others.
AHEAD = 8
#: Pictures that a job may ask for by name.
NAMED = ("labelled", "upright")


@dataclass(frozen=True, kw_only=True)
class PlacingJob:
    """One picture to place. Paths, not pixels: on a cluster they cross to another machine."""

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


@dataclass(frozen=True, kw_only=True)
class PlacedPicture:
    """What became of a job. problems: sentences about derived pictures that could not be made."""

    annotation: Annotation
    sha256: str
    problems: tuple[str, ...] = ()
    #: JSON without its line end, where the job asked for it.
    line: str = ""
    #: For `copies`, where it goes to the store; empty where the picture cannot be opened.
    sketch: bytes = b""
    #: What was measured of it, as the store keeps it.
    quality: str = ""
    #: Of the engine that the worker had.
    version: str = ""


def unreadable(reason: Sentence, *advices: Sentence) -> Annotation:
    """The annotation of a picture that gave nothing at all."""
    return Annotation(
        status=Status.UNREADABLE,
        sure=False,
        reasons=(reason,),
        advices=advices,
        width=0,
        height=0,
        taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
        time=None,
        clock=Clock(ClockVerdict.NO_CLOCK, None, None),
    )


@dataclass(frozen=True)
class Work:
    """What a child is to do with a picture's bytes. wanted: roles of the pictures that are to be drawn; kept: it goes
    to the store, which wants a sketch and measures of it."""

    known: Known
    corrections: Corrections | None
    wanted: tuple[str, ...]
    kept: bool


@dataclass(frozen=True, kw_only=True)
class Worked:
    """What a child made of them; see `PlacedPicture`."""

    annotation: Annotation
    version: str
    files: dict[str, Picture] = field(default_factory=dict)
    problems: tuple[str, ...] = ()
    sketch: bytes = b""
    quality: bytes = b""


def in_worker(run: Run, load: Loader, job: PlacingJob) -> PlacedPicture:
    """Place one picture: read here, worked on by `run`, its pictures written here. Never raises for what a file or the
    core may do; raises ChildDiedError, ChildLateError."""
    try:
        data = job.path.read_bytes()
    except OSError as error:
        return _settle(job, unreadable(sentence("file_denied", why=error.strerror), sentence("check_file")), "")
    wanted: tuple[str, ...] = AT_FIRST if job.derived_folder else NAMED if job.labelled and job.upright else ()
    worked = run(
        WithEngine(load, work_on), data, Work(job.known, job.corrections, wanted, job.derived_folder is not None)
    )
    sha = sha256_of(data)
    try:
        placed = _settle(job, worked.annotation, sha, (*worked.problems, *_write_pictures(job, worked.files)))
        quality = quality_row(worked.quality)
    except Exception as error:  # told of the picture: what is raised here is said of the place where the work is done
        log.exception("settling %s", job.path.name)
        placed, quality = PlacedPicture(annotation=_fault(error), sha256=""), ""
    return replace(placed, sketch=worked.sketch, quality=quality, version=worked.version)


def _write_pictures(job: PlacingJob, files: Mapping[str, bytes]) -> list[str]:
    """Writes the pictures that a child drew; sentences about those that cannot be."""
    named = {"labelled": job.labelled, "upright": job.upright}
    problems = []
    for role, data in files.items():
        target = job.derived_folder / DERIVED[role] if job.derived_folder else named[role]
        try:
            if target is not None:
                write_whole(target, data)
        except OSError as error:
            problems.append(f"The {role} picture could not be written ({error.strerror}).")
    return problems


def _settle(job: PlacingJob, annotation: Annotation, sha: str, problems: tuple[str, ...] = ()) -> PlacedPicture:
    if job.line_name is None:
        return PlacedPicture(annotation=annotation, sha256=sha, problems=problems)
    import json

    from moondesk.exports.json_line import json_line

    line = json.dumps(json_line(job.line_name, sha, annotation), ensure_ascii=False, allow_nan=False)
    return PlacedPicture(annotation=annotation, sha256=sha, problems=problems, line=line)


def _fault(error: Exception, *advices: Sentence) -> Annotation:
    return unreadable(sentence("tool_failed", why=f"{type(error).__name__}: {error}"), *advices)


# --- in a child ------------------------------------------------------------------------------------------------------


def work_on(engine: Engine, data: bytes, work: Work) -> Worked:
    """Never raises for what a file or the core may do."""
    try:
        file = engine.open(data)
        annotation = engine.annotate(file, work.known) if work.corrections is None else _correct(engine, file, work)
    except Exception as error:  # whatever the core does with a picture, the others go on
        log.exception("placing")
        return Worked(annotation=_fault(error, sentence("report_it")), version=engine.version)
    try:
        return _draw(engine, file, annotation, work)
    except Exception as error:  # the placement stands, whatever the drawing does
        log.exception("drawing")
        return Worked(
            annotation=annotation,
            version=engine.version,
            problems=(f"The pictures could not be made ({type(error).__name__}: {error}).",),
        )


def _correct(engine: Engine, file: Any, work: Work) -> Annotation:
    from moondesk.service.jobs.hand_corrections import annotate_corrected

    return annotate_corrected(engine, file, work.known, work.corrections)


def _draw(engine: Engine, file: Any, annotation: Annotation, work: Work) -> Worked:
    """The pictures that the work asks for; for the store the sketch and the measures too."""
    if not work.kept and not (work.wanted and is_drawn(annotation)):
        return Worked(annotation=annotation, version=engine.version)
    from moondesk.service.jobs.derived_pictures import draw_roles  # not needed where no picture is drawn
    from moondesk.service.jobs.duplicate_search import make_sketch

    rgb = engine.decode_rgb(file)
    if isinstance(rgb, NotFound):
        return Worked(annotation=annotation, version=engine.version, problems=(rgb.reason,))
    drawn = draw_roles(engine, rgb, annotation, work.wanted)
    if not work.kept:
        return Worked(annotation=annotation, version=engine.version, files=drawn.files, problems=drawn.problems)
    return Worked(
        annotation=annotation,
        version=engine.version,
        files=drawn.files,
        problems=drawn.problems,
        sketch=make_sketch(rgb),
        quality=measure_quality(engine.measure(rgb, annotation)),
    )


# --- many of them ----------------------------------------------------------------------------------------------------


def place_all(jobs: Iterable[PlacingJob], load: Loader, workers: int, seconds: int) -> Iterator[PlacedPicture]:
    """Place jobs in order. workers 0: in this process; seconds: what one picture may take in a worker."""
    if workers <= 0:
        for job in jobs:
            yield in_worker(call_here, load, job)
        return
    pool = ChildPool(workers, seconds, PRELOAD)
    try:
        yield from place_through(pool, jobs, load, AHEAD * workers)
    finally:
        pool.shutdown(cancel_futures=True)


def place_through(pool: Executor, jobs: Iterable[PlacingJob], load: Loader, ahead: int) -> Iterator[PlacedPicture]:
    """Place jobs in order by an executor that runs elsewhere; at most `ahead` are given out and not yet yielded."""
    source = iter(jobs)
    waiting: deque[tuple[PlacingJob, Future[PlacedPicture]]] = deque()
    while True:
        while len(waiting) < ahead and (fresh := next(source, None)) is not None:
            waiting.append((fresh, attend(pool, in_worker, load, fresh)))
        if not waiting:
            return
        job, future = waiting.popleft()
        yield _outcome(pool, load, job, future)


def _outcome(pool: Executor, load: Loader, job: PlacingJob, future: Future[PlacedPicture]) -> PlacedPicture:
    try:
        try:
            return future.result()
        except ChildLateError:
            raise
        except ChildDiedError:  # perhaps not by this picture: somebody may have ended the process
            return attend(pool, in_worker, load, job).result()
    except ChildLateError as error:
        why = sentence("placer_late", time=error)
    except ChildDiedError:
        why = sentence("placer_died")
    sha = sha256_of(job.path.read_bytes()) if job.path.is_file() else ""
    return _settle(job, unreadable(why, sentence("ask_again")), sha)
