"""Frames for air of a rundown's pictures: as they were chosen, made now if need be, and kept exactly as they were aired."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

from moondesk.drawing.frame import FrameRequest
from moondesk.records import NotFound
from moondesk.service.errors import NotStoredError
from moondesk.service.jobs.frame_files import WHOLE, MadeFrame, find_frame, make_frame
from moondesk.service.jobs.warm_pool import WarmPoolError
from moondesk.service.programme.credit import credit_words
from moondesk.service.programme.frame_request import FrameOptions, lines_of, request_of
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.programme.rundown import NOT_PLACED
from moondesk.service.store.aired import AsAired
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.frame_choices import frame_choice
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import Edition, ListedPicture, StoredAnnotation
from moondesk.service.store.rundown_items import RundownItem
from moondesk.service.store.rundowns import item_of, rundown
from moondesk.service.store.storage import Storage
from moondesk.service.store.tours import compared_with
from moondesk.service.studio import Studio
from moondesk.tour.views import View, request_for

#: The format in which the page on air shows them.
AIRED = "hd"


class LaterError(Exception):
    """No more frames are to be made in this request."""


def options_of(storage: Storage, item_id: int, shape: str) -> FrameOptions:
    """As it was chosen for a picture of the rundown."""
    choice = frame_choice(storage, item_id)
    return FrameOptions(shape, choice.view, choice.zoom, choice.features)


def frame_of(
    studio: Studio, item: RundownItem, listed: ListedPicture, asked: FrameOptions, view: View | None = None
) -> MadeFrame | NotFound:
    """The frame of a picture in a rundown, made now if need be; NotFound says why there is none. view: of its tour.

    Nothing is made of a picture that may not be shown.
    """
    found = wanted_of(studio, item, listed, asked, view)
    if isinstance(found, NotFound):
        return found
    stored, sha, wanted = found
    return make_frame(studio.media, studio.run, sha, stored.derived_key, stored.annotation, wanted)


def wanted_of(
    studio: Studio, item: RundownItem, listed: ListedPicture, asked: FrameOptions, view: View | None = None
) -> tuple[StoredAnnotation, str, FrameRequest] | NotFound:
    """How a picture is placed, its original's hash, and what is to be drawn of it; NotFound where it may not be shown."""
    stops = reasons_not_to_air(listed, studio.config.entry_terms)
    if stops:
        return NotFound("frame", stops[0], "See its entry in the rundown.")
    stored, sha = read_annotation(studio.storage, listed.picture.id), listed.picture.enclosure.sha256
    if stored is None or sha is None:
        return NotFound("frame", NOT_PLACED, "Look again in a moment.")
    credit, _, missing = credit_words(item, listed)
    wanted = request_of(
        stored.annotation,
        None if missing else credit,
        lines_of(stored.annotation, listed.picture.submission.arrival.equipment, studio.calendar),
        asked,
        studio.config.programme.place,
        studio.air_language,
        studio.config.air.names,
    )
    if isinstance(wanted, NotFound):
        return wanted
    wanted = replace(wanted, theme=studio.theme)
    found = wanted if view is None else request_for(view, stored.annotation, wanted)
    return found if isinstance(found, NotFound) else (stored, sha, found)


def layer_png(studio: Studio, edition: Edition, item_id: int, name: str, mark: str) -> bytes:
    """A layer of an item's frame of that mark, PNG. Raises NotStoredError for one that is not there, or not to be
    shown any more."""
    item = rundown(studio.storage, edition.id).item(item_id)
    if item is None and item_id in compared_with(studio.storage, edition.id):
        item = item_of(studio.storage, item_id)
    listed = list_by_id(studio.storage, [item.picture_id]) if item else ()
    if item and listed and not reasons_not_to_air(listed[0], studio.config.entry_terms):
        sha, summary = listed[0].picture.enclosure.sha256, listed[0].summary
        if sha and summary:
            frame = find_frame(studio.media, sha, summary.derived_key, mark)
            path = frame.file(f"{name}.png") if frame else None
            if path is not None and path.is_file():
                return path.read_bytes()
    raise NotStoredError("There is no such layer.", "Load the page on air again.")


def whole_frame(studio: Studio, picture_id: int, mark: str) -> Path | None:
    """The file of a picture's frame of that mark, all its layers in one; None where it is not there, or not to be shown
    any more."""
    listed = list_by_id(studio.storage, [picture_id])
    if not mark or not listed or reasons_not_to_air(listed[0], studio.config.entry_terms):
        return None
    sha, summary = listed[0].picture.enclosure.sha256, listed[0].summary
    frame = find_frame(studio.media, sha, summary.derived_key, mark) if sha and summary else None
    path = frame.folder / WHOLE if frame else None
    return path if path is not None and path.is_file() else None


def keep_as_aired(
    studio: Studio, items: Iterable[RundownItem], pictures: Mapping[int, ListedPicture]
) -> dict[int, AsAired]:
    """Each item's frame put into the media store, by item, so that what a later change of a name, a credit or the
    placing would alter stays as the audience saw it; those that were noted before are left alone. Where no frame can be
    made (it went on air unplaced) the credit alone is kept."""
    found = {}
    for item in items:
        if item.aired_utc is None:
            sha, listed = "", pictures[item.picture_id]
            with contextlib.suppress(WarmPoolError):  # that it was on air is noted in any case
                frame = frame_of(studio, item, listed, options_of(studio.storage, item.id, AIRED))
                if not isinstance(frame, NotFound):
                    sha = studio.media.put((frame.folder / WHOLE).read_bytes())
            found[item.id] = AsAired(credit_words(item, listed)[0], sha)
    return found
