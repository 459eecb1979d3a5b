"""My account: one's own password, where one is logged in, and tokens by which programs ask in one's name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response

from moondesk.service import passwords
from moondesk.service.programme.account_form import password_complaints
from moondesk.service.programme.words import date_words
from moondesk.service.settings.config import Programme
from moondesk.service.store import accounts, logins
from moondesk.service.store.accounts import Role
from moondesk.service.texts import clean_text
from moondesk.service.web.access import sessions
from moondesk.service.web.access.roles import ROLES
from moondesk.service.web.access.setup import set_up_first
from moondesk.service.web.current import config, show, storage

account = Blueprint("account", __name__)
account.before_request(set_up_first)

LABEL_CHARACTERS = 60
DONE = {
    "password": "Your password is changed; everywhere else you are logged out.",
    "others": "Everywhere else you are logged out.",
    "revoked": "The token is revoked.",
}


@dataclass(frozen=True)
class TokenRow:
    id: int
    label: str
    role: Role
    #: "made 2 March 2026, last used 3 March 2026".
    words: str


@dataclass(frozen=True, kw_only=True)
class AccountPage:
    """fresh: a token that was just made, shown this once; empty otherwise."""

    programme: Programme
    token: str
    name: str
    role: Role
    tokens: tuple[TokenRow, ...]
    fresh: str
    label: str
    complaints: Mapping[str, str]
    notice: str
    done: str
    roles: tuple[tuple[Role, str], ...]


@account.get("/account")
def mine() -> Response:
    return _account_page(200, done=DONE.get(request.args.get("done", ""), ""))


@account.post("/account/password")
def password() -> Response:
    who = sessions.actor()
    found = accounts.credentials(storage(), who.name)
    complaints = dict(password_complaints(request.form, who.name, config().programme.name))
    wait = sessions.keeper().by_account.wait_seconds(f"old password of {who.account_id}")
    if wait:
        return _account_page(429, complaints={"old": f"Too many tries in a row. Wait {wait} seconds, then try again."})
    with sessions.keeper().hashing:
        if found is None or not passwords.matches(request.form.get("old", "")[:1_000], found[1]):
            complaints["old"] = "This is not your password of today."
        if complaints or found is None:
            return _account_page(422, complaints=complaints)
        hashed = passwords.hash_password(request.form["password"])
    answer = _confirm("password")
    accounts.set_password(storage(), found[0].id, hashed, sessions.now(), who.name)
    sessions.start_session(answer, found[0].id)
    return answer


@account.post("/account/sessions")
def end_others() -> Response:
    logins.close_other_sessions(storage(), _my_id(), sessions.secret())
    return _confirm("others")


@account.post("/account/tokens")
def add_token() -> Response:
    who = sessions.actor()
    label = clean_text(request.form.get("label", "")[:500], 500)
    role = next((role for role in _my_roles() if role == request.form.get("token_role")), None)
    complaints = {}
    if not 1 <= len(label) <= LABEL_CHARACTERS:
        complaints["label"] = f"Please say what it is for, in up to {LABEL_CHARACTERS} characters."
    if role is None:
        complaints["token_role"] = "Please choose one of the list."
    if complaints or role is None:
        return _account_page(422, label=label, complaints=complaints)
    return _account_page(200, fresh=logins.add_token(storage(), _my_id(), label, role, sessions.now(), who.name))


@account.post("/account/tokens/<int(max=9007199254740991):token_id>/revoke")
def revoke_token(token_id: int) -> Response:
    done = logins.revoke_token(storage(), token_id, _my_id(), sessions.now(), sessions.actor().name)
    return _confirm("revoked") if done else _account_page(404, notice="You have no such token (any more).")


def _my_id() -> int:
    number = sessions.actor().account_id
    if number is None:  # the set-up comes first
        raise RuntimeError("an account page without an account")
    return number


def _my_roles() -> tuple[Role, ...]:
    return ("helper", "presenter") if sessions.actor().role == "presenter" else ("helper",)


def _confirm(what: str) -> Response:
    return redirect(url_for("account.mine", done=what), 303)


def _token_row(token: logins.ApiToken) -> TokenRow:
    used = f"last used {date_words(token.used_utc.date())}" if token.used_utc else "not used yet"
    return TokenRow(token.id, token.label, token.role, f"made {date_words(token.made_utc.date())}, {used}")


def _account_page(
    status: int,
    fresh: str = "",
    label: str = "",
    complaints: Mapping[str, str] | None = None,
    notice: str = "",
    done: str = "",
) -> Response:
    who = sessions.actor()
    page = AccountPage(
        programme=config().programme,
        token=sessions.form_token(),
        name=who.name,
        role=who.role,
        tokens=tuple(_token_row(t) for t in logins.tokens_of(storage(), _my_id())),
        fresh=fresh,
        label=label,
        complaints=complaints or {},
        notice=notice or ("Nothing was changed yet: see below what is wrong." if complaints else ""),
        done=done,
        roles=tuple(r for r in ROLES if r[0] in _my_roles()),
    )
    return show("account.html", page, status)
