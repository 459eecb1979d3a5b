"""Answers of the API: JSON, and the version of a rundown as an entity tag (RFC 9110, 8.8.3 and 13.1.1)."""

from __future__ import annotations

import json
import re
from typing import Any

from flask import Response, request

from moondesk.service.web.api.operations import ENTITY_TAGS
from moondesk.service.web.problems import Fault, ProblemError


def json_answer(value: Any, status: int = 200) -> Response:
    """A value as JSON; numbers that JSON does not have are a fault of ours and raise ValueError."""
    return Response(json.dumps(value, allow_nan=False, separators=(",", ":")), status, content_type="application/json")


def with_etag(answer: Response, version: int) -> Response:
    """The same with the rundown's version as its ETag."""
    answer.set_etag(str(version))
    return answer


def check_match(version: int) -> None:
    """Refuse a change that was made from another version of the rundown than this one (412), or from none (428)."""
    given = request.headers.get("If-Match", "").strip()
    if not given:
        raise ProblemError(
            428,
            "A change in the rundown wants the header If-Match.",
            "Read the rundown and send its ETag: so nobody's change is lost.",
            [Fault("header If-Match", "It is missing.")],
        )
    if not re.fullmatch(ENTITY_TAGS, given):
        raise ProblemError(
            400,
            "If-Match is no list of entity tags.",
            'Send the ETag as it came, like "12".',
            [Fault("header If-Match", "It cannot be read.")],
        )
    if not request.if_match.contains(str(version)):
        raise ProblemError(
            412,
            "Somebody has changed the rundown since you read it; nothing was changed.",
            "Read it again, look whether your change still fits, and send it with the new ETag.",
            [Fault("header If-Match", f'It is "{version}" now.')],
            {"ETag": f'"{version}"'},
        )
