"""The desk's routes: a view parses, asks the store, renders. What belongs to one picture is in `picture`."""

from __future__ import annotations

from dataclasses import fields
from importlib.resources import files
from typing import Any

from flask import Blueprint, Response, current_app, g, render_template
from werkzeug.exceptions import HTTPException

from moondesk.service.errors import DeskError, StorageError
from moondesk.service.programme.evenings import Calendar, load_calendar
from moondesk.service.settings.at_desk import with_settings
from moondesk.service.settings.config import Config
from moondesk.service.store.settings import settings
from moondesk.service.store.storage import Storage
from moondesk.service.web.bodies import is_disk_full
from moondesk.service.web.desk.pages import ErrorPage

desk = Blueprint("desk", __name__)

#: What the store can hold as a number; anything larger is no address.
PICTURE_ID = "<int(max=9007199254740991):picture_id>"
FONT = "DejaVuSansCondensed-Bold.ttf"


def config() -> Config:
    """The settings as they stand for this request: what was set at the desk counts at once."""
    told: Config = current_app.extensions["moondesk.config"]
    if "config" not in g:
        try:
            g.config = with_settings(told, settings(storage()))
        except StorageError:
            return told  # for the page that tells it
    return g.config  # type: ignore[no-any-return]


def calendar() -> Calendar:
    if "calendar" not in g:
        g.calendar = load_calendar(config())
    return g.calendar  # type: ignore[no-any-return]


def storage() -> Storage:
    """This request's connection; closed when it ends."""
    if "storage" not in g:
        g.storage = Storage(current_app.extensions["moondesk.config"].data_dir)
    return g.storage  # type: ignore[no-any-return]


@desk.teardown_app_request
def close_storage(_: BaseException | None) -> None:
    opened = g.pop("storage", None)
    if opened is not None:
        opened.close()


def render(template: str, page: Any) -> str:
    """A template with its page record: every field is a name in it, nothing else is."""
    return render_template(template, **{f.name: getattr(page, f.name) for f in fields(page)})


@desk.get("/font/" + FONT)
def font() -> Response:
    """The face in which the labels were measured."""
    with files("moondesk").joinpath("data", FONT).open("rb") as file:
        return Response(file.read(), mimetype="font/ttf", headers={"Cache-Control": "private, max-age=86400"})


@desk.app_errorhandler(DeskError)
def expected_error(error: DeskError) -> tuple[str, int]:
    title = "Not here" if error.http_status == 404 else "That did not work"
    return render(
        "error.html",
        ErrorPage(
            programme=config().programme, code=error.http_status, title=title, sentence=str(error), advice=error.advice
        ),
    ), error.http_status


@desk.app_errorhandler(OSError)
def system_error(error: OSError) -> tuple[str, int]:
    if is_disk_full(error):
        return expected_error(StorageError("The disk is full.", "Make room on it; what can be read goes on meanwhile."))
    raise error


@desk.app_errorhandler(HTTPException)
def http_error(error: HTTPException) -> tuple[str, int]:
    code = error.code or 500
    if code == 404:
        title, sentence = "Not here", "There is no page at this address."
    elif code >= 500:
        title, sentence = "Something broke", "The desk failed on this page; the pictures are safe in the store."
    else:
        title, sentence = "That did not work", "The desk does not answer such a request."
    return render(
        "error.html",
        ErrorPage(
            programme=config().programme,
            code=code,
            title=title,
            sentence=sentence,
            advice="Go back to the list and try again.",
        ),
    ), code
