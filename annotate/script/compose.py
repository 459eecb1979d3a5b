"""Passages put together into a script within the time: what must be said, then what is worth most a word.

Facts that were told lately come last, what was called new once is not called new again, and of the ways to say something
that one is taken whose sentences and wordings the last episodes did not use. The same episode gives the same script.
"""

from __future__ import annotations

import zlib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from moondesk.notes.messages import Message
from moondesk.script.marks import count_words
from moondesk.script.orders import TITLES
from moondesk.script.records import Episode, ItemKind, Line, OrderTemplate, Passage, Script, ScriptItem

#: Script and time may differ by this share.
WITHIN = 0.1
#: It is filled up to this share of the time: a speaker breathes.
FULL = 1.02
#: Episodes within which a fact that was told comes last, a wording is avoided; days in which what is new stays told.
LATELY, WORDED, NEW_DAYS = 8, 9, 20
#: What is left of the worth of a passage that was told lately.
TOLD = 0.15
#: A passage shorter than this, words, is not counted cheaper: else a script would fall to crumbs.
LEAST_WORDS = 14
#: A paragraph ends with the passage that brings it to so many words.
PARAGRAPH = 75

Way = tuple[Line, ...]


@dataclass
class _Chosen:
    """What has been taken so far. words: by item; shared: how many sentences with each episode of the history."""

    ways: dict[str, Way] = field(default_factory=dict)
    words: Counter[ItemKind] = field(default_factory=Counter)
    facts: set[str] = field(default_factory=set)
    sentences: set[str] = field(default_factory=set)
    templates: Counter[str] = field(default_factory=Counter)
    shared: Counter[int] = field(default_factory=Counter)

    @property
    def total(self) -> int:
        return sum(self.words.values())


def compose(
    episode: Episode,
    template: OrderTemplate,
    seconds: float,
    words_per_minute: float,
    write: Callable[[Message], str],
    passages: Mapping[ItemKind, Sequence[Passage]] | None = None,
) -> Script:
    """The script for so many seconds at that rate, its words counted in the language that `write` writes.

    passages: by item; None: all that the writers have. A script is shorter than the time where there is no more to say.
    """
    if seconds <= 0 or words_per_minute <= 0:
        raise ValueError("a script has a time and a rate")
    if passages is None:
        from moondesk.script.writers import write_passages

        passages = write_passages(episode, template)
    return _Composer(episode, template, seconds * words_per_minute / 60.0, words_per_minute, write, passages).make()


class _Composer:
    def __init__(
        self,
        episode: Episode,
        template: OrderTemplate,
        words: float,
        rate: float,
        write: Callable[[Message], str],
        passages: Mapping[ItemKind, Sequence[Passage]],
    ) -> None:
        self.episode, self.template, self.target, self.rate, self.write = episode, template, words, rate, write
        self.passages = {kind: tuple(passages.get(kind, ())) for kind in template.shares}
        self.chosen = _Chosen()
        self.last_facts = {f for t in episode.history[-LATELY:] for f in t.facts}
        self.last_templates = {w for t in episode.history[-WORDED:] for w in t.templates}
        self.new = {f for t in episode.history if (episode.day - t.day).days <= NEW_DAYS for f in t.facts}
        self.texts: dict[int, tuple[str, int]] = {}

    def make(self) -> Script:
        for kind, some in self.passages.items():
            for passage in some:
                if passage.must and self._fits_facts(passage):
                    self._take(kind, passage)
        scale = self._scale()
        for kind, share in self.template.shares.items():
            self._fill(kind, self.passages[kind], share * scale)
        self._fill_up()
        items = tuple(self._item(kind) for kind in self.template.shares)
        taken = self.chosen.ways
        left = [p for some in self.passages.values() for p in some if p.key not in taken]
        left.sort(key=lambda p: -self._worth(p))
        facts = {f for way in taken.values() for line in way for f in line.facts}
        idea = self.episode.idea if f"idea:{self.episode.idea}" in facts else ""
        return Script(items=items, left=tuple(p.key for p in left), idea=idea)

    def _scale(self) -> float:
        """Words a share of 1 stands for: shares of items that have nothing to say go to the others."""
        there = sum(share for kind, share in self.template.shares.items() if self.passages[kind])
        return self.target / there if there else 0.0

    def _fill(self, kind: ItemKind, some: Sequence[Passage], words: float) -> None:
        for passage in self._by_worth(some):
            room = words - self.chosen.words[kind]
            if room > 0 and self._length(passage) <= room + 12:
                self._take_with(kind, passage, some, self.target * FULL)

    def _fill_up(self) -> None:
        """What time is left goes to whatever is worth most, in any item; the last gap to what is short enough."""
        of = {p.key: kind for kind, some in self.passages.items() for p in some}
        every = [p for some in self.passages.values() for p in some]
        for passage in self._by_worth(every):
            if self.chosen.total >= self.target * 0.97:
                return
            kind = of[passage.key]
            self._take_with(kind, passage, self.passages[kind], self.target * FULL)

    def _by_worth(self, some: Sequence[Passage]) -> list[Passage]:
        free = [p for p in some if p.key not in self.chosen.ways and p.ways]
        return sorted(free, key=lambda p: -self._worth(p) / max(self._length(p), LEAST_WORDS))

    def _worth(self, passage: Passage) -> float:
        facts = {f for line in passage.ways[0] for f in line.facts} if passage.ways else set()
        return passage.worth * (TOLD if facts & self.last_facts else 1.0)

    def _take_with(self, kind: ItemKind, passage: Passage, some: Sequence[Passage], most: float) -> None:
        """A passage and the one that it needs, where both fit."""
        if passage.key in self.chosen.ways or not self._fits_facts(passage):
            return
        needed = [passage]
        while needed[-1].after and needed[-1].after not in self.chosen.ways:
            before = next((p for p in some if p.key == needed[-1].after), None)
            if before is None or not self._fits_facts(before):
                return
            needed.append(before)
        if self.chosen.total + sum(self._length(p) for p in needed) <= most + 2:
            for one in reversed(needed):
                self._take(kind, one)

    def _fits_facts(self, passage: Passage) -> bool:
        """Nothing is told twice in a script, and nothing as new that was told so before."""
        facts = {f for line in passage.ways[0] for f in line.facts} if passage.ways else set()
        if not passage.ways or facts & self.chosen.facts:
            return False
        return not any(f in self.new for f in facts if f.startswith(("new:", "idea:")))

    def _take(self, kind: ItemKind, passage: Passage) -> None:
        if passage.key in self.chosen.ways:
            raise ValueError(f"two passages are called {passage.key}")
        way = min(enumerate(passage.ways), key=lambda w: self._cost(passage.key, *w))[1]
        chosen = self.chosen
        chosen.ways[passage.key] = way
        for line in way:
            text, words = self._text(line)
            chosen.words[kind] += words
            chosen.facts.update(line.facts)
            chosen.sentences.add(text)
            chosen.templates[line.said.template] += 1
            for told in self.episode.history:
                chosen.shared[told.number] += text in told.sentences

    def _cost(self, key: str, n: int, way: Way) -> tuple[float, int]:
        """What speaks against a way: said in this script already, in an earlier one with which this one shares much, in
        words that were used lately; between equals the day decides."""
        cost = 0.0
        for line in way:
            text, _ = self._text(line)
            cost += 50.0 * (text in self.chosen.sentences) + 8.0 * self.chosen.templates[line.said.template]
            cost += 2.0 * (line.said.template in self.last_templates)
            cost += sum(1.0 + self.chosen.shared[t.number] for t in self.episode.history if text in t.sentences)
        return cost / len(way), zlib.crc32(f"{self.episode.day}:{key}:{n}".encode())

    def _text(self, line: Line) -> tuple[str, int]:
        if id(line) not in self.texts:
            text = self.write(line.said)
            self.texts[id(line)] = text, count_words(text)
        return self.texts[id(line)]

    def _length(self, passage: Passage) -> int:
        if passage.key in self.chosen.ways:
            return sum(self._text(line)[1] for line in self.chosen.ways[passage.key])
        lengths = [sum(self._text(line)[1] for line in way) for way in passage.ways]
        return round(sum(lengths) / len(lengths)) if lengths else 0

    def _item(self, kind: ItemKind) -> ScriptItem:
        paragraphs: list[list[Line]] = []
        words, group, root = 0, "", ""
        for passage in self.passages[kind]:
            way = self.chosen.ways.get(passage.key)
            if way is None:
                continue
            # what goes together stays together: a picture's passages, and what hangs on the passage before it
            parts, hangs = group != passage.key.split(":")[0], passage.key.startswith(f"{root}:")
            if parts or (words >= PARAGRAPH and not hangs):
                paragraphs.append([])
                words = 0
            paragraphs[-1].extend(way)
            words += sum(self._text(line)[1] for line in way)
            group, root = passage.key.split(":")[0], root if hangs else passage.key
        count = self.chosen.words[kind]
        return ScriptItem(
            kind=kind,
            title=TITLES[kind],
            paragraphs=tuple(tuple(lines) for lines in paragraphs),
            words=count,
            seconds=60.0 * count / self.rate,
        )
