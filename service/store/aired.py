"""What was on air, edition by edition: the picture, the credit and the frame as they were then.

Lines are noted and struck with the rundown's own note (`rundowns.note_aired`). Where a sender is forgotten, only the
time of the line stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from moondesk.service.store.records import Appearance, sender_key
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage

if TYPE_CHECKING:
    from moondesk.service.store.rundown_items import RundownItem


@dataclass(frozen=True)
class AsAired:
    """credit: as it stood on the frame; frame: SHA-256 of the frame, a PNG in the media store, "" where none is
    kept."""

    credit: str = ""
    frame: str = ""


@dataclass(frozen=True, kw_only=True)
class Aired:
    """A line of the history. picture_id None: its sender was forgotten, and credit and frame with them."""

    id: int
    edition_number: int
    picture_id: int | None
    aired_utc: datetime
    credit: str
    frame: str


def add(storage: Storage, edition_id: int, item: RundownItem, when: datetime, kept: AsAired) -> None:
    """Within a transaction."""
    storage.execute(
        "insert into aired (edition_id, item_id, picture_id, aired_utc, credit, frame) values (?, ?, ?, ?, ?, ?)",
        [edition_id, item.id, item.picture_id, time_text(when), kept.credit, kept.frame],
    )


def strike(storage: Storage, edition_id: int, item_id: int) -> None:
    """Within a transaction: it was not on air after all; its frame goes with the next files that are erased."""
    where = "from aired where edition_id = ? and item_id = ?"
    storage.execute(f"insert or ignore into files_to_erase select frame {where} and frame <> ''", [edition_id, item_id])
    storage.execute(f"delete {where}", [edition_id, item_id])


def nameless(storage: Storage, picture_ids_sql: str, values: Sequence[Any]) -> None:
    """Within a transaction, before pictures are erased: of their lines only edition and time stay."""
    storage.execute(
        "update aired set item_id = null, picture_id = null, credit = '', frame = '' "
        f"where picture_id in ({picture_ids_sql})",
        values,
    )


def lines(storage: Storage, words: str = "", feature: str = "", most: int = 300) -> tuple[Aired, ...]:
    """The newest first, at most so many. words: all must stand in the credit, the sender's name, place, equipment or
    what is best seen, in any case, or be the edition's number; feature: its exact name, in good light in the
    picture."""
    said, values = ["1"], []
    for word in words.casefold().split()[:8]:
        said.append("(instr(p.words, ?) > 0 or instr(lower(a.credit), ?) > 0 or cast(e.number as text) = ?)")
        values += [word, word, word]
    if feature:
        said.append("a.picture_id in (select picture_id from shown where feature = ?)")
        values.append(feature)
    rows = storage.read(
        f"""
        select a.*, e.number from aired a join editions e on e.id = a.edition_id
        left join pictures p on p.id = a.picture_id
        where {" and ".join(said)} order by a.aired_utc desc, e.number desc, a.id limit ?
        """,
        [*values, most],
    )
    return tuple(map(_line, rows))


def line(storage: Storage, line_id: int) -> Aired | None:
    rows = storage.read(
        "select a.*, e.number from aired a join editions e on e.id = a.edition_id where a.id = ?", [line_id]
    )
    return _line(rows[0]) if rows else None


def _line(row: dict[str, Any]) -> Aired:
    return Aired(
        id=row["id"],
        edition_number=row["number"],
        picture_id=row["picture_id"],
        aired_utc=datetime.fromisoformat(row["aired_utc"]),
        credit=row["credit"],
        frame=row["frame"],
    )


def submission_aired(storage: Storage, submission_id: int) -> datetime | None:
    """When a picture of a submission was on air, the first time; None: none was."""
    (row,) = storage.read("select min(aired_utc) as utc from pictures where submission_id = ?", [submission_id])
    return text_time(row["utc"])


def edition_aired(storage: Storage, edition_id: int) -> datetime | None:
    """When the first picture of an edition was on air, as a person has noted it; None: nobody has."""
    (row,) = storage.read("select min(aired_utc) as utc from rundown_items where edition_id = ?", [edition_id])
    return text_time(row["utc"])


def appearances(storage: Storage, last: int | None = None, before: int | None = None) -> tuple[Appearance, ...]:
    """What was on air, the newest edition first.

    last: only in so many editions that had something on air; before: only in editions of lower numbers than this one.
    """
    rows = storage.read(
        """
        with counted as (select id, number from editions where (:before is null or number < :before) and id in
                         (select edition_id from rundown_items where aired_utc is not null)
                         order by number desc limit coalesce(:last, -1))
        select i.picture_id, i.aired_utc, c.number, s.sender_address, s.sender_name, s.place_name from counted c
        join rundown_items i on i.edition_id = c.id and i.aired_utc is not null
        join pictures p on p.id = i.picture_id join submissions s on s.id = p.submission_id
        order by c.number desc, i.position
        """,
        {"last": last, "before": before},
    )
    return tuple(
        Appearance(
            picture_id=row["picture_id"],
            sender=sender_key(row["sender_address"], row["sender_name"]),
            edition_number=row["number"],
            aired_utc=datetime.fromisoformat(row["aired_utc"]),
            place_name=row["place_name"],
        )
        for row in rows
    )
