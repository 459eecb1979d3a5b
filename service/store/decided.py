"""What a person has decided about a picture, and what follows for what was sent. Pure: no SQL, no clock.

A decision of a kind replaces the earlier ones of its kind; where it is taken back, the one before it stands again.

    circle       x, y, radius                       the edge of the disc, pixels as displayed
    pins         pins: list of [name, x, y]          named features at their pixels
    hand         mirrored                           whether left and right are exchanged
    time         utc, sigma_minutes                 when it was taken, ISO 8601; null: nobody knows it; the second only
                                                    where a night was named, not its hour
    place        name, latitude_deg, longitude_deg  where; the numbers null: not known
    sender_name, credit_line, equipment, story    text     of all pictures of the submission

Other kinds are kept and shown, and change nothing here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from moondesk.service.store.records import Arrival

if TYPE_CHECKING:
    from moondesk.corrections import Corrections

#: Said of the submission, and so of all its pictures.
OF_SUBMISSION = ("sender_name", "credit_line", "equipment", "story")
#: After these the picture is placed anew.
PLACING = ("circle", "pins", "hand", "time", "place")
#: Of these `Corrections` are made; time and place go into what is known of the picture.
BY_HAND = ("circle", "pins", "hand")


@dataclass(frozen=True, kw_only=True)
class Decision:
    """One decision. undone_utc, undone_by: when and by whom it was taken back, else None."""

    id: int
    picture_id: int
    kind: str
    what: Mapping[str, Any]
    who: str
    made_utc: datetime
    undone_utc: datetime | None = None
    undone_by: str | None = None


@dataclass(frozen=True)
class DecidedChange:
    """A decision that is to be noted. what: as its kind says above, in values that JSON has."""

    kind: str
    what: Mapping[str, Any] = field(default_factory=dict)
    #: Who has made it; empty while nobody has.
    who: str = field(default="", compare=False)


def standing_changes(decisions: Iterable[Decision]) -> tuple[DecidedChange, ...]:
    """Of each kind the last decision that was not taken back."""
    last = {d.kind: DecidedChange(d.kind, d.what, d.who) for d in decisions if d.undone_utc is None}
    return tuple(last.values())


def apply_decisions(arrival: Arrival, changes: Iterable[DecidedChange]) -> Arrival:
    """What was sent, as it stands after decisions; the later ones win."""
    for change in changes:
        what = change.what
        if change.kind in OF_SUBMISSION:
            arrival = _with_text(arrival, change.kind, str(what["text"]))
        elif change.kind == "time":
            arrival = replace(
                arrival,
                taken_utc=datetime.fromisoformat(what["utc"]) if what["utc"] else None,
                taken_by=change.who,
                taken_sigma_minutes=what.get("sigma_minutes"),
            )
        elif change.kind == "place":
            arrival = replace(arrival, place_name=str(what["name"]), place=_decided_place(what, arrival))
    return arrival


def corrections_of(changes: Iterable[DecidedChange]) -> Corrections | None:
    """What is set by hand in the picture itself; None where nothing is. Raises ValueError for what is no correction."""
    last = {c.kind: c.what for c in changes if c.kind in BY_HAND}
    if not last:
        return None
    from moondesk.corrections import Corrections  # loads the core

    circle, pins, hand = last.get("circle"), last.get("pins"), last.get("hand")
    return Corrections(
        (float(circle["x"]), float(circle["y"]), float(circle["radius"])) if circle else None,
        tuple((str(name), float(x), float(y)) for name, x, y in pins["pins"]) if pins else (),
        bool(hand["mirrored"]) if hand else None,
    )


def _with_text(arrival: Arrival, kind: str, text: str) -> Arrival:
    if kind == "sender_name":
        return replace(arrival, sender_name=text)
    if kind == "story":
        return replace(arrival, story=text)
    return replace(arrival, credit_line=text) if kind == "credit_line" else replace(arrival, equipment=text)


def _decided_place(what: Mapping[str, Any], arrival: Arrival) -> Any:
    if what["latitude_deg"] is None or what["longitude_deg"] is None:
        return None
    from moondesk.records import Place

    height = arrival.place.height_m if arrival.place else 0.0
    return Place(float(what["latitude_deg"]), float(what["longitude_deg"]), height)
