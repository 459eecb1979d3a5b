"""One picture's page and its files. Only derived pictures leave through it, no original."""

from __future__ import annotations

from flask import Response, send_file

from service.desk.layers import OverlayMarkup, overlay_markup
from service.desk.picture_page import picture_page
from service.desk.views import PICTURE_ID, calendar, config, desk, render, storage
from service.errors import NotStoredError
from service.work.media import Media

#: Derived pictures that a page or a person may ask for.
SHOWN = ("photo", "thumbnail", "labelled", "upright")


@desk.get(f"/pictures/{PICTURE_ID}")
def picture(picture_id: int) -> str:
    found = storage().picture(picture_id)
    stored = storage().annotation(picture_id)
    media = Media(config().data_dir)
    available: tuple[str, ...] = ()
    overlay: OverlayMarkup | None = None
    sha = found.enclosure.sha256
    if stored and sha:
        available = tuple(role for role in SHOWN if media.derived(sha, stored.derived_key, role))
        drawn = media.derived(sha, stored.derived_key, "overlay")
        overlay = overlay_markup(drawn.read_text(encoding="utf-8")) if drawn and "photo" in available else None
    edition = next(e for e in storage().editions() if e.id == found.submission.edition_id)
    page = picture_page(config(), calendar(), edition.plan.number, found, stored, overlay, available,
                        storage().neighbours(picture_id))
    return render("picture.html", page)


@desk.get(f"/pictures/{PICTURE_ID}/<role>")
def derived(picture_id: int, role: str) -> Response:
    role = role.partition(".")[0]
    found = storage().picture(picture_id)
    key = storage().derived_key(picture_id)
    path = None
    if role in SHOWN and key and found.enclosure.sha256:
        path = Media(config().data_dir).derived(found.enclosure.sha256, key, role)
    if path is None:
        raise NotStoredError("There is no such version of this picture.", "Go back to its page.")
    response = send_file(path, conditional=True, max_age=3600)
    response.headers["Cache-Control"] = "private, max-age=3600"
    return response
