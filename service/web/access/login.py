"""Logging in and out. Guessing is slowed for each address and each account; unknown names take as long as known ones.

Who only guesses must not be able to keep a presenter out minutes before air by using up the account's tries: a browser
by which somebody was logged in before keeps a signed mark and has tries of its own (the device cookies that OWASP
describes in "Slow Down Online Guessing Attacks with Device Cookies").
"""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlsplit

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response

from moondesk.service import passwords
from moondesk.service.errors import DeskError
from moondesk.service.settings.config import Programme
from moondesk.service.store import accounts
from moondesk.service.web.access import sessions
from moondesk.service.web.access.door import STALE
from moondesk.service.web.current import config, show, storage

login = Blueprint("login", __name__)

MARK_COOKIE = "moondesk_known"
MARK_SECONDS = 180 * 86_400
WRONG = "Name and password do not belong together. Letters, capitals and blanks of the password count."
#: At the log-out the browser forgets the pictures and texts that it kept of this desk; cookies are named one by one,
#: because those of another desk on the same machine would go with them.
FORGET = '"cache", "storage"'
#: How long one waits for those who log in at the same time.
BUSY_SECONDS = 8


class _BusyError(DeskError):
    http_status = 503


@dataclass(frozen=True, kw_only=True)
class LoginPage:
    """notice: why it did not work; done: what has been done; go: where to go after it."""

    programme: Programme
    token: str
    name: str
    go: str
    notice: str
    done: str


@login.get("/login")
def form() -> Response:
    if not sessions.has_accounts():
        return redirect(url_for("setup.form"), 303)
    go = local_path(request.args.get("next", ""))
    if sessions.current_actor() is not None:
        return redirect(go, 303)
    return _login_page(200, "", go, done="You are logged out." if request.args.get("left") else "")


@login.post("/login")
def enter() -> Response:
    name, go = request.form.get("name", "")[:200], local_path(request.form.get("next", ""))
    if sessions.form_id(request.form.get("token", "")) is None:
        return _login_page(400, name, go, f"{STALE} Please try once more.")
    wait = _wait_seconds(name)
    if wait:
        answer = _login_page(429, name, go, f"Too many tries in a row. Wait {_wait_words(wait)}, then try again.")
        answer.headers["Retry-After"] = str(wait)
        return answer
    account = _check_login(name, request.form.get("password", "")[:1_000])
    if account is None:
        return _login_page(422, name, go, WRONG)
    answer = redirect(go, 303)
    sessions.start_session(answer, account.id)
    tokens = sessions.keeper().tokens
    answer.set_cookie(
        tokens.cookie(MARK_COOKIE),
        tokens.browser_mark(account.id),
        max_age=MARK_SECONDS,
        httponly=True,
        secure=sessions.is_secure(),
        samesite="Strict",
        path="/login",
    )
    return answer


@login.post("/logout")
def leave() -> Response:
    answer = redirect(url_for("login.form", left="yes"), 303)
    sessions.end_session(answer)
    answer.headers["Clear-Site-Data"] = FORGET
    return answer


def local_path(text: str) -> str:
    """Where to go after the log-in: a path of this desk, else the list. No link sends anybody elsewhere."""
    parts = urlsplit(text) if text.isprintable() and "\\" not in text and len(text) < 500 else None
    if parts is None or parts.scheme or parts.netloc or not text.startswith("/") or text.startswith("//"):
        return url_for("desk.index")
    return text


def _check_login(name: str, password: str) -> accounts.DeskAccount | None:
    found = accounts.credentials(storage(), name)
    if not sessions.keeper().hashing.acquire(timeout=BUSY_SECONDS):
        raise _BusyError("Many try to log in at this moment.", "Wait a minute and try again.")
    try:
        right = passwords.matches(password, found[1] if found else passwords.NOBODYS)
    finally:
        sessions.keeper().hashing.release()
    if not right or found is None or found[0].disabled_utc is not None:
        return None
    if passwords.is_outdated(found[1]):
        accounts.renew_hash(storage(), found[0].id, passwords.hash_password(password))
    return found[0]


def _wait_seconds(name: str) -> int:
    keeper = sessions.keeper()
    mark = request.cookies.get(keeper.tokens.cookie(MARK_COOKIE), "")
    found, marked = accounts.credentials(storage(), name), keeper.tokens.account_of_mark(mark)
    if found is not None and found[0].id == marked:
        return keeper.by_account.wait_seconds(f"browser {mark}")
    wait = keeper.by_address.wait_seconds(sessions.asking_address())
    return wait or keeper.by_account.wait_seconds(f"name {accounts.fold_name(name)}")


def _wait_words(seconds: int) -> str:
    return f"{seconds} seconds" if seconds < 90 else f"{-(-seconds // 60)} minutes"


def _login_page(status: int, name: str, go: str, notice: str = "", done: str = "") -> Response:
    page = LoginPage(
        programme=config().programme, token=sessions.form_token(), name=name, go=go, notice=notice, done=done
    )
    return show("login.html", page, status)
