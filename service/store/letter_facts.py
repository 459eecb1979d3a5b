"""What was read in a letter, and what people have said to it: right, or wrong and then it counts no more."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from moondesk.service.errors import NotStoredError
from moondesk.service.store import audit
from moondesk.service.store.records import SuggestedField
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage

Decided = Literal["", "accepted", "wrong"]


@dataclass(frozen=True, kw_only=True)
class LetterFact:
    """A suggestion as its letter's page shows it. letter_id: the later mail that it stands in, if it does."""

    id: int
    submission_id: int
    field: SuggestedField
    value: str
    words: str
    source: str
    letter_id: int | None = None
    decided: Decided = ""
    decided_by: str = ""
    decided_utc: datetime | None = None


def facts_of(storage: Storage, submission_id: int) -> tuple[LetterFact, ...]:
    """All that was read of a submission, also what was called wrong, in the order of reading."""
    rows = storage.read("select * from suggestions where submission_id = ? order by id", [submission_id])
    return tuple(_fact(row) for row in rows)


def fact(storage: Storage, submission_id: int, fact_id: int) -> LetterFact:
    """Raises NotStoredError."""
    for found in facts_of(storage, submission_id):
        if found.id == fact_id:
            return found
    raise NotStoredError("There is no such fact in this letter.", "Load the page again.")


def decide_fact(storage: Storage, found: LetterFact, decided: Decided, who: str, now: datetime) -> None:
    """Note that a person accepts it, calls it wrong, or takes either back (""). Raises ValueError where nobody is named."""
    if not who.strip():
        raise ValueError("a decision names who made it")
    with storage.writing():
        storage.execute(
            "update suggestions set decided = ?, decided_by = ?, decided_utc = ? where id = ?",
            [decided, who if decided else "", time_text(now) if decided else None, found.id],
        )
        audit.note(storage, now, who, f"fact_{decided or 'open'}", submission=found.submission_id, field=found.field)


def letters_with(storage: Storage, words: str, most: int) -> tuple[int, ...]:
    """Submissions whose letter holds all of some words, parts of words too, the last received first."""
    wanted = words.split()
    if not wanted:
        return ()
    clauses = " and ".join("l.rowid in (" + rows_with(word) + ")" for word in wanted)
    rows = storage.read(
        f"""
        select s.id from letter_search l join submissions s on s.id = l.rowid where {clauses}
        order by coalesce(s.received_utc, s.stored_utc) desc, s.id desc limit ?
        """,
        [*map(part_value, wanted), most],
    )
    return tuple(row["id"] for row in rows)


#: The index knows parts of three characters and more, in whatever case; `like` knows the case of Latin letters alone.
_INDEXED = 3


def rows_with(word: str) -> str:
    """A query of the rows of `letter_search` that hold a part of a word, for `part_value`."""
    return "select rowid from letter_search where words " + (
        "match ?" if len(word) >= _INDEXED else "like ? escape '\\'"
    )


def part_value(word: str) -> str:
    if len(word) >= _INDEXED:
        return '"' + word.replace('"', '""') + '"'
    escaped = word.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    return f"%{escaped}%"


def drop_erased(storage: Storage) -> None:
    """Within a transaction that erased letters: leave nothing of their words in the index."""
    storage.execute("insert into letter_search (letter_search) values ('optimize')")


def _fact(row: dict[str, Any]) -> LetterFact:
    return LetterFact(
        id=row["id"],
        submission_id=row["submission_id"],
        field=row["field"],
        value=row["value"],
        words=row["words"],
        source=row["source"],
        letter_id=row["letter_id"],
        decided=row["decided"],
        decided_by=row["decided_by"],
        decided_utc=text_time(row["decided_utc"]),
    )
