"""What pages and programs are given that is made when they ask: pictures derived from what was sent, a mail's text.

The application's warm children do the work; `studio` is what the programme's frames and notes are made with.
"""

from __future__ import annotations

from contextlib import suppress

from flask import Response, current_app, send_file

from moondesk.service.errors import NotStoredError, StorageError
from moondesk.service.intake.reading import shared_reader
from moondesk.service.jobs.engine import load_engine
from moondesk.service.jobs.missing_pictures import at_hand, place_in_line
from moondesk.service.jobs.warm_pool import WarmPool
from moondesk.service.store import letters
from moondesk.service.store.annotations import read_annotation, read_derived_key
from moondesk.service.store.media import SHOWN, Media, roles_of
from moondesk.service.store.pictures import read_picture
from moondesk.service.store.records import LetterPart, StoredAnnotation
from moondesk.service.studio import Studio
from moondesk.service.web.current import config, storage

#: What a page may keep of them: the key in the address changes with the placement.
KEPT_SECONDS = 3600


def workshop() -> WarmPool:
    """The application's warm children, made at the first use."""
    extensions = current_app.extensions
    if "moondesk.workshop" not in extensions:
        extensions.setdefault("moondesk.workshop", WarmPool(load_engine, config().limits.place_seconds))
    return extensions["moondesk.workshop"]  # type: ignore[no-any-return]


def studio() -> Studio:
    return Studio(storage(), config(), workshop().run)


def derived_picture(picture_id: int, role: str) -> Response:
    """A picture made of what was sent, drawn now where it is not there yet. Raises NotStoredError."""
    found = read_picture(storage(), picture_id)
    key, sha = read_derived_key(storage(), picture_id), found.enclosure.sha256
    path = None
    if role in SHOWN and key and sha:
        media = Media(config().data_dir)
        path = media.derived(sha, key, role)
        stored = read_annotation(storage(), picture_id) if path is None else None
        if stored is not None:
            with place_in_line():
                path = at_hand(media, workshop().run, sha, stored.derived_key, stored.annotation, role)
    if path is None:
        raise NotStoredError("There is no such version of this picture.", "Go back to its page.")
    response = send_file(path, conditional=True, max_age=KEPT_SECONDS)
    response.headers["Cache-Control"] = f"private, max-age={KEPT_SECONDS}"
    return response


def roles_at_hand(media: Media, sha256: str, stored: StoredAnnotation) -> tuple[str, ...]:
    """Derived pictures that are there, or are drawn when they are asked for."""
    made = {role for role in SHOWN if media.derived(sha256, stored.derived_key, role)}
    if made or media.has(sha256):
        made.update(roles_of(stored.annotation))
    return tuple(role for role in SHOWN if role in made)


def letter_text(submission_id: int) -> tuple[LetterPart, ...] | None:
    """A mail's text; one that an older release did not keep is read from the whole mail. None: neither is there."""
    parts = letters.text_of(storage(), submission_id)
    sha = letters.mail_of(storage(), submission_id) if parts is None else None
    if sha is None:
        return parts
    try:
        raw = Media(config().data_dir).path(sha).read_bytes()
    except (NotStoredError, OSError):
        return None
    parts = shared_reader().text(raw, config().limits)
    if parts is not None:
        with suppress(StorageError):  # it can be shown though the disk is full
            letters.keep_text(storage(), submission_id, parts)
    return parts
