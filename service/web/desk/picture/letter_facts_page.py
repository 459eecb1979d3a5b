"""What was read in a letter, for its page: the text with the words marked, each fact with its buttons. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from moondesk.service.programme.letter.stretches import Stretch, find_words, stretches_of
from moondesk.service.programme.words import sigma_words, time_words
from moondesk.service.store.letter_facts import LetterFact
from moondesk.service.store.records import Arrival, LetterPart, SuggestedField
from moondesk.service.web.desk.inbox.letters_page import text_view
from moondesk.service.web.desk.picture.accepting import place_of, time_of

#: What each field is about, the class of its marks, and what its value says; "" is the value itself.
_FIELDS: dict[SuggestedField, tuple[str, str, str]] = {
    "withdrawal": ("Takes something back", "no", "perhaps takes back what was sent"),
    "consent": ("May it be shown", "consent", ""),
    "minor": ("Child", "child", "a child seems to have taken it"),
    "guardian": ("Guardian", "child", "a parent, guardian or teacher agrees"),
    "unnamed": ("Name", "name", "does not want to be named"),
    "credit": ("Name to say", "name", ""),
    "forwarded": ("Forwarded", "name", ""),
    "taken": ("Taken", "time", ""),
    "place": ("Place", "place", ""),
    "aperture_mm": ("Aperture", "kit", "{value} mm"),
    "eyepiece_mm": ("Eyepiece", "kit", "{value} mm"),
    "equipment_kind": ("Instrument", "kit", ""),
    "camera": ("Held to it", "kit", ""),
}
_CONSENT = {"suggested": "yes, it may be shown", "refused": "no", "unclear": "not clear: read the words"}
NOT_READ = "Not all of its words could be read: look through it yourself before you rely on what was."
_LINK = re.compile(r"https?://[^\s<>\"']{4,300}")
MOST_LINKS = 10
#: Facts that a person can only call wrong or settle by another form.
_SETTLED = ("unclear",)


@dataclass(frozen=True, kw_only=True)
class FactRow:
    """A fact on the page. mark: the class of its words' marks; decided: who said what to it, "" while nobody has.

    elsewhere: the words that it is from, where they are not marked in the text. accept: the words of the button that accepts it, "" where it cannot be; refuse: whether a second button says no.
    """

    id: int
    submission_id: int
    label: str
    value: str
    elsewhere: str
    mark: str
    decided: str
    wrong: bool
    accept: str
    refuse: bool


@dataclass(frozen=True)
class MarkedPart:
    """A part of the text in stretches; kind: whose words, see `records.PartKind`."""

    kind: str
    stretches: tuple[tuple[str, str, str], ...]  # text, class of the mark, what was read: both "" where nothing was


@dataclass(frozen=True, kw_only=True)
class LetterView:
    """A letter beside its picture. missing: why there is no text; not_read: why not all of it counts as read; links: as
    text; story: what may be told on air, as kept or else as the letter suggests."""

    missing: str
    parts: tuple[MarkedPart, ...]
    facts: tuple[FactRow, ...]
    not_read: str
    links: tuple[str, ...]
    story: str
    story_kept: bool


def letter_view(
    arrival: Arrival, text: Sequence[LetterPart] | None, read: Sequence[LetterFact], zone: str
) -> LetterView | None:
    """text: None where it is not kept. None where it came without a letter."""
    if not text and not arrival.way.is_mail:
        return None
    parts = tuple(text or ())
    suggested = next((f.value for f in read if f.field == "story" and f.decided != "wrong"), "")
    return LetterView(
        missing=text_view(text).missing,
        parts=marked_parts(parts, read),
        facts=fact_rows(read, parts, zone),
        not_read=NOT_READ if arrival.way.is_mail and arrival.words_read == "not_understood" else "",
        links=links_in(parts),
        story=arrival.story or suggested,
        story_kept=bool(arrival.story),
    )


def fact_rows(facts: Sequence[LetterFact], parts: Sequence[LetterPart], zone: str) -> tuple[FactRow, ...]:
    """Facts that mean something to a person, the gravest first; what language it is in is none."""
    order = list(_FIELDS)
    shown = sorted((f for f in facts if f.field in _FIELDS), key=lambda f: (order.index(f.field), f.id))
    own = [part.text for part in parts if part.kind == "own"]
    return tuple(_row(fact, any(find_words(text, fact.words) for text in own), zone) for fact in shown)


def marked_parts(parts: Sequence[LetterPart], facts: Sequence[LetterFact]) -> tuple[MarkedPart, ...]:
    """The text with the words marked that something was read from, in the sender's own words only."""
    read = [
        f for f in facts if (f.field in _FIELDS or f.field == "story") and f.decided != "wrong" and f.letter_id is None
    ]
    refused = any(f.field == "consent" and f.value == "refused" for f in read)
    return tuple(
        MarkedPart(
            part.kind, tuple(_marked(s, refused) for s in stretches_of(part.text, read if part.kind == "own" else ()))
        )
        for part in parts
    )


def links_in(parts: Sequence[LetterPart]) -> tuple[str, ...]:
    """Addresses of pages in the sender's own words: shown, never opened by themselves."""
    found = (link.rstrip(".,;:!?)") for part in parts if part.kind == "own" for link in _LINK.findall(part.text))
    return tuple(dict.fromkeys(found))[:MOST_LINKS]


def _marked(stretch: Stretch, refused: bool) -> tuple[str, str, str]:
    known = {**_FIELDS, "story": ("Story", "story", "")}
    read = [what for name in stretch.fields for field, what in known.items() if field == name]
    labels = ", ".join(dict.fromkeys(label for label, _, _ in read))
    mark = read[0][1] if read else ""
    return stretch.text, "no" if refused and mark == "consent" else mark, labels


def _row(fact: LetterFact, marked: bool, zone: str) -> FactRow:
    label, mark, said = _FIELDS[fact.field]
    value = said.format(value=fact.value) if said else fact.value
    if fact.field == "consent":
        value = _CONSENT.get(fact.value, fact.value)
        mark = "no" if fact.value == "refused" else mark
    elif fact.field == "taken" and (taken := time_of(fact.value)):
        value = f"{time_words(taken[0], zone)}, {sigma_words(taken[1])}"
    elif fact.field == "place" and (place := place_of(fact.value)):
        value = place["name"]
    unclear = fact.field == "consent" and fact.value in _SETTLED
    return FactRow(
        id=fact.id,
        submission_id=fact.submission_id,
        label=label,
        value=value,
        elsewhere="" if marked or fact.words == fact.value else fact.words,
        mark=mark,
        decided=_decided_words(fact, zone),
        wrong=fact.decided == "wrong",
        accept="It is a yes" if unclear else "Right",
        refuse=unclear,
    )


def _decided_words(fact: LetterFact, zone: str) -> str:
    if not fact.decided or fact.decided_utc is None:
        return ""
    word = "Called wrong" if fact.decided == "wrong" else "Accepted"
    return f"{word} by {fact.decided_by}, {_when(fact.decided_utc, zone)}"


def _when(when: datetime, zone: str) -> str:
    return time_words(when, zone)
