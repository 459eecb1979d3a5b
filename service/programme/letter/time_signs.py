"""What speaks for and against a time being when the picture was taken, as signs to be weighed. Pure.

As of `letter.place_signs`: what says the same in every language is told twice, once with the language's code.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from moondesk.service.lexicons.folding import Folded
from moondesk.service.programme.letter.surroundings import said_about, sentence_at, words_about
from moondesk.service.programme.letter.time_tokens import Grammar, Token
from moondesk.service.programme.letter.weighing import steps_of

#: What is looked for in the sentence: section and key of the language's file.
SAID = (
    ("time", "taken"),
    ("time", "picture"),
    ("time", "sent"),
    ("time", "elsewhere"),
    ("place", "shot"),
    ("withdrawal", "asks"),
    ("consent", "restrict"),
    ("labels", "time"),
)


@dataclass(frozen=True)
class TimeInWords:
    """When a picture was taken, as its sender says. at: with the sender's offset; sigma_minutes: how well it is known."""

    at: datetime
    sigma_minutes: float
    words: str

    @property
    def value(self) -> str:
        """As it is kept: 2026-11-24T21:30+02:00 ±15 min."""
        return f"{self.at.isoformat(timespec='minutes')} ±{self.sigma_minutes:.0f} min"


@dataclass(frozen=True)
class Group:
    """Pieces that make one time. rank: 2 where a labelled field says it, 1 beside words of taking a picture."""

    tokens: tuple[Token, ...]
    rank: int = 0

    def of(self, kind: str) -> list[Token]:
        return [t for t in self.tokens if t.kind == kind]

    @property
    def start(self) -> int:
        return min(t.start for t in self.tokens)

    @property
    def end(self) -> int:
        return max(t.end for t in self.tokens)


def gap(group: Group, one: Token) -> int:
    """Characters between a group and a piece; 0 where they touch."""
    return max(0, one.start - group.end, group.start - one.end)


def signs_of(
    group: Group,
    told: TimeInWords,
    tokens: Sequence[Token],
    folded: Folded,
    words: Grammar | None,
    written: datetime,
    marks: Sequence[str],
) -> list[str]:
    """The signs of one time. group: what tells it; told: what it tells; marks: what else is known of it."""
    text = folded.text
    general = [*marks, *_of_group(group, told, written), *_of_sentence(group, tokens, text)]
    if words is None:
        return general
    general += said_about(group.start, group.end, text, words.words, SAID)
    own = words_about(group.start, group.end, text, words.words)
    code = words.words.code
    return [*general, *(f"{code} {g}" for g in general), *(f"{code} {w}" for w in own)]


def _of_group(group: Group, told: TimeInWords, written: datetime) -> Iterator[str]:
    """What it is made of, and what it makes."""
    yield f"rank {group.rank}"
    kinds = "+".join(sorted({t.kind + "?" * t.bare for t in group.tokens}))
    yield f"kinds {kinds}"
    yield f"pieces {min(len(group.tokens), 6)}"
    yield f"days {min(len({t.day for t in group.of('day')}), 3)}"
    yield f"weekday {any(t.weekly for t in group.of('day'))}"
    yield f"year {any(t.full for t in group.of('day'))}"
    yield f"night {any(t.night for t in group.of('day'))}"
    yield f"hour {told.at.hour // 3}"
    yield f"dark {told.at.hour >= 17 or told.at.hour < 8}"
    yield f"spread {min(int((group.end - group.start) / 25), 4)}"
    yield from steps_of("sigma", told.sigma_minutes / 60, 0.0, 8.0, 0.5)
    before = (written - told.at) / timedelta(hours=1)
    for hours in (0, 0.25, 1, 4, 12, 24, 48, 96, 168, 400, 2000):
        if before >= hours:
            yield f"before {hours}"


def _of_sentence(group: Group, tokens: Sequence[Token], text: str) -> Iterator[str]:
    """Words of taking, sending, the programme: how near they stand, and on which side."""
    first, last = sentence_at(text, group.start, group.end)
    for kind in ("taken", "picture", "sent", "elsewhere"):
        near = [t for t in tokens if t.kind == kind and first <= t.start < last]
        yield f"{kind} {min((gap(group, t) // 15 for t in near), default=99) if near else 'none'}"
        if near:
            one = min(near, key=lambda t: gap(group, t))
            yield f"{kind} {'before' if one.end <= group.start else 'behind'}"
        yield f"{kind} anywhere {any(t.kind == kind for t in tokens)}"
    yield f"sentence of {min((last - first) // 30, 6)}"
    yield f"begins its sentence {not text[first : group.start].strip()}"
    yield f"line {min(text[: group.start].count(chr(10)), 4)}"
    yield f"lines behind {min(text[group.end :].strip().count(chr(10)), 3)}"
