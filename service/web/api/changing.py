"""The views of the API that change something: picks, items, consents. The desk's own rules hold here too.

What a client saw is checked twice: its ETag against the rundown as it is (412), and by the store, within the
transaction, against what comes between (409).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response, url_for

from moondesk.service.errors import NotStoredError
from moondesk.service.programme.permission import permission_of
from moondesk.service.programme.rundown import CREDIT, NOTE, PRONUNCIATION, names_one_who_asked_not_to_be, read_consent
from moondesk.service.store import letters, rundowns
from moondesk.service.store.editions import read_edition
from moondesk.service.store.pictures import list_by_id, read_picture
from moondesk.service.store.records import Edition
from moondesk.service.store.rundown_items import RundownItem, Value
from moondesk.service.store.submissions import add_consent, submission
from moondesk.service.texts import clean_text
from moondesk.service.web.access.sessions import actor, now
from moondesk.service.web.api import shapes
from moondesk.service.web.api.reading import rundown_told
from moondesk.service.web.api.responses import check_match, json_answer, with_etag
from moondesk.service.web.current import config, storage
from moondesk.service.web.problems import Fault, ProblemError

Body = Mapping[str, Any]
_LONGEST = {"credit_line": CREDIT, "pronunciation": PRONUNCIATION, "note": NOTE}


def pick(number: int, body: Body) -> Response:
    edition = read_edition(storage(), number)
    try:
        added = rundowns.add(storage(), edition.id, int(body["picture_id"]), actor().name, now())
    except NotStoredError as error:  # the address is right, the body is not
        raise ProblemError(422, str(error), faults=[Fault("/picture_id", "There is no such picture.")]) from None
    answer = _item_answer(edition, added.item_id, 200 if added.how == "already" else 201)
    if answer.status_code == 201:
        answer.headers["Location"] = url_for("api.edit", number=number, item_id=added.item_id)
    return answer


def edit(number: int, item_id: int, body: Body) -> Response:
    edition = read_edition(storage(), number)
    seen, item = _version_of_client(edition, item_id)
    values: dict[str, Value] = {
        field: clean_text(value, _LONGEST[field]) if isinstance(value, str) else None if value is None else int(value)
        for field, value in body.items()
    }
    credit = values.get("credit_line")
    if isinstance(credit, str) and names_one_who_asked_not_to_be(
        credit, read_picture(storage(), item.picture_id).submission.arrival
    ):
        raise ProblemError(
            422,
            "The sender asks not to be named, and this line names them.",
            'Write one without the name, or "" for no name at all.',
            [Fault("/credit_line", "It names the sender.")],
        )
    rundowns.edit(storage(), edition.id, item_id, values, seen, actor().name, now())
    return _item_answer(edition, item_id)


def move(number: int, item_id: int, body: Body) -> Response:
    edition = read_edition(storage(), number)
    seen, _ = _version_of_client(edition, item_id)
    after = int(body["after_item_id"])
    if after and rundowns.rundown(storage(), edition.id).item(after) is None:
        raise ProblemError(
            422,
            "The item after which it is to stand is not in this rundown.",
            faults=[Fault("/after_item_id", "There is no such item.")],
        )
    rundowns.move(storage(), edition.id, item_id, after, seen, actor().name, now())
    found = rundowns.rundown(storage(), edition.id)
    return with_etag(json_answer(rundown_told(found, edition)), found.version)


def take_out(number: int, item_id: int) -> Response:
    edition = read_edition(storage(), number)
    seen, _ = _version_of_client(edition, item_id)
    rundowns.take_out(storage(), edition.id, item_id, seen, actor().name, now())
    answer = Response(status=204)
    del answer.headers["Content-Type"]
    return with_etag(answer, rundowns.rundown(storage(), edition.id).version)


def note_consent(picture_id: int, body: Body) -> Response:
    found = read_picture(storage(), picture_id)
    form = {
        "answer": body["state"],
        "way": body["kind"],
        "words": body.get("evidence", ""),
        "message_id": clean_text(body.get("message_id", "")),
        "guardian": "1" if body.get("guardian") else "",
        "whole": "1" if body.get("whole_submission") else "",
    }
    reading = read_consent(form, picture_id, actor().name)
    if reading.record is None:
        raise ProblemError(
            422, f"{reading.complaint} Nothing was noted.", faults=[Fault("/evidence", reading.complaint)]
        )
    add_consent(storage(), found.submission.id, reading.record, now())
    (listed,) = list_by_id(storage(), [picture_id])
    return json_answer(shapes.consents(listed.picture, permission_of(listed, config().entry_terms)), 201)


def read_letter(submission_id: int, body: Body) -> Response:
    letters.set_read(storage(), submission_id, bool(body["read"]), actor().name, now())
    return json_answer(shapes.submission(submission(storage(), submission_id), config().entry_terms))


def _version_of_client(edition: Edition, item_id: int) -> tuple[int, RundownItem]:
    """The version that the client saw, and the item. Raises NotStoredError, ProblemError."""
    found = rundowns.rundown(storage(), edition.id)
    item = found.item(item_id)
    if item is None:
        raise NotStoredError(f"There is no item {item_id} in this rundown.")
    check_match(found.version)
    return found.version, item


def _item_answer(edition: Edition, item_id: int, status: int = 200) -> Response:
    """An item as it is now; taken out or erased at this very moment, it is no item any more."""
    found = rundowns.rundown(storage(), edition.id)
    place = next((n for n, i in enumerate(found.items, 1) if i.id == item_id), None)
    item = found.item(item_id)
    listed = list_by_id(storage(), [item.picture_id]) if item else ()
    if item is None or place is None or not listed:
        raise ProblemError(409, "The picture was taken out of the rundown at this moment.", "Read the rundown again.")
    return with_etag(json_answer(shapes.item(item, place, listed[0], config()), status), found.version)
