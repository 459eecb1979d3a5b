"""What people have decided about pictures: noted and taken back, never changed or removed (but with the picture)."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from moondesk.service.errors import DeskError, NotStoredError
from moondesk.service.store.decided import OF_SUBMISSION, DecidedChange, Decision, corrections_of, standing_changes
from moondesk.service.store.inbox import keep_words
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage

if TYPE_CHECKING:
    from moondesk.corrections import Corrections


class ChangedMeanwhileError(DeskError):
    """Somebody else decided about the same picture while this one did."""

    http_status = 409


def decisions_of(storage: Storage, picture_id: int) -> tuple[Decision, ...]:
    """All decisions about a picture, the oldest first; also those about its sender that were noted at another picture
    of the same submission. What was taken back is among them."""
    rows = storage.read(
        f"""
        select d.* from decisions d join pictures q on q.id = d.picture_id
        where d.picture_id = :id or (d.kind in {OF_SUBMISSION} and q.submission_id =
                                     (select submission_id from pictures where id = :id))
        order by d.id
        """,
        {"id": picture_id},
    )
    return tuple(_decision(row) for row in rows)


def standing_corrections(storage: Storage, picture_id: int) -> Corrections | None:
    """What is set by hand in a picture and not taken back: for whoever places it. None where nothing is.

    Time and place are not in it: `read_picture` gives what was sent with all that was decided.
    """
    return corrections_of(standing_changes(decisions_of(storage, picture_id)))


def revision(storage: Storage, picture_id: int) -> str:
    """A mark that changes with each decision about a picture that is made or taken back."""
    return revision_of(decisions_of(storage, picture_id))


def revision_of(decisions: Sequence[Decision]) -> str:
    return f"{max((d.id for d in decisions), default=0)}.{sum(d.undone_utc is not None for d in decisions)}"


def insert_changes(
    storage: Storage, picture_id: int, changes: Sequence[DecidedChange], who: str, now: datetime
) -> None:
    """Note decisions, within a transaction. Raises ValueError where nobody is named."""
    if not who.strip():
        raise ValueError("a decision names who made it")
    for change in changes:
        storage.execute(
            "insert into decisions (picture_id, kind, what, who, made_utc) values (?, ?, ?, ?, ?)",
            [
                picture_id,
                change.kind,
                json.dumps(change.what, ensure_ascii=False, allow_nan=False),
                who,
                time_text(now),
            ],
        )
    keep_words(storage, _siblings(storage, picture_id))


def take_back(storage: Storage, decision_id: int, who: str, now: datetime) -> None:
    """Take a decision back, within a transaction. Raises ChangedMeanwhileError where it is not standing any more."""
    if not storage.execute(
        "update decisions set undone_utc = ?, undone_by = ? where id = ? and undone_utc is null",
        [time_text(now), who, decision_id],
    ):
        raise ChangedMeanwhileError("Somebody else has taken this back already.", "Look at the page again.")
    (row,) = storage.read("select picture_id from decisions where id = ?", [decision_id])
    keep_words(storage, _siblings(storage, row["picture_id"]))


def decision(storage: Storage, picture_id: int, decision_id: int) -> Decision:
    """One decision that a picture's page lists. Raises NotStoredError."""
    for found in decisions_of(storage, picture_id):
        if found.id == decision_id:
            return found
    raise NotStoredError(f"There is no correction {decision_id} of picture {picture_id}.", "Go back to the picture.")


def check_revision(storage: Storage, picture_id: int, seen: str) -> None:
    """Raise ChangedMeanwhileError unless the picture's decisions are those that somebody saw."""
    if revision(storage, picture_id) != seen:
        raise ChangedMeanwhileError(
            "Somebody else has corrected this picture meanwhile; nothing was changed.",
            "Look at the picture as it is now, and correct it again if it is still wrong.",
        )


def _siblings(storage: Storage, picture_id: int) -> list[int]:
    """The pictures of the same submission, itself among them: names are theirs together."""
    rows = storage.read(
        "select id from pictures where submission_id = (select submission_id from pictures where id = ?)", [picture_id]
    )
    return [row["id"] for row in rows]


def _decision(row: dict[str, Any]) -> Decision:
    return Decision(
        id=row["id"],
        picture_id=row["picture_id"],
        kind=row["kind"],
        what=json.loads(row["what"]),
        who=row["who"],
        made_utc=datetime.fromisoformat(row["made_utc"]),
        undone_utc=text_time(row["undone_utc"]),
        undone_by=row["undone_by"],
    )
