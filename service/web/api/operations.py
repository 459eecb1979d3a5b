"""The table of all that the API answers: the document is made of it, and so are the routes. Pure.

The name of an operation is that of its view in `reading` or `changing`, of its endpoint (`api.name`, for its line in
`moondesk.service.web.access.roles`), and its operationId.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from moondesk.service.store.media import SHOWN
from moondesk.service.web.api.schemas import MOST_ID, Schema, of, one_of, text

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


@dataclass(frozen=True, kw_only=True)
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
        "image": one_of(SHOWN),
    }
)

_LIMIT = Query("limit", of("integer", "At most so many.", minimum=1, maximum=MOST_LISTED, default=LISTED))
_ITEMS = "/api/editions/{number}/rundown/items"
_LOCKED = (
    "Wants If-Match with the ETag of the rundown as it was last read: 412 where somebody has changed it since, "
    "409 where somebody changes the same at this moment. "
)

OPERATIONS: tuple[Operation, ...] = (
    Operation(
        name="openapi",
        method="GET",
        path="/api/openapi.json",
        title="This document",
        answers={200: "document"},
        everyone=True,
    ),
    Operation(name="editions", method="GET", path="/api/editions", title="All editions", answers={200: "Editions"}),
    Operation(
        name="edition",
        method="GET",
        path="/api/editions/{number}",
        title="An edition and where its pictures stand",
        answers={200: "EditionCounts"},
    ),
    Operation(
        name="submissions",
        method="GET",
        path="/api/editions/{number}/submissions",
        title="What was sent for an edition",
        answers={200: "Submissions"},
        words="In the order in which it was stored: `after` finds what came since.",
        query=(
            Query(
                "after",
                of("integer", "Only those stored after the one of this id.", minimum=0, maximum=MOST_ID, default=0),
            ),
            _LIMIT,
        ),
    ),
    Operation(
        name="submission",
        method="GET",
        path="/api/submissions/{submission_id}",
        title="One submission",
        answers={200: "Submission"},
    ),
    Operation(
        name="letter",
        method="GET",
        path="/api/submissions/{submission_id}/letter",
        title="The text of a mail",
        answers={200: "Letter"},
        words="Personal data: for those who read the programme's mail.",
    ),
    Operation(
        name="read_letter",
        method="PUT",
        path="/api/submissions/{submission_id}/letter/read",
        title="Say that a letter was read",
        answers={200: "Submission"},
        words="An unread letter holds all of its sender's pictures: none of them may go on air.",
        body="LetterRead",
    ),
    Operation(
        name="pictures",
        method="GET",
        path="/api/pictures",
        title="Find pictures",
        answers={200: "Pictures"},
        words="Of several versions of one the best alone. All that is asked must fit.",
        query=(
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
    Operation(
        name="picture", method="GET", path="/api/pictures/{picture_id}", title="One picture", answers={200: "Picture"}
    ),
    Operation(
        name="features",
        method="GET",
        path="/api/pictures/{picture_id}/features",
        title="What a picture shows",
        answers={200: "Features"},
        words="Empty where it is not placed.",
        query=(
            Query(
                "min_seen",
                of("number", "Only what can be made out with at least this chance.", minimum=0, maximum=1, default=0),
            ),
        ),
    ),
    Operation(
        name="notes",
        method="GET",
        path="/api/pictures/{picture_id}/notes",
        title="What can be said of a picture",
        answers={200: "Notes"},
        words="Nothing is said of what is not in the light or not in the frame.",
        query=(
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
        name="image",
        method="GET",
        path="/api/pictures/{picture_id}/images/{image}",
        title="A picture made of what was sent",
        answers={200: "image"},
        words="Without the metadata of the file that was sent. No original is given out.",
    ),
    Operation(
        name="note_consent",
        method="POST",
        path="/api/pictures/{picture_id}/consents",
        title="Note a consent",
        answers={201: "ConsentNoted"},
        words="Notes are added, never changed; the newest counts.",
        body="ConsentNote",
    ),
    Operation(
        name="rundown",
        method="GET",
        path="/api/editions/{number}/rundown",
        title="The rundown of an edition",
        answers={200: "Rundown"},
        words="Its ETag names the version: it is another after every change that somebody makes in the rundown.",
        tagged=True,
    ),
    Operation(
        name="pick",
        method="POST",
        path=_ITEMS,
        title="Pick a picture",
        answers={200: "RundownItem", 201: "RundownItem"},
        words="The best of its versions goes to the end. 200: it stands there already and stays where it is.",
        body="RundownPick",
        tagged=True,
    ),
    Operation(
        name="edit",
        method="PATCH",
        path=_ITEMS + "/{item_id}",
        title="Change an item",
        answers={200: "RundownItem"},
        words=_LOCKED,
        body="RundownEdit",
        errors=(409,),
        if_match=True,
        tagged=True,
    ),
    Operation(
        name="move",
        method="PUT",
        path=_ITEMS + "/{item_id}/place",
        title="Move an item",
        answers={200: "Rundown"},
        words=_LOCKED,
        body="RundownPlace",
        errors=(409,),
        if_match=True,
        tagged=True,
    ),
    Operation(
        name="take_out",
        method="DELETE",
        path=_ITEMS + "/{item_id}",
        title="Take an item out",
        answers={204: ""},
        words=_LOCKED + "All that was typed is kept: picked again, the picture comes back with it.",
        errors=(409,),
        if_match=True,
        tagged=True,
    ),
    Operation(
        name="coming",
        method="GET",
        path="/api/coming",
        title="Evenings to come",
        answers={200: "Evenings"},
        words="Where sun_caution is not none, pass the cautions on with whatever is asked of viewers.",
        query=(
            Query("first", text("The first evening; without it this one.", format="date", maxLength=10)),
            Query("evenings", of("integer", "How many.", minimum=1, maximum=14, default=7)),
        ),
    ),
    Operation(
        name="progress", method="GET", path="/api/progress", title="How the placing stands", answers={200: "Progress"}
    ),
)
