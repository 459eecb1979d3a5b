"""The set-up in one page: the first account, a presenter's, with what the programme is called and where it is at home.

It is there only while the desk has no accounts, and then only for who sits at its machine (see `network_rules`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response

from moondesk.service import passwords
from moondesk.service.errors import BadInputError
from moondesk.service.programme.account_form import read_new_account
from moondesk.service.settings.config import Programme
from moondesk.service.store.accounts import add_account
from moondesk.service.store.settings import keep_settings
from moondesk.service.web.access import sessions
from moondesk.service.web.access.door import STALE
from moondesk.service.web.current import config, show, storage
from moondesk.service.web.settings_form import RULES, current_form, fixed_fields, read_settings, zone_names

setup = Blueprint("setup", __name__)


@dataclass(frozen=True, kw_only=True)
class SetupPage:
    """typed: the text of each field; fixed: those that moondesk.toml decides; complaints: by field what is wrong."""

    programme: Programme
    token: str
    name: str
    typed: Mapping[str, str]
    fixed: frozenset[str]
    complaints: Mapping[str, str]
    notice: str
    zones: tuple[str, ...]
    rules: tuple[tuple[str, str], ...] = RULES


def set_up_first() -> Response | None:
    """For `before_request` of pages about accounts: the first one is made by the set-up, which makes it a presenter's."""
    return None if sessions.has_accounts() else redirect(url_for("setup.form"), 303)


@setup.get("/setup")
def form() -> Response:
    if sessions.has_accounts():
        return redirect(url_for("desk.index"), 303)
    return _setup_page(200, "", current_form(config()), {})


@setup.post("/setup")
def make() -> Response:
    if sessions.has_accounts():
        return redirect(url_for("desk.index"), 303)
    account = read_new_account(request.form, request.form.get("programme_name", config().programme.name))
    reading = read_settings(request.form, config())
    if sessions.form_id(request.form.get("token", "")) is None:
        return _setup_page(400, account.name, reading.typed, {}, f"{STALE} Please type the password again.")
    complaints = {**account.complaints, **reading.complaints}
    if complaints:
        return _setup_page(422, account.name, reading.typed, complaints)
    with sessions.keeper().hashing:
        hashed = passwords.hash_password(account.password)
    try:
        made = add_account(storage(), account.name, "presenter", hashed, sessions.now(), account.name, first=True)
    except BadInputError as error:
        return _setup_page(409, account.name, reading.typed, {}, f"{error} {error.advice}")
    keep_settings(storage(), reading.values, sessions.now(), made.name)
    answer = redirect(url_for("desk.index"), 303)
    sessions.start_session(answer, made.id)
    return answer


def _setup_page(
    status: int, name: str, typed: Mapping[str, str], complaints: Mapping[str, str], notice: str = ""
) -> Response:
    if complaints and not notice:
        notice = "Not yet set up: see below what is missing. Please type the password again."
    page = SetupPage(
        programme=config().programme,
        token=sessions.form_token(),
        name=name,
        typed=typed,
        fixed=fixed_fields(config()),
        complaints=complaints,
        notice=notice,
        zones=zone_names(typed["zone"]),
    )
    return show("setup.html", page, status)
