"""Routes of the upload application: a view parses, makes one call, renders. Limits come before anything is read."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import files
from typing import Any

from flask import Blueprint, Response, current_app, g, make_response, redirect, request, url_for
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge
from werkzeug.wrappers import Response as AnyResponse

from moondesk.notes.messages import Message, say, say_many
from moondesk.service.errors import BadInputError, DeskError, NotStoredError, StorageError
from moondesk.service.intake.forms import SentFile, take_form
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.evenings import Calendar
from moondesk.service.settings.config import Config
from moondesk.service.settings.public import Public
from moondesk.service.store import receipt_mails
from moondesk.service.store.erased_marks import tell_backups
from moondesk.service.store.forget import erase_files
from moondesk.service.store.media import Media
from moondesk.service.store.receipts import receipt, withdraw
from moondesk.service.store.records import Edition, Enclosure
from moondesk.service.store.storage import Storage
from moondesk.service.web.arriving import VERDICT, Verdict
from moondesk.service.web.bodies import TEXT_BYTES, is_disk_full
from moondesk.service.web.current import given_token, show, storage, wants_json
from moondesk.service.web.problems import ErrorPage
from moondesk.service.web.public.form import form_values_of, read_form
from moondesk.service.web.public.pages import form_page, receipt_page
from moondesk.service.web.public.rate_limits import Charge, TurnedAway, VisitorLimits
from moondesk.service.web.public.receipt_sender import ReceiptSender
from moondesk.service.web.public.tongue import FIELD, tongue
from moondesk.service.web.tokens import VISITOR, Tokens, new_visitor
from moondesk.service.web.visitors import Proxies

upload = Blueprint("upload", __name__)

VISITOR_COOKIE = "moondesk_form"
#: The only files that are served as they lie in the package.
STATIC = {
    "desk.css": "text/css",
    "components.css": "text/css",
    "public.css": "text/css",
    "public.js": "text/javascript",
    "icon.svg": "image/svg+xml",
}
#: Pages whose address is the secret: who guesses is slowed.
OPENED_BY_SECRET = frozenset({"upload.show_receipt", "upload.show_question", "upload.question_picture"})
STALE = say(
    "This page was open for too long, or your browser keeps no cookies. Nothing is lost: please press Send again."
)
LATER = say("Please come back later.")
NO_ROOM = say("We have no room for pictures at the moment.")


@dataclass(frozen=True, kw_only=True)
class Application:
    """What the views work with."""

    config: Config
    public: Public
    calendar: Calendar
    tokens: Tokens
    now: Callable[[], datetime]
    proxies: Proxies
    limits: VisitorLimits
    turned_away: TurnedAway
    #: Mails the links to receipts; None where it cannot.
    receipts: ReceiptSender | None


def app() -> Application:
    return current_app.extensions["moondesk.public"]  # type: ignore[no-any-return]


# --- before anything is read --------------------------------------------------------------------------------------


@upload.before_app_request
def admit() -> Response | None:
    """What is refused is told before anything of the form is used; the server has mostly judged it before it came."""
    if request.method != "POST":
        limits = app().limits
        wait = 0 if request.endpoint == "upload.static" else limits.looks.wait_seconds(asking())
        if request.endpoint in OPENED_BY_SECRET:
            wait = wait or limits.tries.wait_seconds(asking())  # given back where there is one
        return too_often(wait) if wait else None
    verdict = request.environ.get(VERDICT) or judge(True)
    g.counted = verdict.counted
    if verdict.status == 400:
        if request.endpoint == "upload.send":
            return show_form(400, form_values_of(request.form), notice=tongue().write(STALE))
        return problem(400, say("Not done"), STALE, say("Go back, reload the page and try again."))
    if verdict.status == 408:
        return problem(
            408,
            say("Too slow"),
            say("Your form came in so slowly that we had to stop."),
            say(
                "Please go back and try again, with fewer pictures or by another connection; what you typed should still "
                "be there."
            ),
        )
    if verdict.status == 413:
        raise RequestEntityTooLarge
    if verdict.status:
        return too_often(verdict.wait) if verdict.status == 429 else no_room()
    g.form_id = form_id_of(given_token(True))
    return None


def judge(body_is_here: bool = False) -> Verdict:
    """What becomes of a request's body, by its head alone; where it is here already its token may stand in it."""
    here = app()
    most = (here.public.form_bytes if request.mimetype == "multipart/form-data" else 0) + TEXT_BYTES
    size = most if request.content_length is None else request.content_length
    if wait := here.limits.tries.wait_seconds(asking()):
        return Verdict(most, 429, wait)
    if size > most:
        return Verdict(most, 413)
    if request.endpoint == "upload.answer_question":  # its link is the secret
        return Verdict(most)
    sends = request.endpoint == "upload.send"
    if sends and not here.limits.arriving.room_for(size):
        here.turned_away.count("room")
        return Verdict(most, 503)
    if form_id_of(given_token(body_is_here)) is None:
        return Verdict(most, 400)
    if sends and (wait := here.limits.wait_for_form(charge_of(size))):
        here.turned_away.count("often")
        return Verdict(most, 429, wait)
    here.limits.tries.give_back(asking())
    return Verdict(most, counted=size if sends else None)


def form_id_of(token: str) -> str | None:
    return app().tokens.form_id(token, visitor_cookie(), app().now())


def visitor_cookie() -> str:
    return request.cookies.get(app().tokens.cookie(VISITOR_COOKIE), "")


def asking() -> str:
    """The address of who asks, as limits count it."""
    return app().proxies.asking(request.remote_addr or "", request.headers.get("X-Forwarded-For", ""))


def charge_of(size: int) -> Charge:
    return Charge(visitor_cookie(), asking(), size)


@upload.after_app_request
def settle(answer: Response) -> Response:
    """A form that came to nothing is not counted; how many were turned away is kept for the desk."""
    here = app()
    if g.get("counted") is not None and answer.status_code >= 400:
        here.limits.give_back(charge_of(g.counted))
        here.limits.tries.wait_seconds(asking())
    here.turned_away.keep(storage, here.now())
    return answer


def too_often(wait: int) -> Response:
    minutes = -(-wait // 60)
    answer = problem(
        429,
        say("A moment, please"),
        say("More came in a short time than we can take, from you or from many at once."),
        say_many(
            "Please go back and try again in a minute; what you typed should still be there.",
            "Please go back and try again in {count} minutes; what you typed should still be there.",
            minutes,
        ),
    )
    answer.headers["Retry-After"] = str(wait)
    return answer


def no_room() -> Response:
    return problem(
        503,
        say("Not just now"),
        NO_ROOM,
        say("Please go back and try again later; what you typed should still be there."),
    )


# --- pages --------------------------------------------------------------------------------------------------------


@upload.get("/")
def form() -> Response:
    room = app().limits.arriving.room_for(0)
    return show_form(200, notice="" if room else f"{tongue().write(NO_ROOM)} {tongue().write(LATER)}")


@upload.post("/")
def send() -> AnyResponse:
    here = app()
    reading = read_form(request.form, g.form_id, here.config.programme.zone, here.now(), Language(tongue().code))
    sent = [f for f in request.files.getlist("pictures") if f.filename or f.stream.read(1)]
    complaints = dict(reading.complaints)
    if not sent:
        complaints["pictures"] = say("Please choose at least one picture.")
    elif len(sent) > here.public.pictures:
        complaints["pictures"] = say("Please send at most {most} pictures at a time.", most=here.public.pictures)
    if complaints or reading.form is None:
        return show_form(422, reading.typed, complaints)
    opened = storage()
    intake = Intake(
        storage=opened, media=Media(here.config.data_dir), edition=edition(opened), config=here.config, now=here.now
    )
    taken = take_form(intake, reading.form, (SentFile(f.filename or "", f.stream) for f in sent), here.tokens.receipt)
    if taken.outcome == "refused":
        return show_form(422, reading.typed, {"pictures": refusals(taken.enclosures)})
    if taken.outcome == "taken" and here.receipts:
        with suppress(StorageError):  # the link is shown all the same
            if receipt_mails.queue(opened, taken.key, tongue().code, here.now()):
                here.receipts.wake()
    address = receipt_address(here.tokens.receipt(taken.key))
    if wants_json():
        return make_response({"go": address})
    return redirect(address, 303)


def edition(opened: Storage) -> Edition:
    """The edition that forms go to; of two that come first at once into a fresh store, one opens it."""
    here = app()
    try:
        return open_edition(opened, here.config, here.now(), here.calendar.day_of_plan)
    except BadInputError:
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
        return receipt_answer(
            token, 422, tongue().write(say("Please tick the box if you wish to take the pictures back."))
        )
    withdraw(storage(), token, here.now())
    erase_files(storage(), Media(here.config.data_dir))
    tell_backups(storage())
    return redirect(receipt_address(token), 303)


@upload.get("/static/<name>")
def static(name: str) -> Response:
    if name not in STATIC:
        raise NotStoredError("There is no page at this address.")
    data = files("moondesk.service.web").joinpath("static", name).read_bytes()
    return Response(data, content_type=f"{STATIC[name]}; charset=utf-8", headers={"Cache-Control": "max-age=3600"})


# --- answers ------------------------------------------------------------------------------------------------------


def show_form(
    status: int, typed: Any = None, complaints: dict[str, Message] | None = None, notice: str = ""
) -> Response:
    """The form with a fresh token; as JSON for the page's script, which keeps what was typed and chosen."""
    here = app()
    visitor, known = visitor_of_request()
    token = here.tokens.issue(visitor, here.now())
    told = {name: tongue().write(said) for name, said in (complaints or {}).items()}
    if wants_json():
        answer = make_response({"token": token, "notice": notice, "complaints": told}, status)
    else:
        page = form_page(here.config, here.public, token, tongue(), typed, told, notice, here.receipts is not None)
        answer = show("public_form.html", page, status)
    return with_cookie(answer, visitor, known)


def receipt_answer(token: str, status: int = 200, notice: str = "") -> Response:
    here = app()
    found = receipt(storage(), token)
    if found is None:
        raise NotStoredError("There is no such receipt.", "Please check that the whole link was copied.")
    here.limits.tries.give_back(asking())
    visitor, known = visitor_of_request()
    # A request can name any host: without an address of its own the page leaves the link to the browser.
    link = here.public.address and here.public.address + url_for("upload.show_receipt", token=token)
    page = receipt_page(here.config, link, here.tokens.issue(visitor, here.now()), found, tongue(), notice)
    answer = with_cookie(show("public_receipt.html", page, status), visitor, known)
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer


def visitor_of_request() -> tuple[str, bool]:
    visitor = visitor_cookie()
    return (visitor, True) if VISITOR.fullmatch(visitor) else (new_visitor(), False)


def with_cookie(answer: Response, visitor: str, known: bool) -> Response:
    """The one cookie: without a name, for this page's own forms, gone when the browser is closed."""
    if not known:
        answer.set_cookie(
            app().tokens.cookie(VISITOR_COOKIE),
            visitor,
            httponly=True,
            samesite="Strict",
            path="/",
            secure=app().public.address.startswith("https:"),
        )
    return answer


def receipt_address(token: str) -> str:
    """Where a receipt is shown; in the language that its sender chose, where one was chosen."""
    chosen = tongue().code if FIELD in request.args else None
    return url_for("upload.show_receipt", token=token, language=chosen)


def refusals(enclosures: tuple[Enclosure, ...]) -> Message:
    return say("{words}", words=" ".join(f"{e.given_name}: {e.refused}" for e in enclosures if e.refused))


def problem(status: int, title: Message, sentence: Message, advice: Message | None = None) -> Response:
    """A page, or a sentence for the script, about what did not work."""
    said, helps = tongue().write(sentence), tongue().write(advice) if advice else ""
    if wants_json():
        return make_response({"notice": f"{said} {helps}".strip(), "complaints": {}}, status)
    page = ErrorPage(
        programme=app().config.programme, code=status, title=tongue().write(title), sentence=said, advice=helps
    )
    return show("public_error.html", page, status)


@upload.app_errorhandler(DeskError)
def answer_expected(error: DeskError) -> Response:
    if error.http_status >= 500:
        current_app.logger.error("upload page: %s", error)
        return problem(
            error.http_status,
            say("Not just now"),
            say("We cannot take anything at the moment."),
            say("Please try again in a few minutes; go back, and what you typed should still be there."),
        )
    return problem(
        error.http_status,
        say("Not here") if error.http_status == 404 else say("That did not work"),
        say("{words}", words=str(error)),
        say("{words}", words=error.advice),
    )


@upload.app_errorhandler(OSError)
def system_error(error: OSError) -> Response:
    if is_disk_full(error):
        return no_room()
    raise error


@upload.app_errorhandler(HTTPException)
def http_error(error: HTTPException) -> Response:
    code = error.code or 500
    if code == 413:
        most = app().public.form_bytes // 1_000_000
        answer = problem(
            413,
            say("Too large"),
            say("That is more than we can take at once ({most} MB together).", most=most),
            say("Please go back and send fewer pictures at a time; what you typed should still be there."),
        )
    elif code == 404:
        answer = problem(404, say("Not here"), say("There is no page at this address."))
    elif code >= 500:
        answer = problem(
            code,
            say("Something broke"),
            say("This page failed, and it is our fault."),
            say("Please try again in a few minutes."),
        )
    else:
        answer = problem(
            code,
            say("That did not work"),
            say("Such a request is not answered here."),
            say("Please go back and try again."),
        )
    if allowed := getattr(error, "valid_methods", None):
        answer.headers["Allow"] = ", ".join(sorted(allowed))
    return answer
