"""A person's decision about a picture: the picture is placed again with it, then both are stored together, or neither.

    Change ... -> decisions that would stand -> what is known, Corrections -> child: Annotation, overlay -> one commit
                                                                                  labelled, upright: drawn after it

Whoever places pictures by the queue takes the same decisions along: `knowledge_of`, `annotate_corrected`, `media.derived_key`.
"""

from __future__ import annotations

import contextlib
import logging
import os
import shutil
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from moondesk.records import Annotation, Known, NotFound
from moondesk.sentences import sentence
from moondesk.service.errors import BadInputError, DeskError
from moondesk.service.jobs.checked_pictures import Picture
from moondesk.service.jobs.duplicate_search import sketch_row
from moondesk.service.jobs.engine import Engine
from moondesk.service.jobs.quality_on_the_way import measure_quality, quality_row
from moondesk.service.programme.words import names_kept
from moondesk.service.store import decisions
from moondesk.service.store.annotations import insert_annotation, keep_quality, read_annotation
from moondesk.service.store.decided import PLACING, DecidedChange, apply_decisions, corrections_of, standing_changes
from moondesk.service.store.forget import erase_leftovers
from moondesk.service.store.media import AT_FIRST, DERIVED, Media, derived_key, is_drawn, keep_files
from moondesk.service.store.pictures import read_picture
from moondesk.service.store.records import Arrival, SentPicture, StoredAnnotation
from moondesk.service.store.versions import keep_geometry

if TYPE_CHECKING:
    from moondesk.corrections import Corrections
    from moondesk.service.jobs.warm_pool import WarmPool
    from moondesk.service.store.storage import Storage

log = logging.getLogger(__name__)

#: Derived pictures that hold nothing of the placement, and so go with the next one as they are.
CARRIED = ("photo", "screen")


class UnusableError(DeskError):
    """Corrections with which nothing can be placed; nothing was changed."""

    http_status = 422


@dataclass(frozen=True)
class Desk:
    """What correcting works with. zones: see `Known`."""

    storage: Storage
    media: Media
    workshop: WarmPool
    zones: tuple[str, ...]


#: How a function of (Engine, ...) is run in a child: `WarmPool.run`.
Run = Callable[..., Any]


@dataclass(frozen=True, kw_only=True)
class _Job:
    """A picture to place anew. folder: of all its derived pictures; before: that of those of now, or None."""

    original: Path
    known: Known
    corrections: Corrections | None
    earlier: Annotation | None
    folder: Path
    before: Path | None


@dataclass(frozen=True)
class _Made:
    annotation: Annotation
    version: str
    key: str


# --- shared with whoever places by the queue -------------------------------------------------------------------------


def knowledge_of(arrival: Arrival, given_name: str, zones: tuple[str, ...], now: datetime) -> Known:
    """What the placing may take for granted; `arrival` as it stands after decisions."""
    return replace(arrival.known(zones), given_name=given_name, now_utc=now)


def annotate_corrected(
    engine: Engine, file: Any, known: Known, corrections: Corrections | None, earlier: Annotation | None = None
) -> Annotation:
    """A picture's annotation with what is set by hand; never refuses: what cannot be used any more is said.

    file: its bytes, or what `Engine.open` made of them.
    """
    found = _annotate(engine, file, known, corrections, earlier)
    if isinstance(found, NotFound):
        plain = engine.annotate(file, known)
        return replace(plain, sure=False, reasons=(sentence("hand_unusable"), *found.reasons), advices=found.advices)
    return found


def _annotate(
    engine: Engine, file: Any, known: Known, corrections: Corrections | None, earlier: Annotation | None
) -> Annotation | NotFound:
    if corrections is None:
        return engine.annotate(file, known)
    return engine.correct(file, known, corrections, earlier)


# --- for the desk ----------------------------------------------------------------------------------------------------


def correct(
    desk: Desk, picture_id: int, changes: tuple[DecidedChange, ...], who: str, seen: str, now: datetime
) -> None:
    """Note decisions about a picture and place it again with them. seen: the revision that the person looked at.

    Raises ChangedMeanwhileError, UnusableError, WarmPoolError, NotStoredError; nothing is changed then.
    """
    before = decisions.decisions_of(desk.storage, picture_id)
    would_stand = (*standing_changes(before), *changes)

    def write() -> None:
        decisions.insert_changes(desk.storage, picture_id, changes, who, now)

    _settle(desk, picture_id, would_stand, {c.kind for c in changes}, write, seen, now)


def undo(desk: Desk, picture_id: int, decision_id: int, who: str, seen: str, now: datetime) -> None:
    """Take a decision back and place the picture again without it. Raises as `correct` does."""
    found = decisions.decision(desk.storage, picture_id, decision_id)
    before = decisions.decisions_of(desk.storage, picture_id)
    would_stand = standing_changes(d for d in before if d.id != decision_id)

    def write() -> None:
        decisions.take_back(desk.storage, decision_id, who, now)

    _settle(desk, picture_id, would_stand, {found.kind}, write, seen, now)


def redraw(desk: Desk, picture: SentPicture, stored: StoredAnnotation) -> Future[str]:
    """Have a picture's derived pictures made, those that are not there, and its quality measured."""
    sha = str(picture.enclosure.sha256)
    folder = desk.media.derived_folder(sha, stored.derived_key)
    return desk.workshop.attend(draw_missing, desk.media.path(sha), stored.annotation, folder)


def _settle(
    desk: Desk,
    picture_id: int,
    would_stand: Iterable[DecidedChange],
    kinds: set[str],
    write: Callable[[], None],
    seen: str,
    now: datetime,
) -> None:
    decisions.check_revision(desk.storage, picture_id, seen)
    stored = read_annotation(desk.storage, picture_id)
    made: _Made | None = None
    picture = read_picture(desk.storage, picture_id)
    if stored is not None and picture.enclosure.sha256 and kinds.intersection(PLACING):
        made = _place_by_hand(desk, picture_id, tuple(would_stand), stored, now)
    try:
        with desk.storage.writing():
            read_picture(desk.storage, picture_id)  # its sender may have been forgotten meanwhile
            decisions.check_revision(desk.storage, picture_id, seen)
            write()
            if made is not None:
                stored = StoredAnnotation(
                    picture_id=picture_id,
                    annotation=made.annotation,
                    engine_version=made.version,
                    made_utc=now,
                    derived_key=made.key,
                )
                names = names_kept(made.annotation)
                insert_annotation(desk.storage, stored, names)
                keep_geometry(desk.storage, sketch_row(picture_id, b"", made.annotation))
    except DeskError:
        erase_leftovers(desk.storage, desk.media, picture)
        raise
    if made is not None and stored is not None:
        redraw(desk, picture, stored).add_done_callback(partial(_note, desk.media, picture, stored.derived_key))


def _place_by_hand(
    desk: Desk, picture_id: int, would_stand: tuple[DecidedChange, ...], stored: StoredAnnotation, now: datetime
) -> _Made:
    sent = read_picture(desk.storage, picture_id, as_sent=True)
    sha = str(sent.enclosure.sha256)
    known = knowledge_of(
        apply_decisions(sent.submission.arrival, would_stand), sent.enclosure.given_name, desk.zones, now
    )
    try:
        corrections = corrections_of(would_stand)
    except ValueError as error:
        raise UnusableError(f"This cannot be set: {error}.", "Correct it and try again.") from error
    before = desk.media.derived_folder(sha, stored.derived_key)
    job = _Job(
        original=desk.media.path(sha),
        known=known,
        corrections=corrections,
        earlier=stored.annotation,
        folder=before.parent,
        before=before,
    )
    found = place_corrected(desk.workshop.run, job)
    if isinstance(found, NotFound):
        raise UnusableError(found.reason, found.advice)
    return found


def _note(media: Media, picture: SentPicture, key: str, done: Future[str]) -> None:
    """In another thread, and so by a connection of its own."""
    from moondesk.service.store.storage import Storage

    try:
        with Storage(media.root) as storage:
            erase_leftovers(storage, media, picture)
            keep_quality(storage, picture.id, key, done.result())
    except Exception as error:  # the pictures are made when they are asked for; the ranking does without
        log.warning("a corrected picture was not drawn: %s", error)


def place_corrected(run: Run, job: _Job) -> _Made | NotFound:
    """Have a picture placed anew, with its overlay; its photograph goes along as it is."""
    found = run(place_anew, job.original.read_bytes(), job.known, job.corrections, job.earlier)
    if isinstance(found, NotFound):
        return found
    key = derived_key(found.version, job.known, job.corrections)
    folder = job.folder / key
    if found.overlay is not None:
        keep_files(folder, {"overlay": found.overlay})
    for role in CARRIED:
        if job.before is not None:
            _carry(job.before / DERIVED[role], folder / DERIVED[role])
    return _Made(found.annotation, found.version, key)


def draw_missing(run: Run, original: Path, annotation: Annotation, folder: Path, at_first: bool = False) -> str:
    """Have the derived pictures made that are not in the folder; what is measured, as the store keeps it.

    at_first: those alone that are made at first, and nothing is measured. Raises BadInputError where the original
    cannot be read.
    """
    wanted = tuple(role for role in (AT_FIRST if at_first else DERIVED) if not (folder / DERIVED[role]).exists())
    found = run(draw_from, original.read_bytes(), annotation, wanted, not at_first)
    for problem in found.problems:
        log.warning("%s", problem)
    keep_files(folder, found.files)
    return quality_row(found.quality)


def _carry(source: Path, target: Path) -> None:
    if target.exists() or not source.is_file():
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileExistsError):
        try:
            os.link(source, target)
        except FileExistsError:
            raise
        except OSError:  # a disk without links
            shutil.copyfile(source, target)


# --- in a child ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Anew:
    """A picture placed with what is set by hand."""

    annotation: Annotation
    version: str
    overlay: Picture | None


@dataclass(frozen=True)
class DrawnFrom:
    """Pictures by their role, what could not be made, and what was measured."""

    files: dict[str, Picture]
    problems: tuple[str, ...]
    quality: bytes


def place_anew(
    engine: Engine, data: bytes, known: Known, corrections: Corrections | None, earlier: Annotation | None
) -> Anew | NotFound:
    annotation = _annotate(engine, data, known, corrections, earlier)
    if isinstance(annotation, NotFound):
        return annotation
    overlay = Picture(engine.overlay_svg(annotation).encode()) if is_drawn(annotation) else None
    return Anew(annotation, engine.version, overlay)


def draw_from(engine: Engine, data: bytes, annotation: Annotation, wanted: tuple[str, ...], measure: bool) -> DrawnFrom:
    """Raises BadInputError where the picture cannot be opened."""
    from moondesk.service.jobs.derived_pictures import draw_roles

    rgb = engine.decode_rgb(data)
    if isinstance(rgb, NotFound):
        raise BadInputError(rgb.reason, rgb.advice)
    drawn = draw_roles(engine, rgb, annotation, wanted)
    return DrawnFrom(drawn.files, drawn.problems, measure_quality(engine.measure(rgb, annotation)) if measure else b"")
