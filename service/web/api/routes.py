"""The API as a part of the desk: one route for each operation, and what every request of it passes.

A view gets the parameters by name, those of the query as `query` and the body as `body`, checked by their schemas; it
gives back a plain value, which becomes JSON, or an answer of its own.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Any

from flask import Blueprint, Flask, request
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.web.api import changing, reading
from moondesk.service.web.api.checking import check, json_of, parse, query_of
from moondesk.service.web.api.operations import BODY_BYTES, OPERATIONS, PATH_PARAMETERS, Operation
from moondesk.service.web.api.responses import json_answer
from moondesk.service.web.api.schemas import SCHEMAS
from moondesk.service.web.problems import SENTENCES, ProblemError

View = Callable[..., Any]


def install(app: Flask) -> None:
    """Register the routes."""
    api = Blueprint("api", __name__)
    for operation in OPERATIONS:
        module = changing if operation.changes else reading
        view: View = getattr(module, operation.name)
        api.add_url_rule(
            rule_of(operation.path), operation.name, partial(_answer, operation, view), methods=[operation.method]
        )
    app.register_blueprint(api)


def rule_of(path: str) -> str:
    """An address of the table as the router writes it."""
    return re.sub(r"{(\w+)}", r"<\1>", path)


def _answer(operation: Operation, view: View, **parts: str) -> AnyResponse:
    parameters: dict[str, Any] = {name: _part(name, text) for name, text in parts.items()}
    values, faults = query_of(request.args.items(multi=True), operation.query)
    if faults:
        raise ProblemError(
            422,
            "The address asks for something that is not there or is not so.",
            "See errors; /api/openapi.json lists what it takes.",
            faults,
        )
    if operation.query:
        parameters["query"] = values
    if operation.body:
        parameters["body"] = _body(operation)
    told = view(**parameters)
    return told if isinstance(told, AnyResponse) else json_answer(told)


def _part(name: str, text: str) -> Any:
    """A variable part of the address. Left to the router, a number out of range would look like a wrong method."""
    schema = PATH_PARAMETERS[name]
    value = parse(text, schema)
    if check(value, schema):
        raise ProblemError(404, SENTENCES[404])
    return value


def _body(operation: Operation) -> Any:
    if request.mimetype != "application/json":
        raise ProblemError(415, "The body must be JSON.", "Send it with Content-Type: application/json.")
    if (request.content_length or 0) > BODY_BYTES:
        raise ProblemError(413, f"The body must not be larger than {BODY_BYTES:,} bytes.")
    try:
        value = json_of(request.get_data())
    except ValueError as error:
        raise ProblemError(400, str(error)) from None
    faults = check(value, SCHEMAS[operation.body])
    if faults:
        raise ProblemError(
            422,
            "The body is not as it should be; nothing was changed.",
            "See errors; /api/openapi.json says what it takes.",
            faults,
        )
    return value
