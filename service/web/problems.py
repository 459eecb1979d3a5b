"""What goes wrong at the desk: a page for people, and under /api for programs `application/problem+json`, RFC 9457.

    {"type": "about:blank", "title", "status", "detail", "errors": [{"where", "words"}]}

title: the status in words. detail: what is wrong, why, and what to do. errors, where single values are to blame.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from http import HTTPStatus
from types import MappingProxyType

from flask import Flask, Response
from werkzeug.exceptions import HTTPException, MethodNotAllowed
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import BadInputError, DeskError, NotStoredError, StorageError
from moondesk.service.settings.config import Programme
from moondesk.service.store.rundown_items import RundownChangedError
from moondesk.service.web.bodies import is_disk_full
from moondesk.service.web.current import config, is_api, show

PROBLEM_TYPE = "application/problem+json"
#: What is told of HTTP's own errors.
SENTENCES: Mapping[int, str] = MappingProxyType(
    {
        404: "There is nothing at this address. /api/openapi.json lists all there is.",
        413: "The request is too large.",
        500: "The desk failed on this request; the pictures are safe in the store. The log of the desk says more.",
    }
)

#: What the door tells programs; its words for people speak of pages and logging in.
REFUSALS: Mapping[int, str] = MappingProxyType(
    {
        400: "A change wants a program's token: Authorization: Bearer moondesk_...; nothing was changed.",
        401: "A program's token is wanted: Authorization: Bearer moondesk_... To make one, log in at the desk: My account.",
    }
)


@dataclass(frozen=True)
class Fault:
    """One value that is wrong. where: "query limit", "header If-Match", or a JSON pointer into the body (RFC 6901)."""

    where: str
    words: str


@dataclass(frozen=True, kw_only=True)
class ErrorPage:
    programme: Programme
    code: int
    title: str
    sentence: str
    advice: str


class ProblemError(DeskError):
    """A request that is refused, with the status that says how."""

    def __init__(
        self,
        status: int,
        sentence: str,
        advice: str = "",
        faults: Sequence[Fault] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(sentence, advice)
        self.http_status = status
        self.faults = tuple(faults)
        self.headers = dict(headers or {})


def install(app: Flask) -> None:
    """Tell what goes wrong under /api as a problem, and elsewhere as a page."""
    app.register_error_handler(DeskError, _answer_expected)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(OSError, _system)


def _answer_expected(error: DeskError) -> Response:
    if is_api():
        return of_error(error)
    title = "Not here" if error.http_status == 404 else "That did not work"
    return _page(error.http_status, title, str(error), error.advice)


def _system(error: OSError) -> Response:
    if is_disk_full(error):
        return _answer_expected(
            StorageError("The disk is full.", "Make room on it; what can be read goes on meanwhile.")
        )
    raise error


def _http(error: HTTPException) -> AnyResponse | HTTPException:
    code = error.code or 500
    if is_api():
        return of_http(error)
    title, sentence = "That did not work", "The desk does not answer such a request."
    if code == 404:
        title, sentence = "Not here", "There is no page at this address."
    elif code >= 500:
        title, sentence = "Something broke", "The desk failed on this page; the pictures are safe in the store."
    return _page(code, title, sentence, "Go back to the list and try again.")


def _page(status: int, title: str, sentence: str, advice: str) -> Response:
    page = ErrorPage(programme=config().programme, code=status, title=title, sentence=sentence, advice=advice)
    return show("error.html", page, status)


def problem(
    status: int, detail: str, faults: Sequence[Fault] = (), headers: Mapping[str, str] | None = None
) -> Response:
    """The answer that tells a problem."""
    told: dict[str, object] = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
    }
    if faults:
        told["errors"] = [asdict(fault) for fault in faults]
    answer = Response(json.dumps(told), status, headers, content_type=PROBLEM_TYPE)
    if status == 401:
        answer.headers["WWW-Authenticate"] = 'Bearer realm="moondesk"'
    return answer


def refuse(status: int, detail: str) -> Response:
    """A request that the door does not let in. detail: where a program is told nothing else."""
    return problem(status, REFUSALS.get(status, detail))


def of_error(error: DeskError) -> Response:
    """An expected error of the desk as a problem."""
    # what is not there: the desk's advice is the way back to a page
    detail = str(error) if isinstance(error, NotStoredError) else f"{error} {error.advice}".strip()
    if isinstance(error, ProblemError):
        return problem(error.http_status, detail, error.faults, error.headers)
    if isinstance(error, RundownChangedError):
        return problem(
            409,
            detail,
            [Fault(f"/{c.field}", f"{c.who} put {c.theirs!r} there; you want {c.mine!r}.") for c in error.clashes],
        )
    # what a well-formed request asks for and cannot have: 400 is for what cannot be read at all
    return problem(422 if isinstance(error, BadInputError) else error.http_status, detail)


def of_http(error: HTTPException) -> Response | HTTPException:
    """An error of HTTP itself as a problem; a redirection as it is."""
    status = error.code or 500
    if status < 400:
        return error
    if isinstance(error, MethodNotAllowed):
        allowed = ", ".join(sorted(error.valid_methods or ()))
        return problem(
            status, f"This address does not answer that method; it answers {allowed}.", headers={"Allow": allowed}
        )
    return problem(status, SENTENCES.get(status, error.description or "This request cannot be answered."))
