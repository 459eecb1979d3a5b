"""Weigh the signs of places and times by the letters of `tests/letters/corpus` that may be looked at: what `letter.weighing` reads with.

    python -m tests.builders.build_weighed_facts

Writes `service/lexicons/data/FACT.weights.npz`, of places and of times. Each half of the corpus is one voice; the bar is set by letters of halves
that the weights were made without. Halves that are only measured are never opened here.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse

from moondesk.service.gazetteer.towns import Town, key_of, towns_named
from moondesk.service.lexicons.lexicon import FOLDER
from moondesk.service.programme.letter.place_words import by_clocks_of, candidates, read_places
from moondesk.service.programme.letter.reading import text_of_places
from moondesk.service.programme.letter.time_words import moments
from moondesk.service.programme.letter.tongues import languages_of
from moondesk.service.programme.letter.weighing import BUCKETS, buckets_of
from tests.builders.logistic import fit
from tests.letters.score import LANGUAGES, MEASURED_ONLY, Case, cases, is_time
from tests.letters.test_place_words import PLACES, WRITTEN
from tests.letters.test_time_words import TIMES, is_within

HALVES = ("open", "practice", "further", "fifth", "sixth", "seventh", "ninth")
#: The sentences of `test_place_words` and `test_time_words`, a voice too.
LIST = "list"
#: How much weights are held down; a sign of fewer proposals is left out.
RIDGE, RARE = 1.0, 2
#: Voices that set the bar: those of hands that wrote none of the words, before a word was mended by them.
OTHERS = ("practice", "seventh", "ninth")
#: The share of what is told that must be right. Of places some halves call home what others call the picture's place, in
#: the same words, so that no bar leaves 96 in a hundred right and finds what is told clearly.
RIGHT = {"place": 0.91, "time": 0.925}
#: Letters of several lines of this half say nothing of what is not their subject.
PARTLY_TOLD = ("sixth",)
#: What a proposal of a letter by a voice that nobody wrote rules for counts, beside others.
NEW = {"seventh": 2.0, "ninth": 2.0, LIST: 2.0}


@dataclass
class Proposal:
    """half, letter: whose; right: whether it is what the letter means; told: whether anything is to be found there."""

    half: str
    letter: int
    buckets: Any
    right: bool
    told: bool


def is_town(town: Town, names: tuple[str, ...]) -> bool:
    """Whether a town is the one that a letter's truth names, in any spelling."""
    return any(key_of(town.name) == key_of(name) for name in names) or any(
        town in towns_named(name)[:3] for name in names
    )


def proposals(fact: str) -> Iterator[Proposal]:
    """What the rules propose in all letters. fact: "place" or "time"."""
    letter = 0
    for half in HALVES:
        assert half not in MEASURED_ONLY
        for code in LANGUAGES:
            for case in cases(half, code):
                told = bool(case.truth.get(fact))
                if not told and "\n" in case.text and half in PARTLY_TOLD:
                    continue
                letter += 1
                found = list(PROPOSED[fact](case))
                yield from (Proposal(half, letter, buckets_of(signs), right, told) for signs, right in found)
                if not found and told:
                    yield Proposal(half, letter, np.array([], dtype=np.int64), False, True)
    for signs_of_each, told in LISTED[fact]():
        letter += 1
        yield from (Proposal(LIST, letter, buckets_of(signs), right, told) for signs, right in signs_of_each)


def _listed_places() -> Iterator[tuple[list[tuple[tuple[str, ...], bool]], bool]]:
    for code, words, name in PLACES:
        found = candidates(words, (code,), WRITTEN)
        yield [(one.signs, bool(name) and is_town(one.towns[0], (name,))) for one in found], bool(name)


def _listed_times() -> Iterator[tuple[list[tuple[tuple[str, ...], bool]], bool]]:
    for code, words, wanted, most in TIMES:
        found = moments(words, WRITTEN, (code,))
        yield [(one.signs, bool(wanted) and is_within(one.time, wanted, most)) for one in found], bool(wanted)


def _places(case: Case) -> Iterator[tuple[tuple[str, ...], bool]]:
    text = f"{case.subject}\n\n{case.body.words('own')}"
    names = tuple(case.truth.get("place", ()))
    for one in candidates(text_of_places(text, case.body), languages_of(text), case.written):
        yield one.signs, is_town(one.towns[0], names)


def _times(case: Case) -> Iterator[tuple[tuple[str, ...], bool]]:
    text = f"{case.subject}\n\n{case.body.words('own')}"
    places = read_places(text_of_places(text, case.body), languages_of(text), case.written)
    for one in moments(text, by_clocks_of(places, case.written)):
        yield one.signs, is_time(case, one.time)


PROPOSED = {"place": _places, "time": _times}
LISTED = {"place": _listed_places, "time": _listed_times}


def matrix_of(rows: list[Any]) -> Any:
    ends = np.cumsum([0] + [len(r) for r in rows])
    columns = np.concatenate(rows) if rows else np.array([], dtype=np.int64)
    return scipy.sparse.csr_matrix((np.ones(len(columns)), columns, ends), shape=(len(rows), BUCKETS))


def best_of(chances: Any, letters: Any, right: Any, told: Any) -> tuple[Any, Any, int]:
    """Of each letter the chance of its likeliest proposal and whether that is right; how many there are to find."""
    order = np.lexsort((-chances, letters))
    first = order[np.unique(letters[order], return_index=True)[1]]
    return chances[first], right[first], int(told[first].sum())


def bar_of(chances: Any, right: Any, wanted: int, share: float) -> float:
    """The lowest bar above which that share is right, told with what it finds."""
    order = np.argsort(-chances, kind="stable")
    rights = np.cumsum(right[order])
    count = np.arange(1, len(order) + 1)
    for at in (0.90, 0.93, 0.95, 0.96, 0.97, 0.98):
        good = np.flatnonzero(rights / count >= at)
        last = int(good[-1]) if len(good) else 0
        print(f"   {at:.0%} right: bar {chances[order[last]]:.3f} finds {rights[last] / wanted:.1%} of {wanted}")
    good = np.flatnonzero(rights / count >= share)
    return float(chances[order[int(good[-1])]]) if len(good) else 1.0


def main() -> None:
    for fact in PROPOSED:
        print(fact)
        weigh(fact)


def weigh(fact: str) -> None:
    """Fit the weights of a fact, set its bar and write them."""
    found = list(proposals(fact))
    matrix = matrix_of([p.buckets for p in found])
    right = np.array([p.right for p in found], dtype=float)
    halves = np.array([p.half for p in found])
    letters = np.array([p.letter for p in found])
    told = np.array([p.told for p in found])
    counts = np.array([NEW.get(p.half, 1.0) for p in found])
    apart = np.zeros(len(found))
    for half in (*HALVES, LIST):
        held = halves == half
        if held.any():
            weights, offset = fit(matrix[~held], right[~held], counts[~held], ridge=RIDGE, rare=RARE)
            apart[held] = 1 / (1 + np.exp(-(matrix[held] @ weights + offset)))
            print(half)
            bar_of(*best_of(apart[held], letters[held], right[held], told[held]), RIGHT[fact])
    print("all", len(found), right.sum())
    bar_of(*best_of(apart, letters, right, told), RIGHT[fact])
    others = np.isin(halves, OTHERS)
    print("others")
    bar = bar_of(*best_of(apart[others], letters[others], right[others], told[others]), RIGHT[fact])
    weights, offset = fit(matrix, right, counts, ridge=RIDGE, rare=RARE)
    step = np.abs(weights).max() / 127
    np.savez_compressed(
        FOLDER / f"{fact}.weights.npz",
        weights=np.round(weights / step).astype(np.int8),
        step=np.float32(step),
        offset=np.float32(offset),
        bar=np.float32(bar),
    )


if __name__ == "__main__":
    sys.exit(main())
