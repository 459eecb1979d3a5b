"""The editions: listed for everybody who works here, planned and chosen by presenters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response

from moondesk.service.errors import BadInputError
from moondesk.service.programme.editions import EditionView, edition_view, next_to_air, not_aired
from moondesk.service.settings.config import Programme
from moondesk.service.store.editions import add_edition, change_edition, list_editions, read_edition
from moondesk.service.store.records import Edition, EditionPlan
from moondesk.service.store.settings import keep_settings
from moondesk.service.web.access import sessions
from moondesk.service.web.current import calendar, config, show, storage
from moondesk.service.web.desk.admin.editions_form import KINDS, TypedEdition, read_edition_form, read_plan

editions = Blueprint("editions", __name__)

NUMBER = "<int(max=1000000):number>"
DONE = {"added": "The edition is added.", "changed": "The edition is changed.", "chosen": "The next edition is chosen."}


@dataclass(frozen=True)
class EditionRow:
    view: EditionView
    is_next: bool
    #: Whether it could be the next: it is not aired yet.
    is_waiting: bool


@dataclass(frozen=True, kw_only=True)
class EditionsPage:
    """typed: the form for a new one, filled in with the number after the newest. may_edit: a presenter looks."""

    programme: Programme
    token: str
    rows: tuple[EditionRow, ...]
    #: Number of the edition that was chosen by hand; None: the lowest that is not aired.
    chosen: int | None
    may_edit: bool
    typed: TypedEdition
    complaints: Mapping[str, str]
    notice: str
    done: str
    kinds: tuple[tuple[str, str], ...] = KINDS


@dataclass(frozen=True, kw_only=True)
class EditionPage:
    """One edition to change. number: as it is stored; state: of what the page shows, so that two are told."""

    programme: Programme
    token: str
    number: int
    state: str
    typed: TypedEdition
    complaints: Mapping[str, str]
    notice: str
    kinds: tuple[tuple[str, str], ...] = KINDS


@editions.get("/editions")
def listed() -> Response:
    return _list(200, done=DONE.get(request.args.get("done", ""), ""))


@editions.post("/editions")
def add() -> Response:
    reading = read_edition_form(request.form, request.form.getlist("evenings"), config().programme.zone)
    if reading.plan is None:
        return _list(422, reading.typed, reading.complaints)
    try:
        add_edition(storage(), _count_days(reading.plan), sessions.now(), sessions.actor().name)
    except BadInputError as error:
        return _list(422, reading.typed, {"number": f"{error} {error.advice}"})
    return redirect(url_for("editions.listed", done="added"), 303)


@editions.post("/editions/next")
def choose() -> Response:
    text = request.form.get("number", "")
    number = int(text) if text.isascii() and text.isdigit() and len(text) < 9 else None
    if number is not None and not any(
        e.plan.number == number for e in not_aired(list_editions(storage()), sessions.now())
    ):
        return _list(422, notice=f"Edition {number} is aired already, or is none of the list.")
    _choose(number)
    return redirect(url_for("editions.listed", done="chosen"), 303)


@editions.get(f"/editions/{NUMBER}")
def form(number: int) -> Response:
    return _one(200, read_edition(storage(), number))


@editions.post(f"/editions/{NUMBER}")
def save(number: int) -> Response:
    before = read_edition(storage(), number)
    reading = read_edition_form(request.form, request.form.getlist("evenings"), config().programme.zone)
    if reading.plan is None:
        return _one(422, before, reading.typed, reading.complaints)
    try:
        if request.form.get("state", "") != _state(before):
            raise BadInputError(
                "Somebody changed this edition meanwhile.",
                "Save again to put yours in place of theirs, or open the page anew.",
            )
        change_edition(storage(), before, _count_days(reading.plan), sessions.now(), sessions.actor().name)
    except BadInputError as error:
        return _one(409, before, reading.typed, notice=f"{error} {error.advice}")
    if config().next_edition == number != reading.plan.number:
        _choose(reading.plan.number)
    return redirect(url_for("editions.listed", done="changed"), 303)


def _choose(number: int | None) -> None:
    keep_settings(storage(), {"edition.next": number}, sessions.now(), sessions.actor().name)


def _count_days(plan: EditionPlan) -> EditionPlan:
    return replace(plan, day_number=calendar().day_of_plan(plan))


def _state(edition: Edition) -> str:
    typed = read_plan(edition.plan, "UTC")
    return " ".join((typed.number, typed.kind, typed.recording, typed.air, *filter(None, typed.evenings)))


def _list(
    status: int,
    typed: TypedEdition | None = None,
    complaints: Mapping[str, str] | None = None,
    notice: str = "",
    done: str = "",
) -> Response:
    found = list_editions(storage())
    following = next_to_air(found, config().next_edition, sessions.now())
    left = not_aired(found, sessions.now())
    rows = tuple(EditionRow(edition_view(e, calendar()), e == following and e in left, e in left) for e in found)
    fresh = TypedEdition(number=str(found[0].plan.number + 1) if found else "1")
    page = EditionsPage(
        programme=config().programme,
        token=sessions.form_token(),
        rows=rows,
        chosen=config().next_edition,
        may_edit=sessions.actor().role == "presenter",
        typed=typed or fresh,
        complaints=complaints or {},
        notice=notice or ("Not added yet: see below what is wrong." if complaints else ""),
        done=done,
    )
    return show("editions.html", page, status)


def _one(
    status: int,
    edition: Edition,
    typed: TypedEdition | None = None,
    complaints: Mapping[str, str] | None = None,
    notice: str = "",
) -> Response:
    page = EditionPage(
        programme=config().programme,
        token=sessions.form_token(),
        number=edition.plan.number,
        state=_state(edition),
        typed=typed or read_plan(edition.plan, config().programme.zone),
        complaints=complaints or {},
        notice=notice or ("Not saved yet: see below what is wrong." if complaints else ""),
    )
    return show("edition.html", page, status)
