"""What speaks for and against a town being where the picture was taken, as signs to be weighed. Pure.

A sign is a string; most say the same in every language and are told twice, once with the language's code, so that a
language may weigh them otherwise; words of the letter are told with it only. See `letter.weighing`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from moondesk.service.gazetteer.towns import Town
from moondesk.service.lexicons.folding import Folded
from moondesk.service.lexicons.lexicon import Lexicon
from moondesk.service.programme.letter.surroundings import said_about, sentence_at, words_about
from moondesk.service.programme.letter.weighing import steps_of

#: What is looked for in the sentence: section and key of the language's file.
SAID = (
    ("time", "taken"),
    ("time", "picture"),
    ("time", "sent"),
    ("time", "elsewhere"),
    ("place", "shot"),
    ("place", "home"),
    ("place", "sites"),
    ("place", "but"),
    ("labels", "name"),
    ("labels", "place"),
    ("labels", "telescope"),
    ("credit", "cues"),
)


@dataclass(frozen=True)
class Spot:
    """A stretch of the text that is a town's name. weight: of what speaks for it there; by: the rule that saw it;
    marks: what else is said of it."""

    start: int
    end: int
    name: str
    towns: tuple[Town, ...]
    weight: float
    country: str = ""
    region: str = ""
    by: str = ""
    marks: frozenset[str] = frozenset()


def signs_of(spot: Spot, numbers: Sequence[tuple[str, float]], folded: Folded, words: Lexicon) -> list[str]:
    """The signs of one town. numbers: names and values of what the rules hold of it."""
    general = [f"by {spot.by}", *spot.marks]
    for name, value in numbers:
        general += steps_of(name, value, -3.0, 8.0, 0.5)
    general += _of_form(spot, folded, words)
    own = [f"is {spot.name[:12]}", *words_about(spot.start, spot.end, folded.text, words)]
    said = list(said_about(spot.start, spot.end, folded.text, words, SAID))
    code = words.code
    return [*general, *said, *(f"{code} {g}" for g in (*general, *said)), *(f"{code} {w}" for w in own)]


def _of_form(spot: Spot, folded: Folded, words: Lexicon) -> Iterator[str]:
    """How the name is written, and where in the letter."""
    text = folded.text
    parts = spot.name.split()
    written = folded.words(spot.start, spot.end)
    yield f"parts {len(parts)}"
    yield f"letters {min(len(spot.name), 9)}"
    known = sum(words.knows(p) for p in parts)
    yield f"known {'all' if known == len(parts) else 'some' if known else 'none'}"
    if all(p in words.pieces for p in parts):
        yield "listed word"
    if any(words.is_first_name(p) for p in parts):
        yield "first name"
    if written[:1].isupper():
        yield "capital"
    elif written[:1].islower():
        yield "small in a text with capitals" if any(c.isupper() for c in folded.written) else "small"
    if spot.country:
        yield "country behind"
    if spot.region:
        yield "region behind"
    line = text.rfind("\n", 0, spot.start) + 1
    stop = text.find("\n", spot.end)
    stop = len(text) if stop < 0 else stop
    if not text[line : spot.start].strip():
        yield "begins its line"
    if not text[spot.end : stop].strip(" .,!"):
        yield "ends its line"
    lines = [part for part in text[stop:].split("\n") if part.strip()]
    yield f"lines behind {min(len(lines), 3)}"
    yield f"line of {min(len(text[line:stop].split()), 12) // 3}"
    first, last = sentence_at(text, spot.start, spot.end)
    yield f"sentence of {min(len(text[first:last].split()), 16) // 3}"
    if text[first : spot.start].strip() == "":
        yield "begins its sentence"
