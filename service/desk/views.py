"""The desk's routes: a view parses, asks the store, renders. Only derived pictures leave through it, no original."""

from __future__ import annotations

from dataclasses import fields
from importlib.resources import files
from typing import Any

from flask import Blueprint, Response, current_app, g, render_template, request, send_file
from werkzeug.exceptions import HTTPException

from service.config import Config
from service.desk.layers import OverlayMarkup, overlay_markup
from service.desk.pages import PER_PAGE, ErrorPage, list_page, picture_page
from service.errors import DeskError, NotStoredError
from service.evenings import Calendar
from service.store.records import Counts
from service.store.storage import Storage
from service.work.media import Media

desk = Blueprint("desk", __name__)

#: Derived pictures that a page or a person may ask for.
SHOWN = ("photo", "thumbnail", "labelled", "upright")
#: What the store can hold as a number; anything larger is no address.
PICTURE_ID = "<int(max=9007199254740991):picture_id>"
FONT = "DejaVuSansCondensed-Bold.ttf"


def config() -> Config:
    return current_app.extensions["moondesk.config"]  # type: ignore[no-any-return]


def calendar() -> Calendar:
    return current_app.extensions["moondesk.calendar"]  # type: ignore[no-any-return]


def storage() -> Storage:
    """This request's connection; closed when it ends."""
    if "storage" not in g:
        g.storage = Storage(config().data_dir)
    return g.storage  # type: ignore[no-any-return]


@desk.teardown_app_request
def close_storage(_: BaseException | None) -> None:
    opened = g.pop("storage", None)
    if opened is not None:
        opened.close()


def render(template: str, page: Any) -> str:
    """A template with its page record: every field is a name in it, nothing else is."""
    return render_template(template, **{f.name: getattr(page, f.name) for f in fields(page)})


@desk.get("/")
def index() -> str:
    editions = storage().editions()
    number = _whole(request.args.get("edition"))
    edition = storage().edition(number) if number is not None else editions[0] if editions else None
    counts = storage().counts(edition.id) if edition else Counts()
    page = min(max(_whole(request.args.get("page")) or 1, 1), max(1, -(-counts.total // PER_PAGE)))
    pictures = storage().pictures(edition.id, PER_PAGE, (page - 1) * PER_PAGE) if edition else ()
    return render("list.html", list_page(config(), calendar(), edition, editions, counts, pictures, page))


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
    stored = storage().annotation(picture_id)
    path = None
    if role in SHOWN and stored and found.enclosure.sha256:
        path = Media(config().data_dir).derived(found.enclosure.sha256, stored.derived_key, role)
    if path is None:
        raise NotStoredError("There is no such version of this picture.", "Go back to its page.")
    response = send_file(path, conditional=True, max_age=3600)
    response.headers["Cache-Control"] = "private, max-age=3600"
    return response


@desk.get("/font/" + FONT)
def font() -> Response:
    """The face in which the labels were measured."""
    with files("annotate").joinpath("data", FONT).open("rb") as file:
        return Response(file.read(), mimetype="font/ttf", headers={"Cache-Control": "private, max-age=86400"})


@desk.app_errorhandler(DeskError)
def expected_error(error: DeskError) -> tuple[str, int]:
    title = "Not here" if error.http_status == 404 else "That did not work"
    return render("error.html", ErrorPage(config().programme, error.http_status, title, str(error),
                                          error.advice)), error.http_status


@desk.app_errorhandler(HTTPException)
def http_error(error: HTTPException) -> tuple[str, int]:
    code = error.code or 500
    if code == 404:
        title, sentence = "Not here", "There is no page at this address."
    elif code >= 500:
        title, sentence = "Something broke", "The desk failed on this page; the pictures are safe in the store."
    else:
        title, sentence = "That did not work", "The desk does not answer such a request."
    return render("error.html", ErrorPage(config().programme, code, title, sentence,
                                          "Go back to the list and try again.")), code


def _whole(text: str | None) -> int | None:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 10 else None


