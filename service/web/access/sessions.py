"""Who acts at the desk, and the secrets by which it is known: cookies of sessions, tokens of forms and of programs.

While there are no accounts it is whoever sits at this machine. After that it is who logged in (a cookie that only the
browser and, hashed, the store have), or under /api a program with its token (`Authorization: Bearer`). A view calls
`actor()`; that it may be asked at all was decided at the `door`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from flask import current_app, g, request
from werkzeug.wrappers import Response

from moondesk.service.errors import NotLoggedInError
from moondesk.service.settings.config import Config
from moondesk.service.store import accounts, logins
from moondesk.service.store.accounts import Role
from moondesk.service.web.access import network_rules
from moondesk.service.web.current import is_api, storage
from moondesk.service.web.tokens import VISITOR, Tokens, new_visitor
from moondesk.service.web.visitors import Proxies, RateLimit

#: Cookie of who is not logged in, for the tokens of forms. Names as they begin, see `Tokens.cookie`.
VISITOR_COOKIE = "moondesk_desk"
SESSION_COOKIE = "moondesk_session"
FORWARDED = ("X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "Forwarded", "Via")


@dataclass(frozen=True)
class Actor:
    """Who does what this request asks for. name: as it stands in records ("by whom") and in the audit list."""

    name: str
    role: Role
    #: None while there are no accounts.
    account_id: int | None = None


#: While no account exists: whoever sits at this machine.
NOBODY_ELSE = Actor("desk", "presenter")


@dataclass(frozen=True, kw_only=True)
class SessionStore:
    """What is kept for the life of the application. config: as the file has it; now: the time of day."""

    config: Config
    tokens: Tokens
    now: Callable[[], datetime]
    #: Tries to log in: of an address, and of an account.
    by_address: RateLimit
    by_account: RateLimit
    proxies: Proxies
    #: One password is hashed at a time: each takes 64 MiB and a core.
    hashing: threading.Lock = field(default_factory=threading.Lock)
    #: Set once there are accounts; they are never all gone again.
    has_accounts: threading.Event = field(default_factory=threading.Event)


# --- for every view ---------------------------------------------------------------------------------------------------


def actor() -> Actor:
    """The one who acts in this request."""
    found = current_actor()
    if found is None:
        raise NotLoggedInError("You are not logged in.", "Log in, then do it again.")
    return found


def now() -> datetime:
    """The time of day, as the desk sees it."""
    return keeper().now()


def form_token() -> str:
    """A token for the forms of a page, in a hidden field named `token`, for whoever looks at it now."""
    return keeper().tokens.issue(_visitor(), now())


def form_id(token: str) -> str | None:
    """The number of the form that a token came with; None: it is forged, another's, or too old."""
    return keeper().tokens.form_id(token, _visitor(), now())


# --- for the door and the pages of accounts ---------------------------------------------------------------------------


def keeper() -> SessionStore:
    return current_app.extensions["moondesk.keeper"]  # type: ignore[no-any-return]


def current_actor() -> Actor | None:
    """Who asks; None: a stranger. Looked up once for a request."""
    if "actor" not in g:
        g.actor = _look_up()
    return g.actor  # type: ignore[no-any-return]


def has_accounts() -> bool:
    """Whether the desk has accounts; while it has none it stands open to this machine."""
    kept = keeper().has_accounts
    if not kept.is_set() and accounts.any_account(storage()):
        kept.set()
    return kept.is_set()


def secret() -> str:
    """What this request's session cookie holds; empty: there is none."""
    return request.cookies.get(_session_cookie(), "")


def start_session(answer: Response, account_id: int) -> None:
    """Log somebody in: a fresh session whatever the browser came with, so that nobody can have planted one."""
    fresh = logins.open_session(storage(), account_id, now(), secret())
    # Lax: whoever follows a link out of a mail stays logged in; what changes anything wants a form's token besides.
    answer.set_cookie(
        _session_cookie(),
        fresh,
        httponly=True,
        secure=is_secure(),
        samesite="Lax",
        path="/",
        max_age=int(logins.LONGEST.total_seconds()),
    )


def end_session(answer: Response) -> None:
    logins.close_session(storage(), secret())
    answer.delete_cookie(_session_cookie(), path="/", secure=is_secure(), httponly=True, samesite="Lax")


def is_secure() -> bool:
    """Whether this request's cookies are for https alone."""
    return network_rules.is_secure(keeper().config, request.host, is_forwarded())


def is_forwarded() -> bool:
    """Whether a proxy says that it passes the request on."""
    return any(name in request.headers for name in FORWARDED)


def has_bearer() -> bool:
    """Tokens of programs open /api alone: a page is for people, and a program has no business among them."""
    return is_api() and request.headers.get("Authorization", "")[:7].lower() == "bearer "


def asking_address() -> str:
    """The address of who asks, as limits count it."""
    return keeper().proxies.asking(request.remote_addr or "", request.headers.get("X-Forwarded-For", ""))


def _look_up() -> Actor | None:
    if has_bearer():
        found = logins.token_account(storage(), request.headers["Authorization"][7:].strip(), now())
        return Actor(found[0].name, found[1], found[0].id) if found else None
    if not has_accounts():
        return NOBODY_ELSE
    account = logins.session_account(storage(), secret(), now(), not g.get("only_looks")) if secret() else None
    return Actor(account.name, account.role, account.id) if account else None


def _session_cookie() -> str:
    """Its name. By that prefix a browser takes it only from this very host and by https (RFC 6265bis, 4.1.3)."""
    name = keeper().tokens.cookie(SESSION_COOKIE)
    return f"__Host-{name}" if is_secure() else name


def _visitor() -> str:
    """What forms' tokens are signed for: the session of who is logged in, else a cookie of the browser's own.

    Another session, another visitor: no form outlives the log-out of who opened it.
    """
    if has_accounts() and not has_bearer() and current_actor() is not None:
        return logins.hash_token(f"form {secret()}")[:32]
    if "visitor" not in g:
        given = request.cookies.get(keeper().tokens.cookie(VISITOR_COOKIE), "")
        g.visitor = given if VISITOR.fullmatch(given) else new_visitor()
    return g.visitor  # type: ignore[no-any-return]


def keep_visitor(answer: Response) -> Response:
    """For `after_request`: the browser keeps the cookie for which a form's token was signed."""
    visitor, name = g.get("visitor"), keeper().tokens.cookie(VISITOR_COOKIE)
    if visitor and visitor != request.cookies.get(name):
        answer.set_cookie(name, visitor, httponly=True, secure=is_secure(), samesite="Strict", path="/")
    return answer
