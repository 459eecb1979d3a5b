"""A derived picture that is not there is drawn when it is asked for, from the original and what is stored of it.

After a backup was restored none is there, because a backup holds what cannot be made again; and whoever deletes a
folder below derived/ loses nothing but the time of drawing it. The placing stands: nothing is placed anew for it.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import BoundedSemaphore, Lock
from typing import TYPE_CHECKING, Any

from moondesk.records import Annotation
from moondesk.service.errors import DeskError, NotStoredError
from moondesk.service.jobs.hand_corrections import draw_missing
from moondesk.service.store.annotations import read_annotation, read_derived_key
from moondesk.service.store.media import Media, roles_of
from moondesk.service.store.pictures import read_picture

if TYPE_CHECKING:
    from moondesk.service.store.storage import Storage

#: How a function of the core is run in a child, see `frame_files.Run`.
Run = Callable[..., Any]

#: Four fifths of the work, and few are ever looked at: drawn only when they are asked for.
LATER = ("labelled", "upright")
#: Requests that may wait for a drawing at a time: the desk has threads for half as many more, and air comes first.
WAITING = 3
#: So that what two ask for at once is drawn once.
_LOCKS = [Lock() for _ in range(64)]
_PLACES = BoundedSemaphore(WAITING)


class BeingDrawnError(DeskError):
    """The picture is not there yet; who asks again in a moment gets it."""

    http_status = 503


def at_hand(media: Media, run: Run, sha256: str, key: str, annotation: Annotation, role: str = "photo") -> Path | None:
    """Where a derived picture lies, drawn now if it is not there; None where there is none of that role.

    run: draws it in a child. Raises NotStoredError where the original is gone too, BadInputError where it cannot be
    opened, WarmPoolError.
    """
    path = media.derived(sha256, key, role)
    if path is not None:
        return path
    folder = media.derived_folder(sha256, key)
    with _LOCKS[hash(folder) % len(_LOCKS)]:
        photo = media.derived(sha256, key, "photo")
        if role not in (*roles_of(annotation), "screen") or (role == "screen" and photo):  # a small one has none
            return None
        if media.derived(sha256, key, role) is None:
            draw_missing(run, media.path(sha256), annotation, folder, role not in LATER)
    drop_if_forgotten(media, sha256, key)
    return media.derived(sha256, key, role)


def drop_if_forgotten(media: Media, sha256: str, key: str) -> None:
    """After something was drawn of a picture: where its sender was forgotten meanwhile, what was derived of it was gone,
    and goes again. Raises NotStoredError then."""
    try:
        media.path(sha256)
    except NotStoredError:
        shutil.rmtree(media.derived_folder(sha256, key).parent, ignore_errors=True)
        raise


def redraw_missing(storage: Storage, media: Media, run: Run, picture_id: int, role: str = "photo") -> Path | None:
    """`at_hand` by the picture's number; the annotation is unpacked only where something is to be drawn."""
    sha, key = read_picture(storage, picture_id).enclosure.sha256, read_derived_key(storage, picture_id)
    path = media.derived(sha, key, role) if sha and key else None
    stored = read_annotation(storage, picture_id) if sha and path is None else None
    return at_hand(media, run, sha, stored.derived_key, stored.annotation, role) if sha and stored else path


@contextmanager
def place_in_line() -> Iterator[None]:
    """For a request that may have to wait for a drawing. Raises BeingDrawnError where enough of them wait already."""
    if not _PLACES.acquire(blocking=False):
        raise BeingDrawnError("This picture is being drawn.", "Look again in a moment.")
    try:
        yield
    finally:
        _PLACES.release()
