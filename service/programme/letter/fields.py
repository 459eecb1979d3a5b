"""Labelled fields in a letter: "Name: Ann Lee", "Telescope: ...", as forms and careful people write them. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from moondesk.service.lexicons.lexicon import Lexicon

LABELS = ("name", "telescope", "aperture", "eyepiece", "camera", "place", "time", "consent", "age")
#: A label is no longer, and its answer of one line.
LABEL_CHARACTERS, VALUE_CHARACTERS = 50, 200
_FIELD = re.compile(
    rf"^\s*(?:[-*\u2022\u30fb]\s*)?(?P<label>[^:\uff1a\n]{{2,{LABEL_CHARACTERS}}}?)\s*[:\uff1a]\s*(?P<value>\S.*)$"
)
#: A yes or a no is an answer where so few words stand with it.
ANSWER_WORDS = 8


@dataclass(frozen=True)
class Field:
    """what: one of LABELS; value: as written, line: all of it."""

    what: str
    value: str
    line: str
    code: str


def read_fields(text: str, words: Iterable[Lexicon]) -> Iterator[Field]:
    """The labelled fields of a text, in its order, by the labels of some languages."""
    words = tuple(words)
    for line in text.splitlines():
        match = _FIELD.match(line[: LABEL_CHARACTERS + VALUE_CHARACTERS])
        if not match:
            continue
        for one in words:
            label = one.fold(match.group("label")).text.strip(" *_-")
            what = next((w for w in LABELS if _is_label(label, one, w)), None)
            if what:
                yield Field(what, match.group("value").strip(), line.strip(), one.code)
                break


def _is_label(label: str, words: Lexicon, what: str) -> bool:
    """Whether a label is one of a language's: the words themselves, or the first or last of a few."""
    found = words.search("labels", what)(label)
    return found is not None and len(label) - (found.end() - found.start()) <= 18


def answer_of(field: Field, words: Lexicon) -> str:
    """What a field about consent answers: "yes", "no", "open"."""
    folded = words.fold(field.value).text
    if words.search("labels", "no")(folded) or words.search("consent", "no")(folded):
        return "no"
    short = len(folded.split()) <= ANSWER_WORDS
    if words.search("consent", "condition")(folded):
        return "open"
    return "yes" if words.search("labels", "yes")(folded) and short else "open"


def age_of(field: Field, words: Lexicon) -> float | None:
    """The years that a field about age tells; None where it tells none."""
    folded = words.fold(field.value).text
    if match := re.search(r"\d{1,3}", folded):
        return float(match.group(0))
    match = re.search(words.number, folded)
    return words.numbers.get(match.group(0)) if match else None
