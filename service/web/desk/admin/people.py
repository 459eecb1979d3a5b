"""People: who has an account, with which role; presenters alone decide about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response

from moondesk.service import passwords
from moondesk.service.errors import BadInputError
from moondesk.service.programme.account_form import password_complaints, read_new_account
from moondesk.service.programme.words import date_words
from moondesk.service.settings.config import Programme
from moondesk.service.store import accounts
from moondesk.service.store.accounts import DeskAccount, Role
from moondesk.service.web.access import sessions
from moondesk.service.web.access.roles import ROLES
from moondesk.service.web.access.setup import set_up_first
from moondesk.service.web.current import config, show, storage

people = Blueprint("people", __name__)
people.before_request(set_up_first)

ACCOUNT_ID = "<int(max=9007199254740991):account_id>"
DONE = {
    "added": "The account is made. Tell its owner name and password in person; they can change it.",
    "role": "The role is changed.",
    "closed": "The account is closed, and logged out everywhere.",
    "opened": "The account is open again.",
    "password": "The password is changed, and the account logged out everywhere.",
}


@dataclass(frozen=True, kw_only=True)
class PersonRow:
    id: int
    name: str
    role: Role
    #: "since 2 March 2026", or when it was closed.
    since: str
    is_open: bool
    #: The one who looks at the page.
    is_me: bool


@dataclass(frozen=True, kw_only=True)
class PeoplePage:
    """typed_name, typed_role: of the form for a new account; about: id of the account whose password form is wrong."""

    programme: Programme
    token: str
    people: tuple[PersonRow, ...]
    typed_name: str
    typed_role: str
    complaints: Mapping[str, str]
    about: int | None
    notice: str
    done: str
    roles: tuple[tuple[Role, str], ...] = ROLES


@people.get("/people")
def listed() -> Response:
    return _people_page(200, done=DONE.get(request.args.get("done", ""), ""))


@people.post("/people")
def add() -> Response:
    new, role = read_new_account(request.form, config().programme.name), _role(request.form.get("role", ""))
    complaints = dict(new.complaints)
    if role is None:
        complaints["role"] = "Please choose one of the list."
    if complaints or role is None:
        return _people_page(422, (new.name, role or ""), complaints)
    try:
        accounts.add_account(storage(), new.name, role, _hash(new.password), sessions.now(), sessions.actor().name)
    except BadInputError as error:
        return _people_page(422, (new.name, role), {"name": f"{error} {error.advice}"})
    return _confirm("added")


@people.post(f"/people/{ACCOUNT_ID}/role")
def set_role(account_id: int) -> Response:
    role = _role(request.form.get("role", ""))
    if role is None:
        return _people_page(422, notice="Please choose one of the two roles.")
    try:
        accounts.set_role(storage(), account_id, role, sessions.now(), sessions.actor().name)
    except BadInputError as error:
        return _people_page(409, notice=f"{error} {error.advice}")
    return _confirm("role")


@people.post(f"/people/{ACCOUNT_ID}/open")
def set_open(account_id: int) -> Response:
    is_open = request.form.get("open") == "yes"
    try:
        accounts.set_open(storage(), account_id, is_open, sessions.now(), sessions.actor().name)
    except BadInputError as error:
        return _people_page(409, notice=f"{error} {error.advice}")
    return _confirm("opened" if is_open else "closed")


@people.post(f"/people/{ACCOUNT_ID}/password")
def set_password(account_id: int) -> Response:
    """For somebody who forgot theirs; one's own is changed under My account, which asks for the old one."""
    account = accounts.account(storage(), account_id)
    if account_id == sessions.actor().account_id:
        return redirect(url_for("account.mine"), 303)
    complaints = password_complaints(request.form, account.name, config().programme.name)
    if complaints:
        return _people_page(
            422, complaints={f"{field}-{account_id}": words for field, words in complaints.items()}, about=account_id
        )
    accounts.set_password(storage(), account_id, _hash(request.form["password"]), sessions.now(), sessions.actor().name)
    return _confirm("password")


def _role(text: str) -> Role | None:
    return next((role for role, _ in ROLES if role == text), None)


def _hash(password: str) -> str:
    with sessions.keeper().hashing:
        return passwords.hash_password(password)


def _confirm(what: str) -> Response:
    return redirect(url_for("people.listed", done=what), 303)


def _person(account: DeskAccount) -> PersonRow:
    closed = account.disabled_utc
    since = f"closed on {date_words(closed.date())}" if closed else f"since {date_words(account.made_utc.date())}"
    return PersonRow(
        id=account.id,
        name=account.name,
        role=account.role,
        since=since,
        is_open=closed is None,
        is_me=account.id == sessions.actor().account_id,
    )


def _people_page(
    status: int,
    typed: tuple[str, str] = ("", "helper"),
    complaints: Mapping[str, str] | None = None,
    about: int | None = None,
    notice: str = "",
    done: str = "",
) -> Response:
    if complaints:
        notice = "Nothing was changed yet: see below what is wrong."
    page = PeoplePage(
        programme=config().programme,
        token=sessions.form_token(),
        people=tuple(_person(a) for a in accounts.accounts(storage())),
        typed_name=typed[0],
        typed_role=typed[1],
        complaints=complaints or {},
        about=about,
        notice=notice,
        done=done,
    )
    return show("people.html", page, status)
