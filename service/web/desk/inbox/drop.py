"""The desk's page for pictures that came another way: dropped, pasted or chosen, with who sent them typed once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from flask import Blueprint, Response, make_response, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.intake import picture_formats as formats
from moondesk.service.intake.forms import SentFile, take_form
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.programme.credit import sender_of
from moondesk.service.settings.config import Programme
from moondesk.service.store.editions import list_editions
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_picture_ids
from moondesk.service.store.submissions import submission_of_key
from moondesk.service.web.access import sessions
from moondesk.service.web.bodies import check_body
from moondesk.service.web.current import calendar, config, render, show, storage, wants_json
from moondesk.service.web.desk import placing_status
from moondesk.service.web.desk.inbox.drop_form import CONSENTS, NOT_NOTED, Dropped, drop_values_of, read_drop
from moondesk.service.web.desk.inbox.inbox import items_of
from moondesk.service.web.desk.inbox.inbox_page import Card, card_of
from moondesk.service.web.desk.placing_words import Standing

drop = Blueprint("drop", __name__)

#: Of one form; the desk is nobody's but ours.
FILES, FILE_BYTES = 60, 600_000_000
STALE = "This page was open for too long. Nothing is lost: press Take again."


@dataclass(frozen=True, kw_only=True)
class DropPage:
    """The form. complaints: a sentence for each wrong field."""

    programme: Programme
    token: str
    typed: Dropped
    complaints: Mapping[str, str]
    notice: str
    zones: tuple[tuple[str, str], ...]
    #: (value, words), the empty value first.
    consents: tuple[tuple[str, str], ...]
    most: int
    picture_bytes: int
    form_bytes: int
    #: What this installation opens: for the file chooser, and in words.
    accepted: str
    formats: str


@dataclass(frozen=True, kw_only=True)
class AddedPage:
    """The pictures of one submission, as they are being placed."""

    programme: Programme
    title: str
    edition_number: int
    cards: tuple[Card, ...]
    standing: Standing


@drop.before_request
def size_first() -> None:
    check_body()


@drop.get("/add")
def form() -> Response:
    who = sessions.actor()
    known = Dropped(zone=config().programme.zone, noted_by="" if who.account_id is None else who.name)
    return show_form(200, known, {})


@drop.post("/add")
def send() -> AnyResponse:
    form_id = sessions.form_id(request.form.get("token", ""))
    if form_id is None:
        return show_form(400, drop_values_of(request.form), {}, notice=STALE)
    reading = read_drop(request.form, form_id, config().programme.zone)
    sent = [f for f in request.files.getlist("pictures") if f.filename or f.stream.read(1)]
    complaints = dict(reading.complaints)
    if not sent:
        complaints["pictures"] = "Please drop, paste or choose at least one picture."
    if complaints or reading.form is None:
        return show_form(422, reading.typed, complaints)

    def now() -> datetime:
        return datetime.now(UTC)

    edition = open_edition(storage(), config(), now(), calendar().day_of_plan)
    intake = Intake(storage=storage(), media=Media(config().data_dir), edition=edition, config=config(), now=now)
    taken = take_form(intake, reading.form, (SentFile(f.filename or "", f.stream) for f in sent))
    if taken.outcome == "refused":
        why = " ".join(f"{e.given_name}: {e.refused}" for e in taken.enclosures)
        return show_form(422, reading.typed, {"pictures": why})
    submission_id = submission_of_key(storage(), taken.key)
    ids = list_picture_ids(storage(), submission_id)
    address = (
        url_for("desk.picture", picture_id=ids[0])
        if len(ids) == 1
        else url_for("drop.added", submission_id=submission_id)
    )
    return make_response({"go": address}) if wants_json() else redirect(address, 303)


@drop.get("/added/<int(max=9007199254740991):submission_id>")
def added(submission_id: int) -> str:
    """What was put in together, until all of it is placed."""
    ids = list_picture_ids(storage(), submission_id)
    items = items_of(ids, None, 0)
    submission = items[0].sorted.listed.picture.submission
    number = next(e.plan.number for e in list_editions(storage()) if e.id == submission.edition_id)
    title = f"{len(ids)} {'picture' if len(ids) == 1 else 'pictures'} of {sender_of(submission.arrival)}"
    cards = tuple(card_of(item, calendar()) for item in items)
    return render(
        "added.html",
        AddedPage(
            programme=config().programme,
            title=title,
            edition_number=number,
            cards=cards,
            standing=placing_status.standing(ids),
        ),
    )


def show_form(status: int, typed: Dropped, complaints: Mapping[str, str], notice: str = "") -> Response:
    """The form with a fresh token; as JSON for the page's script, which keeps what was typed and chosen."""
    token = sessions.form_token()
    if wants_json():
        return make_response({"token": token, "notice": notice, "complaints": dict(complaints)}, status)
    zone = config().programme.zone
    zones = {zone: f"by the clock in {zone.rpartition('/')[2].replace('_', ' ')}", "UTC": "UTC"}
    page = DropPage(
        programme=config().programme,
        token=token,
        typed=typed,
        complaints=complaints,
        notice=notice,
        zones=tuple(zones.items()),
        consents=(("", NOT_NOTED), *((c[0], c[1]) for c in CONSENTS)),
        most=FILES,
        picture_bytes=min(config().limits.picture_bytes, FILE_BYTES),
        form_bytes=FILE_BYTES,
        accepted=formats.accept_attribute(),
        formats=formats.words(),
    )
    return show("drop.html", page, status)
