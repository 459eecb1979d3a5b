"""Routes of the upload application: a view parses, makes one call, renders. Limits come before anything is read."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import datetime
from importlib.resources import files
from typing import Any

from flask import Blueprint, Response, current_app, g, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as AnyResponse

from service.arrivals.forms import SentFile, take_form
from service.arrivals.intake import Intake, open_edition
from service.config import Config
from service.errors import DeskError, NotStoredError, StorageError
from service.evenings import Calendar
from service.public.form import read_form, typed_of
from service.public.pages import PublicErrorPage, form_page, receipt_page
from service.public.settings import Public
from service.store.forget import erase_files
from service.store.marks import tell_backups
from service.store.receipts import receipt, withdraw
from service.store.records import Edition, Enclosure
from service.store.storage import Storage
from service.web.bodies import check_body
from service.web.tokens import VISITOR, Tokens, new_visitor
from service.web.visitors import RateLimit, client_address
from service.work.media import Media

upload = Blueprint("upload", __name__)

VISITOR_COOKIE = "moondesk_form"
#: The only files that are served as they lie in the package.
STATIC = {"desk.css": "text/css", "public.css": "text/css", "public.js": "text/javascript",
          "icon.svg": "image/svg+xml"}
STALE = "This page was open for too long, or your browser keeps no cookies. Nothing is lost: please press Send again."
#: Free space that is left to the programme's own work.
KEEP_FREE = 4


@dataclass(frozen=True)
class Application:
    """What the views work with."""

    config: Config
    public: Public
    calendar: Calendar
    tokens: Tokens
    now: Callable[[], datetime]
    forms: RateLimit
    looks: RateLimit


def app() -> Application:
    return current_app.extensions["moondesk.public"]  # type: ignore[no-any-return]


def storage() -> Storage:
    """This request's connection; closed when it ends."""
    if "storage" not in g:
        g.storage = Storage(app().config.data_dir)
    return g.storage  # type: ignore[no-any-return]


@upload.teardown_app_request
def close_storage(_: BaseException | None) -> None:
    opened = g.pop("storage", None)
    if opened is not None:
        opened.close()


# --- before anything is read --------------------------------------------------------------------------------------


@upload.before_app_request
def limit_first() -> Response | None:
    """The rate before all else: a flood must not even cost the reading of its forms."""
    here = app()
    address = client_address(request.remote_addr or "", request.headers.get("X-Forwarded-For", ""),
                             here.public.proxies)
    limit = here.forms if request.method == "POST" else here.looks
    wait = limit.wait_seconds(address)
    if not wait:
        return None
    minutes = -(-wait // 60)
    when = "in a minute" if minutes == 1 else f"in {minutes} minutes"
    answer = problem(429, "A moment, please", "Too much came from your connection in a short time.",
                     f"Please go back and try again {when}; what you typed should still be there.")
    answer.headers["Retry-After"] = str(wait)
    return answer


@upload.before_app_request
def size_then_token() -> Response | None:
    """A form that is too large is told by its stated length; then its token counts, before anything of it is used."""
    if request.method != "POST":
        return None
    here = app()
    check_body()
    if shutil.disk_usage(here.config.data_dir).free < KEEP_FREE * here.public.form_bytes:
        raise StorageError("There is no room for pictures just now.", "Please try again later; we have been told.")
    visitor = request.cookies.get(here.tokens.cookie(VISITOR_COOKIE), "")
    g.form_id = here.tokens.form_id(request.form.get("token", ""), visitor, here.now())
    if g.form_id is not None:
        return None
    if request.endpoint == "upload.send":
        return show_form(400, typed_of(request.form), notice=STALE)
    return problem(400, "Not done", STALE, "Go back, reload the page and try again.")


# --- pages --------------------------------------------------------------------------------------------------------


@upload.get("/")
def form() -> Response:
    return show_form(200)


@upload.post("/")
def send() -> AnyResponse:
    here = app()
    reading = read_form(request.form, g.form_id, here.config.programme.zone, here.now())
    sent = [f for f in request.files.getlist("pictures") if f.filename or f.stream.read(1)]
    complaints = dict(reading.complaints)
    if not sent:
        complaints["pictures"] = "Please choose at least one picture."
    elif len(sent) > here.public.pictures:
        complaints["pictures"] = f"Please send at most {here.public.pictures} pictures at a time."
    if complaints or reading.form is None:
        return show_form(422, reading.typed, complaints)
    opened = storage()
    intake = Intake(opened, Media(here.config.data_dir), edition(opened), here.config, here.now)
    taken = take_form(intake, reading.form, (SentFile(f.filename or "", f.stream) for f in sent),
                      here.tokens.receipt)
    if taken.outcome == "refused":
        return show_form(422, reading.typed, {"pictures": refusals(taken.enclosures)})
    address = url_for("upload.show_receipt", token=here.tokens.receipt(taken.key))
    if wants_json():
        return make_response({"go": address})
    return redirect(address, 303)


def edition(opened: Storage) -> Edition:
    """The edition that forms go to; of two that come first at once into a fresh store, one opens it."""
    here = app()
    try:
        return open_edition(opened, here.config, here.now(), here.calendar.day_of_plan)
    except StorageError:
        return open_edition(opened, here.config, here.now(), here.calendar.day_of_plan)


@upload.get("/receipt/<token>")
def show_receipt(token: str) -> Response:
    return receipt_answer(token)


@upload.post("/receipt/<token>/withdraw")
def take_back(token: str) -> AnyResponse:
    here = app()
    if receipt(storage(), token) is None:
        raise NotStoredError("There is no such receipt.", "Please check that the whole link was copied.")
    if not request.form.get("sure"):
        return receipt_answer(token, 422, "Please tick the box if you wish to take the pictures back.")
    withdraw(storage(), token, here.now())
    erase_files(storage(), Media(here.config.data_dir))
    tell_backups(storage())
    return redirect(url_for("upload.show_receipt", token=token), 303)


@upload.get("/static/<name>")
def static(name: str) -> Response:
    if name not in STATIC:
        raise NotStoredError("There is no page at this address.")
    data = files("service.web").joinpath("static", name).read_bytes()
    return Response(data, content_type=f"{STATIC[name]}; charset=utf-8", headers={"Cache-Control": "max-age=3600"})


# --- answers ------------------------------------------------------------------------------------------------------


def render(template: str, page: Any) -> str:
    """A template with its page record: every field is a name in it, nothing else is."""
    return render_template(template, **{f.name: getattr(page, f.name) for f in fields(page)})


def show_form(status: int, typed: Any = None, complaints: dict[str, str] | None = None, notice: str = "") -> Response:
    """The form with a fresh token; as JSON for the page's script, which keeps what was typed and chosen."""
    here = app()
    visitor, known = visitor_of_request()
    token = here.tokens.issue(visitor, here.now())
    if wants_json():
        answer = make_response({"token": token, "notice": notice, "complaints": complaints or {}}, status)
    else:
        page = form_page(here.config, here.public, token, typed, complaints, notice)
        answer = make_response(render("public_form.html", page), status)
    return with_cookie(answer, visitor, known)


def receipt_answer(token: str, status: int = 200, notice: str = "") -> Response:
    here = app()
    found = receipt(storage(), token)
    if found is None:
        raise NotStoredError("There is no such receipt.", "Please check that the whole link was copied.")
    visitor, known = visitor_of_request()
    # A request can name any host: without an address of its own the page leaves the link to the browser.
    link = here.public.address and here.public.address + url_for("upload.show_receipt", token=token)
    page = receipt_page(here.config, link, here.tokens.issue(visitor, here.now()), found, notice)
    answer = with_cookie(make_response(render("public_receipt.html", page), status), visitor, known)
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer


def visitor_of_request() -> tuple[str, bool]:
    visitor = request.cookies.get(app().tokens.cookie(VISITOR_COOKIE), "")
    return (visitor, True) if VISITOR.fullmatch(visitor) else (new_visitor(), False)


def with_cookie(answer: Response, visitor: str, known: bool) -> Response:
    """The one cookie: without a name, for this page's own forms, gone when the browser is closed."""
    if not known:
        answer.set_cookie(app().tokens.cookie(VISITOR_COOKIE), visitor, httponly=True, samesite="Strict", path="/",
                          secure=app().public.address.startswith("https:"))
    return answer


def wants_json() -> bool:
    return request.headers.get("Accept", "").split(",")[0].strip() == "application/json"


def refusals(enclosures: tuple[Enclosure, ...]) -> str:
    return " ".join(f"{e.given_name}: {e.refused}" for e in enclosures if e.refused)


def problem(status: int, title: str, sentence: str, advice: str) -> Response:
    """A page, or a sentence for the script, about what did not work."""
    if wants_json():
        return make_response({"notice": f"{sentence} {advice}".strip(), "complaints": {}}, status)
    return make_response(render("public_error.html", PublicErrorPage(app().config.programme, status, title, sentence,
                                                                     advice)), status)


@upload.app_errorhandler(DeskError)
def expected_error(error: DeskError) -> Response:
    if error.http_status >= 500:
        current_app.logger.error("upload page: %s", error)
        return problem(error.http_status, "Not just now", "We cannot take anything at the moment.",
                       "Please try again in a few minutes; go back, and what you typed should still be there.")
    return problem(error.http_status, "Not here" if error.http_status == 404 else "That did not work", str(error),
                   error.advice)


@upload.app_errorhandler(HTTPException)
def http_error(error: HTTPException) -> Response:
    code = error.code or 500
    if code == 413:
        most = app().public.form_bytes // 1_000_000
        answer = problem(413, "Too large", f"That is more than we can take at once ({most} MB together).",
                         "Please go back and send fewer pictures at a time; what you typed should still be there.")
    elif code == 404:
        answer = problem(404, "Not here", "There is no page at this address.", "")
    elif code >= 500:
        answer = problem(code, "Something broke", "This page failed, and it is our fault.",
                         "Please try again in a few minutes.")
    else:
        answer = problem(code, "That did not work", "Such a request is not answered here.",
                         "Please go back and try again.")
    if allowed := getattr(error, "valid_methods", None):
        answer.headers["Allow"] = ", ".join(sorted(allowed))
    return answer
