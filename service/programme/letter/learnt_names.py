"""Whom a letter most likely asks to be named, weighed as letters with a known truth have taught it. Pure.

Each stretch of words that may be a name, each sentence that may ask to stay unnamed, and "nobody" are given a chance; they
share one whole, so that two names that are equally likely are both unlikely. A log-linear model (Berger, Della Pietra and
Della Pietra, "A maximum entropy approach to natural language processing", 1996) over the signs of `name_signs`; one for all
languages, for what a name stands between is alike in many.

The weights are made by `python -m tests.builders.build_learnt_names`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from moondesk.service.programme.letter.name_signs import TELLING, Signs, key_of, rule_signs, signs_of, span_signs
from moondesk.service.programme.letter.sign_table import Weights, is_held, weights

WEIGHTS = "names.npz"
#: What the rules read counts for less than the letters taught: rules were written with these letters in sight, and are right
#: 97 times in a hundred there, some 82 times in the letters of others.
RULES_WORTH = 0.5
#: Less likely stretches are not told of.
LEAST = 0.002


@dataclass(frozen=True, kw_only=True)
class WeighedNames:
    """name, chance: the likeliest, "" and 0 where none is, and how likely; words: its sentence; within: how likely what the
    rules read or a part of it is;
    unnamed: how likely somebody asks not to be named; unnamed_words: the sentence that does."""

    name: str = ""
    chance: float = 0.0
    words: str = ""
    within: float = 0.0
    unnamed: float = 0.0
    unnamed_words: str = ""
    bar: float = 1.0
    bar_unnamed: float = 1.0


def weigh_names(text: str, sender: str = "", ruled: str = "", rank: int = -1) -> WeighedNames:
    """text: subject, an empty line, the sender's own words; sender: the name of the From line; ruled: the name that the rules
    read, and their rank."""
    held = weights(WEIGHTS)
    found = signs_of(text, sender, lambda sign: is_held(sign, held.listed))
    rows = found.spans()
    if not len(rows):
        return WeighedNames()
    named, hidden = _sums(found, rows, sender, held)
    named += RULES_WORTH * held.sums(rule_signs(found, rows, ruled, rank))
    top = max(0.0, float(named.max()), float(hidden.max()))
    named, hidden = np.exp(named - top), np.exp(hidden - top)
    total = np.exp(-top) + named.sum() + hidden.sum()
    named, hidden = named / total, hidden / total
    chances: dict[str, float] = {}
    best: dict[str, tuple[float, str, int]] = {}
    for k in np.flatnonzero(named > LEAST).tolist():
        name, chance = found.name((int(rows[k, 0]), int(rows[k, 1]))), float(named[k])
        key = key_of(name)
        chances[key] = chances.get(key, 0.0) + chance
        best[key] = max(best.get(key, (0.0, "", 0)), (chance, name, found.sentence[found.begin[int(rows[k, 0])][0]]))
    whole = key_of(ruled)
    within = sum(chance for key, chance in chances.items() if ruled and key in whole)
    first = max(chances, key=lambda one: chances[one], default="")
    asks = int(hidden.argmax())
    return WeighedNames(
        name=best[first][1] if first else "",
        chance=chances.get(first, 0.0),
        words=found.words_of(best[first][2]) if first else "",
        within=within,
        unnamed=float(hidden.sum()),
        unnamed_words=found.words_of(asks),
        bar=held.bars["named"],
        bar_unnamed=held.bars["unnamed"],
    )


def _sums(
    found: Signs, rows: NDArray[np.int64], sender: str, held: Weights
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What speaks for each stretch and for each sentence."""
    begin = held.sums([b[2] for b in found.begin]) + held.sums(found.begin_listed)
    end = held.sums([e[2] for e in found.end]) + held.sums(found.end_listed)
    within = np.concatenate([[0.0], np.cumsum(held.sums(found.inside))])
    told, hidden = (
        held.sums(said) * TELLING / np.sqrt([max(len(one), 1) for one in said]) + held.sums(listed)
        for said, listed in ((found.told, found.told_listed), (found.hidden, found.hidden_listed))
    )
    whole = held.sums(span_signs(found, rows, sender))
    first = np.array([b[0] for b in found.begin])[rows[:, 0]]
    last = np.array([e[0] for e in found.end])[rows[:, 1]]
    sentence = np.array(found.sentence)[first]
    named = begin[rows[:, 0]] + end[rows[:, 1]] + within[last + 1] - within[first] + told[sentence] + whole
    return named + held.bars["named offset"], hidden + held.bars["unnamed offset"]
