"""The rundown of an edition as records, and how two people's changes go together. Pure: no SQL, no clock.

What a change tells (`RundownChange.what`), with what stood before and after it:

    added, taken_out, put_back, withdrawn     an item comes and goes; withdrawn: its sender took it back
    moved                                     ids of the items after which it stood and stands, 0: the first place
    seconds, credit_line, pronunciation, note   a field of an item
    picture_id                                a better version of the same picture took its place
    aired                                     when it was on air; nothing: it was not
    time                                      seconds that the programme has for pictures
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from moondesk.service.store.decisions import ChangedMeanwhileError

FIELDS = ("seconds", "credit_line", "pronunciation", "note")
DEFAULT_SECONDS = 60
#: One item, and all that a programme can have for pictures.
MOST_SECONDS, MOST_TIME = 3_600, 24 * 3_600
MOST_ITEMS = 200

#: A field's value as stored: None only for a credit line that follows the sender's, and for times not told.
Value = int | str | None


@dataclass(frozen=True, kw_only=True)
class RundownItem:
    """A picture in a rundown. position: 1 for the first, counted with those taken out."""

    id: int
    picture_id: int
    position: int
    seconds: int
    #: None: as the sender's credit stands; "": no name is shown.
    credit_line: str | None
    pronunciation: str
    note: str
    added_by: str
    added_utc: datetime
    #: When and by whom it was taken out; None: it stands.
    out_utc: datetime | None = None
    out_by: str = ""
    aired_utc: datetime | None = None
    #: A better version of the same picture, which came later; None: this is the best.
    better_id: int | None = None
    #: Editions before this one in which the picture was on air.
    aired_before: tuple[int, ...] = ()

    def value(self, field: str) -> Value:
        return {
            "seconds": self.seconds,
            "credit_line": self.credit_line,
            "pronunciation": self.pronunciation,
            "note": self.note,
        }[field]


@dataclass(frozen=True, kw_only=True)
class RundownChange:
    """A line of the rundown's history; version: the rundown's after it. before, after: as text, None: nothing."""

    version: int
    item_id: int | None
    what: str
    before: str | None
    after: str | None
    who: str
    when_utc: datetime


@dataclass(frozen=True, kw_only=True)
class Rundown:
    """A rundown as it stands. items in their order; out: those taken out, the last one first."""

    edition_id: int
    version: int = 0
    #: The programme's time for pictures; None: nobody has said.
    seconds: int | None = None
    items: tuple[RundownItem, ...] = ()
    out: tuple[RundownItem, ...] = ()
    withdrawn: int = 0

    def item(self, item_id: int) -> RundownItem | None:
        return next((i for i in (*self.items, *self.out) if i.id == item_id), None)


@dataclass(frozen=True, kw_only=True)
class Added:
    """What became of a pick. place: 1 for the first. how: it stands there now, it did already, or it is back there."""

    item_id: int
    picture_id: int
    place: int
    version: int
    how: Literal["added", "already", "back"]


@dataclass(frozen=True)
class Clash:
    """Two people changed the same: what the one who comes second wants, and what the other made of it."""

    field: str
    mine: Value
    theirs: Value
    who: str


class RundownChangedError(ChangedMeanwhileError):
    """Nothing was changed. merged: what a form is to show then: one's own where one typed, else what stands now."""

    def __init__(
        self, sentence: str, advice: str, clashes: Sequence[Clash] = (), merged: Mapping[str, Value] | None = None
    ) -> None:
        super().__init__(sentence, advice)
        self.clashes = tuple(clashes)
        self.merged = dict(merged or {})


@dataclass(frozen=True)
class Merge:
    """Three states of an item's fields put together. wanted: what is to be written; merged: see the error above."""

    wanted: Mapping[str, Value]
    clashes: tuple[Clash, ...]
    merged: Mapping[str, Value]


def merge(item: RundownItem, typed: Mapping[str, Value], since: Sequence[RundownChange]) -> Merge:
    """What one person typed into an item, while others changed it.

    since: the item's changes after the version that the person saw, the oldest first. A field that is as they saw it
    was not touched by them, and stays as the others made it.
    """
    wanted: dict[str, Value] = {}
    merged: dict[str, Value] = {field: item.value(field) for field in FIELDS}
    clashes = []
    for field, mine in typed.items():
        theirs = [c for c in since if c.what == field]
        now = item.value(field)
        seen = field_value(field, theirs[0].before) if theirs else now
        if mine in (seen, now):
            continue
        wanted[field] = merged[field] = mine
        if now != seen:
            clashes.append(Clash(field, mine, now, theirs[-1].who))
    return Merge(wanted, tuple(clashes), merged)


def field_value(field: str, text: str | None) -> Value:
    """A field's value out of the history."""
    return int(text) if field in ("seconds", "time") and text is not None else text


def value_text(value: Value) -> str | None:
    """A value as the history keeps it."""
    return None if value is None else str(value)


def move_after(order: Sequence[int], item_id: int, after_id: int) -> list[int]:
    """An order of ids with one of them moved to stand right after another; 0: before all. ValueError: not there."""
    rest = [k for k in order if k != item_id]
    if len(rest) == len(order):
        raise ValueError(f"{item_id} is not in the order")
    where = rest.index(after_id) + 1 if after_id else 0
    return [*rest[:where], item_id, *rest[where:]]
