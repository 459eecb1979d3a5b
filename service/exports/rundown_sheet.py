"""An edition's rundown to hold in hand: what the page prints, and the same as CSV and JSON. Pure but for the plan.

Only what may go on air is in it; what may not is named with its reason on paper, and is in no file for programs.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta

from moondesk.service.csv_safe import csv_text
from moondesk.service.programme.air_plan import AirNote, AirPlan
from moondesk.service.programme.rundown import length_words
from moondesk.service.programme.words import hour_words

COLUMNS = ("place", "starts", "length", "sender", "credit", "pronunciation", "note", "notes")


@dataclass(frozen=True, kw_only=True)
class SheetItem:
    """starts: counted from the first picture, minutes and seconds; at: on the clock, where the edition has an hour."""

    place: int
    picture_id: int
    starts: str
    at: str
    length: str
    sender: str
    credit: str
    pronunciation: str
    note: str
    notes: tuple[AirNote, ...]


def sheet_of(plan: AirPlan, pictures: dict[int, int], air_utc: datetime | None, zone: str) -> tuple[SheetItem, ...]:
    """pictures: ids of the items' pictures, by item. air_utc: when the first picture is on air."""
    found, at = [], 0
    for place, item in enumerate(plan.items, 1):
        when = hour_words(air_utc + timedelta(seconds=at), zone) if air_utc else ""
        found.append(
            SheetItem(
                place=place,
                picture_id=pictures[item.id],
                starts=length_words(at),
                at=when,
                length=length_words(item.seconds),
                sender=item.sender,
                credit=item.credit,
                pronunciation=item.pronunciation,
                note=item.note,
                notes=item.notes,
            )
        )
        at += item.seconds
    return tuple(found)


def as_csv(items: tuple[SheetItem, ...]) -> str:
    """See `cells`."""
    return csv_text(
        COLUMNS,
        (
            (
                item.place,
                item.starts,
                item.length,
                item.sender,
                item.credit,
                item.pronunciation,
                item.note,
                " ".join(sentence for note in item.notes if not note.more for sentence in note.sentences),
            )
            for item in items
        ),
    )


def as_json(edition: int, programme: str, items: tuple[SheetItem, ...]) -> str:
    return json.dumps(
        {"programme": programme, "edition": edition, "items": [asdict(item) for item in items]},
        ensure_ascii=False,
        indent=1,
    )
