"""Where in a letter the words stand that something was read from: the text in stretches, for marking. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from moondesk.service.programme.mail_text import sentences

#: What a stretch is marked as where several were read from the same words, the gravest first.
ORDER = (
    "withdrawal",
    "consent",
    "minor",
    "guardian",
    "unnamed",
    "credit",
    "forwarded",
    "taken",
    "place",
    "aperture_mm",
    "eyepiece_mm",
    "equipment_kind",
    "camera",
    "story",
)


class Read(Protocol):
    """What was read, and the words it was read from."""

    @property
    def field(self) -> str: ...
    @property
    def words(self) -> str: ...


@dataclass(frozen=True)
class Stretch:
    """A piece of the text. fields: what was read from it, from the fewest words first, then the gravest; none: nothing."""

    text: str
    fields: tuple[str, ...] = ()


def stretches_of(text: str, facts: Iterable[Read]) -> tuple[Stretch, ...]:
    """The whole text, in its order."""
    spans = [(start, end, fact.field) for fact in facts for start, end in find_words(text, fact.words)]
    edges = sorted({0, len(text), *(edge for start, end, _ in spans for edge in (start, end))})
    found = []
    for first, last in pairwise(edges):
        over = sorted(
            (end - start, _rank(field), field) for start, end, field in spans if start <= first and last <= end
        )
        found.append(Stretch(text[first:last], tuple(dict.fromkeys(field for _, _, field in over))))
    return tuple(found)


def find_words(text: str, words: str) -> tuple[tuple[int, int], ...]:
    """Where words stand in a text, however its lines are broken; several sentences each by itself."""
    whole = _search(text, words)
    if whole:
        return (whole,)
    return tuple(span for sentence in sentences(words) if len(sentence) > 3 and (span := _search(text, sentence)))


def _search(text: str, words: str) -> tuple[int, int] | None:
    pieces = words.split()
    match = re.search(r"\s+".join(map(re.escape, pieces)), text) if pieces else None
    return match.span() if match else None


def _rank(field: str) -> tuple[int, str]:
    return (ORDER.index(field) if field in ORDER else len(ORDER), field)
