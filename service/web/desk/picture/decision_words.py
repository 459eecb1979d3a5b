"""Decisions of people in the words of the page. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from moondesk.records import Place
from moondesk.service.programme.words import join_names, place_words, time_words
from moondesk.service.store.decided import OF_SUBMISSION, Decision

TOLD = {"sender_name": "Sender", "credit_line": "Credit", "equipment": "Equipment", "story": "Story"}


@dataclass(frozen=True, kw_only=True)
class DecisionRow:
    """A decision on the page. by: who and when; undone: the same of who took it back, empty while it stands."""

    id: int
    words: str
    by: str
    undone: str
    #: Of all pictures of the submission, not of this one alone.
    wide: bool


def decision_rows(decisions: tuple[Decision, ...], zone: str) -> tuple[DecisionRow, ...]:
    """The newest first."""
    return tuple(
        DecisionRow(
            id=d.id,
            words=words_of(d.kind, d.what, zone),
            by=f"{d.who}, {time_words(d.made_utc, zone)}",
            undone=f"{d.undone_by}, {time_words(d.undone_utc, zone)}" if d.undone_utc else "",
            wide=d.kind in OF_SUBMISSION,
        )
        for d in reversed(decisions)
    )


def words_of(kind: str, what: Mapping[str, Any], zone: str) -> str:
    """One sentence without its full stop; a kind that is not known here goes by its own name."""
    if kind in TOLD:
        return f"{TOLD[kind]}: {what['text'] or 'none'}"
    if kind == "circle":
        return f"Edge of the disc drawn, radius {what['radius']:.0f} px"
    if kind == "pins":
        return f"Set on the picture: {join_names(str(name) for name, _, _ in what['pins'])}"
    if kind == "hand":
        return "Left and right are exchanged" if what["mirrored"] else "Left and right are as the eye sees them"
    if kind == "time" and what["utc"] and what.get("sigma_minutes"):
        return f"It was that night: about {time_words(datetime.fromisoformat(what['utc']), zone)}"
    if kind == "time":
        return f"Taken {time_words(datetime.fromisoformat(what['utc']), zone)}" if what["utc"] else "Time not known"
    if kind == "place":
        at = "" if what["latitude_deg"] is None else place_words(Place(what["latitude_deg"], what["longitude_deg"]))
        return f"Place: {', '.join(filter(None, (what['name'], at))) or 'not known'}"
    return kind.replace("_", " ").capitalize()
