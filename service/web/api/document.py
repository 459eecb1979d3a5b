"""The OpenAPI 3.1 document, made from the table of operations. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from moondesk.service.web.api.operations import ENTITY_TAGS, OPERATIONS, PATH_PARAMETERS, Operation
from moondesk.service.web.api.schemas import SCHEMAS, ref

DESCRIPTION = """\
The data of the desk for programs. It may change until version 1.0; from then on fields are only added.

**Who may ask.** Each request carries a token: `Authorization: Bearer moondesk_...`. It is made at the desk under "My
account", and may do at most what that account may.

**Values.** Units stand in the names. Times are UTC, ISO 8601 with Z; evenings are dates in the programme's zone, from
noon to noon. What is not known is null, or "" where it is a text. A placing or a time with `sure` false, or a clock
that disagrees, is not to be told on air before somebody has looked.

**Personal data.** Names and addresses of senders are for the programme's own use, and what a sender takes back is
erased here: do not keep copies longer than you need them.

**Requests** hold only what is listed: a parameter or a field that is not known is refused with 422. Problems are told
by RFC 9457.
"""


def document(version: str) -> dict[str, Any]:
    """version: of the program."""
    paths: dict[str, dict[str, Any]] = {}
    for operation in OPERATIONS:
        paths.setdefault(operation.path, {})[operation.method.lower()] = _operation(operation)
    return {
        "openapi": "3.1.0",
        "info": {"title": "Moon desk", "version": version, "description": DESCRIPTION},
        "servers": [{"url": "/"}],
        "security": [{"token": []}],
        "paths": paths,
        "components": {"schemas": dict(SCHEMAS), "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}}},
    }


def errors_of(operation: Operation) -> tuple[int, ...]:
    """Statuses of the problems that an operation can tell. 400: what cannot be read at all, or the wrong way here."""
    found = {400, 422, 503, *operation.errors}
    if not operation.everyone:
        found |= {401, 403}
    if "{" in operation.path:
        found.add(404)
    if operation.changes:
        found.add(413)
    if operation.body:
        found.add(415)
    if operation.if_match:
        found |= {412, 428}
    return tuple(sorted(found))


def _operation(operation: Operation) -> dict[str, Any]:
    told: dict[str, Any] = {
        "operationId": operation.name,
        "summary": operation.title,
        "parameters": [*_in_path(operation.path), *_in_query(operation), *_in_header(operation)],
        "responses": {
            **{str(status): _answer(operation, status, name) for status, name in operation.answers.items()},
            **{str(status): _problem(operation, status) for status in errors_of(operation)},
        },
    }
    if operation.words:
        told["description"] = operation.words.strip()
    if operation.body:
        told["requestBody"] = {"required": True, "content": {"application/json": {"schema": ref(operation.body)}}}
    if operation.everyone:
        told["security"] = []
    return told


def _in_path(path: str) -> list[dict[str, Any]]:
    return [
        {"name": name, "in": "path", "required": True, "schema": PATH_PARAMETERS[name]}
        for name in re.findall(r"{(\w+)}", path)
    ]


def _in_query(operation: Operation) -> list[dict[str, Any]]:
    return [{"name": q.name, "in": "query", "required": False, "schema": q.schema} for q in operation.query]


def _in_header(operation: Operation) -> list[dict[str, Any]]:
    if not operation.if_match:
        return []
    return [
        {
            "name": "If-Match",
            "in": "header",
            "required": True,
            "schema": {"type": "string", "pattern": ENTITY_TAGS},
            "description": "The ETag of the rundown as it was last read, or * for whatever it is now.",
        }
    ]


def _answer(operation: Operation, status: int, name: str) -> dict[str, Any]:
    told: dict[str, Any] = {"description": HTTPStatus(status).phrase}
    if name == "image":
        told["content"] = {
            kind: {"schema": {"type": "string", "contentMediaType": kind}} for kind in ("image/jpeg", "image/png")
        }
    elif name == "document":
        told["content"] = {"application/json": {"schema": {"type": "object"}}}
    elif name:
        told["content"] = {"application/json": {"schema": ref(name)}}
    headers: dict[str, Mapping[str, Any]] = {}
    if operation.tagged:
        headers["ETag"] = {"description": "Version of the rundown.", "required": True, "schema": {"type": "string"}}
    if status == 201 and operation.tagged:
        headers["Location"] = {
            "description": "Where the item is changed.",
            "required": True,
            "schema": {"type": "string"},
        }
    return {**told, **({"headers": headers} if headers else {})}


def _problem(operation: Operation, status: int) -> dict[str, Any]:
    told: dict[str, Any] = {
        "description": HTTPStatus(status).phrase,
        "content": {"application/problem+json": {"schema": ref("Problem")}},
    }
    if status == 412:
        told["headers"] = {
            "ETag": {"description": "Version of the rundown as it is now.", "schema": {"type": "string"}}
        }
    return told
