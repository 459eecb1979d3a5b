"""The door that every request to the desk passes before its view.

It refuses by `network_rules` (from where), by `roles` (who), and everything that changes something without the form's token: a
field `token`, or the header X-Form-Token of a script. Programs with a token of their own need none: no page elsewhere
can make a browser send that. What is refused is told as a page, as a script's JSON, or under /api by RFC 9457.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from functools import cached_property
from types import MappingProxyType

from flask import Flask, current_app, g, jsonify, redirect, request, url_for
from werkzeug.exceptions import RequestEntityTooLarge
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import DeskError, NotAllowedError, NotLoggedInError
from moondesk.service.settings.config import Config
from moondesk.service.store.media import ARRIVING
from moondesk.service.web.access import network_rules, roles, sessions
from moondesk.service.web.access.sessions import Actor
from moondesk.service.web.arriving import VERDICT, Arriving, Verdict
from moondesk.service.web.bodies import TEXT_BYTES, check_body
from moondesk.service.web.current import given_token, is_api, wants_json
from moondesk.service.web.headers import only_https
from moondesk.service.web.problems import refuse
from moondesk.service.web.serving import Bounds
from moondesk.service.web.tokens import Tokens
from moondesk.service.web.visitors import Proxies, RateLimit

READING = ("GET", "HEAD", "OPTIONS")
#: What carries pictures; everything else is text, from strangers at the log-in too.
LARGE = frozenset({"drop.send"})
#: Why a body was not taken, by status; what else refuses it is told by `admit`.
NOT_TAKEN: Mapping[int, tuple[str, str]] = MappingProxyType(
    {
        408: ("This came in so slowly that the desk gave it up.", "Go back and send fewer pictures at a time."),
        413: ("That is more than the desk takes at once.", "Go back and send fewer pictures at a time."),
        503: ("The disk has no room for these pictures, or too many come in at once.", "Make room, or wait a little."),
        507: ("The disk has no room for these pictures.", "Make room on it, then send them again."),
    }
)
STALE = "This page was open for too long, or it is not this desk's."
#: Forms with pictures that may come in at the same time, free space that they leave on the disk, and connections of an
#: address: a few windows of a few people.
ARRIVING_FORMS, KEEP_FREE, CONNECTIONS = 3, 200_000_000, 64
#: What the page on air asks for each second never waits for a thread.
AT_ONCE = re.compile(r"/(air/[0-9]+|onair/[^/]+)/state")
#: Tries to log in from an address, and with an account: in a row, and then one as each of these seconds pass.
OF_ADDRESS, OF_ACCOUNT = (30, 10.0), (10, 30.0)


class Here:
    """What every template may ask of the request, as `here`; looked up when it is asked.

    The header of error pages asks too, whatever state the store is in.
    """

    @cached_property
    def actor(self) -> Actor | None:
        """Who is logged in; None: nobody, or there are no accounts."""
        with suppress(DeskError):
            return sessions.current_actor() if sessions.has_accounts() else None
        return None

    @cached_property
    def has_accounts(self) -> bool:
        with suppress(DeskError):
            return sessions.has_accounts()
        return True

    @cached_property
    def token(self) -> str:
        """For the forms of the page."""
        return sessions.form_token()


class _NotLetInError(NotAllowedError):
    http_status = 400


class _NotTakenError(DeskError):
    """A body that did not come whole."""

    def __init__(self, status: int) -> None:
        super().__init__(*NOT_TAKEN[status])
        self.http_status = status


def install(
    app: Flask,
    config: Config,
    tokens: Tokens,
    now: Callable[[], datetime] | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> None:
    """Put the door before every view. now: the time of day; clock: seconds that only grow."""
    app.extensions["moondesk.keeper"] = sessions.SessionStore(
        config=config,
        tokens=tokens,
        now=now or (lambda: datetime.now(UTC)),
        by_address=RateLimit(at_once=OF_ADDRESS[0], seconds=OF_ADDRESS[1], clock=clock),
        by_account=RateLimit(at_once=OF_ACCOUNT[0], seconds=OF_ACCOUNT[1], clock=clock),
        proxies=Proxies(config.proxies, "[desk]"),
    )
    most = app.config["MAX_CONTENT_LENGTH"]
    app.extensions["moondesk.bounds"] = Bounds(
        judge=judge,
        arriving=Arriving(
            folder=config.data_dir / ARRIVING,
            total=ARRIVING_FORMS * most,
            share=ARRIVING_FORMS * most,
            keep_free=KEEP_FREE,
        ),
        most=most,
        connections=CONNECTIONS,
        proxies=config.proxies,
        prompt=AT_ONCE,
    )
    app.before_request(admit)
    app.after_request(sessions.keep_visitor)
    app.context_processor(lambda: {"here": Here()})
    if config.address:
        app.after_request(lambda answer: only_https(answer) if sessions.is_secure() else answer)


def admit() -> AnyResponse | None:
    """None lets the request through to its view."""
    _check_reach()
    told: Verdict | None = request.environ.get(VERDICT)
    if told is not None and told.status in NOT_TAKEN:
        raise _NotTakenError(told.status)
    if request.method not in READING:
        _check_size()  # before anything of it is read
    wanted = roles.least(request.endpoint)
    if wanted != "everyone":
        who = sessions.current_actor()
        if who is None:
            return _ask_to_log_in()
        if request.endpoint is None:
            return None  # there is no such page; who is logged in may be told
        if wanted is None:
            raise NotAllowedError(
                f"The route {request.endpoint} has no line in the table of roles: it answers nobody.",
                "Add it there with the least role that it wants.",
            )
        if not roles.may(who.role, wanted):
            return _problem_page(
                403, "This is for presenters.", "Ask one of them to do it, or to make you a presenter."
            )
    guarded = request.method not in READING and request.endpoint not in roles.OWN_TOKEN and not sessions.has_bearer()
    if guarded and sessions.form_id(given_token()) is None:
        return _problem_page(400, STALE, "Load it again and repeat the last step; nothing was changed.")
    return None


def _check_reach() -> None:
    config, host, remote = sessions.keeper().config, request.host, request.remote_addr or ""
    forwarded = sessions.is_forwarded()
    if network_rules.is_here(host, remote, forwarded):
        return  # the store need not be asked for each file
    why = network_rules.refusal(config, host, remote, forwarded, sessions.has_accounts())
    if why:
        raise _NotLetInError(why)


def judge() -> Verdict:
    """What becomes of a request's body, before it comes: pictures from whoever may send them, else a short text.

    Who may not is told so by `admit`, when nothing of the body was kept.
    """
    g.only_looks = True  # it runs in the server's own thread, which must not wait for the store to be written
    _check_reach()
    most = current_app.config["MAX_CONTENT_LENGTH"] if request.endpoint in LARGE else TEXT_BYTES
    size = most if request.content_length is None else request.content_length
    if size > most:
        return Verdict(most, 413)
    if request.endpoint in LARGE:
        who, wanted = sessions.current_actor(), roles.least(request.endpoint)
        if who is None or wanted is None or not roles.may(who.role, wanted):
            return Verdict(most, 401)
        if sessions.form_id(given_token(with_body=False)) is None:
            return Verdict(most, 400)
        bounds: Bounds = current_app.extensions["moondesk.bounds"]
        if not bounds.arriving.room_for(size):
            return Verdict(most, 507)
    return Verdict(most)


def _check_size() -> None:
    if request.endpoint in LARGE:
        check_body()
    elif (request.content_length or 0) > TEXT_BYTES:
        raise RequestEntityTooLarge


def _ask_to_log_in() -> AnyResponse:
    if request.method in ("GET", "HEAD") and not is_api() and not wants_json():
        asked = request.full_path if request.query_string else request.path
        return redirect(url_for("login.form", next=None if asked == "/" else asked), 303)
    return _problem_page(401, "You are not logged in.", "Log in, then do it again.")


def _problem_page(status: int, sentence: str, advice: str) -> AnyResponse:
    if is_api():
        return refuse(status, f"{sentence} {advice}")
    if wants_json():
        answer = jsonify(notice=f"{sentence} {advice}")
    else:
        raise {401: NotLoggedInError, 403: NotAllowedError}.get(status, _NotLetInError)(sentence, advice)
    answer.status_code = status
    return answer
