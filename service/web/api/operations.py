"""The table of all that the API answers: the document is made of it, and so are the routes. Pure.

The name of an operation is that of its view in `reading` or `changing`, of its endpoint (`api.name`, for its line in
`moondesk.service.web.access.roles`), and its operationId.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from moondesk.service.web.api.schemas import IMAGES, MOST_ID, Schema, of, text

MOST_LISTED, LISTED = 200, 50
#: Of a page of a search; further back than this it is narrowed, not leafed through.
MOST_OFFSET = 20_000
#: A body is a few fields.
BODY_BYTES = 20_000
#: What If-Match may hold (RFC 9110, 8.8.3 and 13.1.1).
ENTITY_TAGS = r'^(\*|(W/)?"[!#-~]{0,64}"( ?, ?(W/)?"[!#-~]{0,64}"){0,9})$'


@dataclass(frozen=True)
class Query:
    """A parameter of the address. schema: of one kind of value, with a default or without."""

    name: str
    schema: Mapping[str, Any]


@dataclass(frozen=True)
class Operation:
    """One method of one address. answers: name of the schema by status; "" for no body, "image" for a picture.

    errors: statuses besides those that follow from the rest (see `document.errors_of`). if_match: the header is wanted.
    tagged: the answer's ETag is the rundown's version. everyone: strangers may ask too.
    """

    name: str
    method: str
    path: str
    title: str
    answers: Mapping[int, str]
    words: str = ""
    query: tuple[Query, ...] = ()
    body: str = ""
    errors: tuple[int, ...] = ()
    if_match: bool = False
    tagged: bool = False
    everyone: bool = False

    @property
    def changes(self) -> bool:
        return self.method != "GET"


PATH_PARAMETERS: Mapping[str, Schema] = MappingProxyType(
    {
        "number": of("integer", "The edition's number.", minimum=0, maximum=MOST_ID),
        "submission_id": of("integer", minimum=0, maximum=MOST_ID),
        "picture_id": of("integer", minimum=0, maximum=MOST_ID),
        "item_id": of("integer", minimum=0, maximum=MOST_ID),
        "image": text(enum=list(IMAGES)),
    }
)

_LIMIT = Query("limit", of("integer", "At most so many.", minimum=1, maximum=MOST_LISTED, default=LISTED))
_ITEMS = "/api/editions/{number}/rundown/items"
_LOCKED = (
    "Wants If-Match with the ETag of the rundown as it was last read: 412 where somebody has changed it since, "
    "409 where somebody changes the same at this moment. "
)

OPERATIONS: tuple[Operation, ...] = (
    Operation("openapi", "GET", "/api/openapi.json", "This document", {200: "document"}, everyone=True),
    Operation("editions", "GET", "/api/editions", "All editions", {200: "Editions"}),
    Operation(
        "edition", "GET", "/api/editions/{number}", "An edition and where its pictures stand", {200: "EditionCounts"}
    ),
    Operation(
        "submissions",
        "GET",
        "/api/editions/{number}/submissions",
        "What was sent for an edition",
        {200: "Submissions"},
        "In the order in which it was stored: `after` finds what came since.",
        (
            Query(
                "after",
                of("integer", "Only those stored after the one of this id.", minimum=0, maximum=MOST_ID, default=0),
            ),
            _LIMIT,
        ),
    ),
    Operation("submission", "GET", "/api/submissions/{submission_id}", "One submission", {200: "Submission"}),
    Operation(
        "letter",
        "GET",
        "/api/submissions/{submission_id}/letter",
        "The text of a mail",
        {200: "Letter"},
        "Personal data: for those who read the programme's mail.",
    ),
    Operation(
        "read_letter",
        "PUT",
        "/api/submissions/{submission_id}/letter/read",
        "Say that a letter was read",
        {200: "Submission"},
        "An unread letter holds all of its sender's pictures: none of them may go on air.",
        body="LetterRead",
    ),
    Operation(
        "pictures",
        "GET",
        "/api/pictures",
        "Find pictures",
        {200: "Pictures"},
        "Of several versions of one the best alone. All that is asked must fit.",
        (
            Query(
                "q",
                text(
                    "Words that stand in sender's name, place, subject, equipment, file name, or what is best seen.",
                    maxLength=100,
                    default="",
                ),
            ),
            Query(
                "shows",
                text(
                    "Exact name of a feature in good light; only where the placing is sure.", maxLength=100, default=""
                ),
            ),
            Query("place", text("Exact name of the place, case apart.", maxLength=100, default="")),
            Query("edition", of("integer", "Number of an edition.", minimum=0, maximum=MOST_ID)),
            Query("first_time", of("boolean", "Only of those who sent nothing before.", default=False)),
            _LIMIT,
            Query("offset", of("integer", "Leave out so many.", minimum=0, maximum=MOST_OFFSET, default=0)),
        ),
        errors=(404,),
    ),
    Operation("picture", "GET", "/api/pictures/{picture_id}", "One picture", {200: "Picture"}),
    Operation(
        "features",
        "GET",
        "/api/pictures/{picture_id}/features",
        "What a picture shows",
        {200: "Features"},
        "Empty where it is not placed.",
        (
            Query(
                "min_seen",
                of("number", "Only what can be made out with at least this chance.", minimum=0, maximum=1, default=0),
            ),
        ),
    ),
    Operation(
        "notes",
        "GET",
        "/api/pictures/{picture_id}/notes",
        "What can be said of a picture",
        {200: "Notes"},
        "Nothing is said of what is not in the light or not in the frame.",
        (
            Query(
                "edition",
                of(
                    "integer",
                    "Number of the edition that it is shown in: what is new is counted from "
                    "the one before. Without it the one that it came in for.",
                    minimum=0,
                    maximum=MOST_ID,
                ),
            ),
            Query("claim", text("A sentence to be checked, in English.", maxLength=200, default="")),
        ),
        errors=(404,),
    ),
    Operation(
        "image",
        "GET",
        "/api/pictures/{picture_id}/images/{image}",
        "A picture made of what was sent",
        {200: "image"},
        "Without the metadata of the file that was sent. No original is given out.",
    ),
    Operation(
        "note_consent",
        "POST",
        "/api/pictures/{picture_id}/consents",
        "Note a consent",
        {201: "ConsentNoted"},
        "Notes are added, never changed; the newest counts.",
        body="ConsentNote",
    ),
    Operation(
        "rundown",
        "GET",
        "/api/editions/{number}/rundown",
        "The rundown of an edition",
        {200: "Rundown"},
        "Its ETag names the version: it is another after every change that somebody makes in the rundown.",
        tagged=True,
    ),
    Operation(
        "pick",
        "POST",
        _ITEMS,
        "Pick a picture",
        {200: "RundownItem", 201: "RundownItem"},
        "The best of its versions goes to the end. 200: it stands there already and stays where it is.",
        body="RundownPick",
        tagged=True,
    ),
    Operation(
        "edit",
        "PATCH",
        _ITEMS + "/{item_id}",
        "Change an item",
        {200: "RundownItem"},
        _LOCKED,
        body="RundownEdit",
        errors=(409,),
        if_match=True,
        tagged=True,
    ),
    Operation(
        "move",
        "PUT",
        _ITEMS + "/{item_id}/place",
        "Move an item",
        {200: "Rundown"},
        _LOCKED,
        body="RundownPlace",
        errors=(409,),
        if_match=True,
        tagged=True,
    ),
    Operation(
        "take_out",
        "DELETE",
        _ITEMS + "/{item_id}",
        "Take an item out",
        {204: ""},
        _LOCKED + "All that was typed is kept: picked again, the picture comes back with it.",
        errors=(409,),
        if_match=True,
        tagged=True,
    ),
    Operation(
        "coming",
        "GET",
        "/api/coming",
        "Evenings to come",
        {200: "Evenings"},
        "Where sun_caution is not none, pass the cautions on with whatever is asked of viewers.",
        (
            Query("first", text("The first evening; without it this one.", format="date", maxLength=10)),
            Query("evenings", of("integer", "How many.", minimum=1, maximum=14, default=7)),
        ),
    ),
    Operation("progress", "GET", "/api/progress", "How the placing stands", {200: "Progress"}),
)
