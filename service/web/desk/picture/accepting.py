"""What follows when a person accepts what was read in a letter: a decision, a consent, or that it stands. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from moondesk.service.store.decided import DecidedChange
from moondesk.service.store.letter_facts import LetterFact
from moondesk.service.store.records import Arrival, ConsentRecord, time_in_letter

#: As `reading` writes a place that it has read.
_PLACE = re.compile(r"^(?P<name>.+?) \((?P<lat>-?\d+(?:\.\d+)?), (?P<lon>-?\d+(?:\.\d+)?)\)$")


@dataclass(frozen=True, kw_only=True)
class Accepted:
    """change: what is decided about the picture and its submission; consent: what is noted; both None: it stands."""

    change: DecidedChange | None = None
    consent: ConsentRecord | None = None


def accept(fact: LetterFact, arrival: Arrival, who: str) -> Accepted:
    """What follows of a fact that somebody accepts. Unclear words are accepted as nothing: see `note_consent`."""
    if fact.field == "credit":
        return Accepted(change=DecidedChange("credit_line", {"text": fact.value}))
    if fact.field == "story":
        return Accepted(change=DecidedChange("story", {"text": fact.value}))
    if fact.field == "taken" and (taken := time_of(fact.value)):
        return Accepted(change=DecidedChange("time", {"utc": taken[0].isoformat(), "sigma_minutes": taken[1]}))
    if fact.field == "place" and (place := place_of(fact.value)):
        return Accepted(change=DecidedChange("place", place))
    if fact.field == "consent" and fact.value in ("suggested", "refused"):
        return Accepted(consent=note_consent(fact, arrival, fact.value == "suggested", who))
    if fact.field == "withdrawal":
        return Accepted(consent=note_consent(fact, arrival, False, who))
    return Accepted()


def note_consent(fact: LetterFact, arrival: Arrival, given: bool, who: str) -> ConsentRecord:
    """The record of what a person has read in a letter. A guardian's word is one where the letter says so."""
    guardian = given and any(s.field == "guardian" for s in arrival.suggestions)
    return ConsentRecord(
        state="given" if given else "refused",
        kind="mail",
        evidence=fact.words,
        message_id=arrival.message_id,
        noted_by=who,
        guardian=guardian,
    )


def time_of(value: str) -> tuple[datetime, float] | None:
    """The time that was read, and its sigma in minutes; None where it is none with an offset."""
    read = time_in_letter(value)
    return None if read is None else (read.utc, read.sigma_minutes)


def place_of(value: str) -> dict[str, Any] | None:
    """A place that was read, as a decision has it; None where it has no coordinates."""
    match = _PLACE.match(value)
    if match is None:
        return None
    return {
        "name": match.group("name"),
        "latitude_deg": float(match.group("lat")),
        "longitude_deg": float(match.group("lon")),
    }
