"""People who stand together in tonight's light: craters along its edge whose namesakes share an era and something else.

groups_in_light(tonight) -> three Greeks of the same centuries, from north to south
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources
from itertools import combinations, pairwise

from moondesk.ideas.tonight import Ground, Tonight, arc_deg
from moondesk.notes.messages import Listed, Message, Name, Number, Term, say
from moondesk.notes.namesakes import Namesake, namesakes

#: The Sun at most this high over each, degrees; neighbours at most so far apart, degrees of arc; years between births.
LIGHT_DEG, APART_DEG, YEARS = 20.0, 12.0, 120
LEAST, MOST = 3, 4


@dataclass(frozen=True)
class Group:
    """Neighbours from north to south, and what their namesakes share: "nation" or "occupation" and its word."""

    names: tuple[str, ...]
    shared: str
    word: str
    said: Message


@cache
def twice_told() -> dict[str, tuple[int, str]]:
    """Names whose facts stand in a second source too: the year they go by, and the source."""
    text = (resources.files("moondesk.ideas") / "data" / "twice_told.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return {r["name"]: (int(r["year"]), r["source"]) for r in rows}


def groups_in_light(tonight: Tonight) -> tuple[Group, ...]:
    """Every group of three or four, the largest first, then the tightest; each crater in one of them only."""
    near = sorted((g for n, g in tonight.ground.items()
                   if n in twice_told() and 0.0 < g.sun_deg <= LIGHT_DEG and len(namesakes(n)) == 1),
                  key=lambda g: (-g.feature.lat_deg, g.feature.name))  # fmt: skip
    found = []
    for ordered in _chains(near):
        shared = _shared(ordered)
        if shared is not None:
            found.append((-len(ordered), _length(ordered), ordered, shared))
    found.sort(key=lambda f: (f[0], f[1], f[2][0].feature.name))
    groups, used = [], set[str]()
    for _, _, ordered, (kind, word) in found:
        names = tuple(g.feature.name for g in ordered)
        if used.isdisjoint(names):
            used.update(names)
            groups.append(Group(names, kind, word, _said(names, kind, word)))
    return tuple(groups)


def _chains(near: list[Ground]) -> Iterator[tuple[Ground, ...]]:
    """Neighbours from north to south, of one age."""
    steps = {
        (a, b): near[a].feature.lat_deg - near[b].feature.lat_deg <= APART_DEG and _arc(near[a], near[b]) <= APART_DEG
        for a, b in combinations(range(len(near)), 2)
    }
    years = [twice_told()[g.feature.name][0] for g in near]

    def longer(chain: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        if len(chain) >= LEAST:
            yield chain
        if len(chain) < MOST:
            for k in range(chain[-1] + 1, len(near)):
                age = [years[n] for n in (*chain, k)]
                if steps[chain[-1], k] and max(age) - min(age) <= YEARS:
                    yield from longer((*chain, k))

    for first in range(len(near)):
        yield from (tuple(near[k] for k in chain) for chain in longer((first,)))


def _length(ordered: tuple[Ground, ...]) -> float:
    return sum(_arc(a, b) for a, b in pairwise(ordered))


def _arc(a: Ground, b: Ground) -> float:
    return arc_deg((a.feature.lat_deg, a.feature.lon_deg), (b.feature.lat_deg, b.feature.lon_deg))


def _shared(some: tuple[Ground, ...]) -> tuple[str, str] | None:
    """What all share, the nation before the occupation; None where nothing."""
    people: list[Namesake] = [namesakes(g.feature.name)[0] for g in some]
    for kind, words in (("nation", [p.nations for p in people]), ("occupation", [p.occupations for p in people])):
        common = set(words[0]).intersection(*words[1:])
        if common:
            return kind, next(w for w in words[0] if w in common)
    return None


def _said(names: tuple[str, ...], kind: str, word: str) -> Message:
    years = sorted(twice_told()[n][0] for n in names)
    listed, span = Listed(tuple(Name(n) for n in names)), Number(years[-1] - years[0])
    if years[0] < 0:  # the second sources differ by decades: no count of years
        return say("From north to south, side by side: {names}. One word fits them all, {shared}, and as far as their dates are known they belong to the same age.",
                   names=listed, shared=Term(word), years=span)  # fmt: skip
    if kind == "nation":
        return say("From north to south, side by side: {names}. All of them were {shared}, and the dates we have for them lie within {years} years.",
                   names=listed, shared=Term(word), years=span)  # fmt: skip
    return say("From north to south, side by side: {names}. One trade, {shared}, and dates within {years} years of each other.",
               names=listed, shared=Term(word), years=span)  # fmt: skip
