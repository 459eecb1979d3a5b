"""What a sentence most likely says, weighed as many sentences with a known meaning have taught it. Pure.

Beside the ways to say something that a language's file lists stands this second reader, for wording that nobody listed. It
is a linear one: each word, each pair and triple of words, each run of letters inside a word and each class of words of
the language's file weighs for or against a meaning, and the sum is judged. Runs of letters see inflections, compounds and
typing errors as what they resemble.

Methods: letter n-grams as features of short texts (Cavnar and Trenkle, "N-gram-based text categorization", 1994); the
hashing trick (Weinberger et al., "Feature hashing for large scale multitask learning", 2009); logistic regression (Cox
1958; for texts Genkin, Lewis and Madigan, "Large-scale Bayesian logistic regression for text categorization", 2007).

The weights are made by `python -m tests.builders.build_learnt_words` of `tests/letters/corpus`, and so are the bars: how
sure it must be, by sentences of voices that a reader without them had not met.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from moondesk.service.lexicons.lexicon import FOLDER, Lexicon, lexicon
from moondesk.service.lexicons.patterns import WORD

#: no: it may not be shown, or only the programme may see it; withdrawal, child: as
#: the rules mean them. A yes is not learnt: of some hundred sentences a language, one in fifty
#: read as a yes was none. What is learnt makes graver what the rules doubt, and says nothing of an ordinary sentence.
MEANINGS = ("no", "withdrawal", "child")
#: Numbers that features are counted under, and their letters of a word, words of a script without spaces.
BUCKETS, LONGEST_RUN, PIECE = 1 << 15, 5, 5
#: No more of a sentence is weighed.
LONGEST = 600
_TOKEN = re.compile(rf"{WORD}+|[?!]")


@dataclass(frozen=True)
class Learnt:
    """weights: of meaning and bucket, in steps; steps, offsets: of each meaning; bars: how likely it must
    be."""

    weights: NDArray[np.int8]
    steps: NDArray[np.float32]
    offsets: NDArray[np.float32]
    bars: NDArray[np.float32]


@lru_cache(maxsize=16)
def learnt(code: str) -> Learnt | None:
    """What a language has learnt; None where nothing."""
    path = FOLDER / f"{code}.learnt.npz"
    if not path.exists():
        return None
    with np.load(path) as held:
        return Learnt(held["weights"], held["steps"], held["offsets"], held["bars"])


@lru_cache(maxsize=1024)
def weigh(sentence: str, code: str) -> frozenset[str]:
    """What a sentence of a language most likely means, of `MEANINGS`, where the rules doubt it; nothing where the language
    has learnt nothing."""
    held = learnt(code)
    buckets = buckets_of(sentence, lexicon(code))
    if held is None or len(buckets) == 0:
        return frozenset()
    sums = held.weights[:, buckets].sum(axis=1) * held.steps / math.sqrt(len(buckets)) + held.offsets
    chances = 1.0 / (1.0 + np.exp(-np.clip(sums, -30, 30)))
    return frozenset(m for m, c, bar in zip(MEANINGS, chances, held.bars, strict=True) if c >= bar)


def buckets_of(sentence: str, words: Lexicon) -> NDArray[np.int64]:
    """The buckets of a sentence's features, each once and in order."""
    text = words.fold(sentence[:LONGEST]).text
    return np.array(sorted({_bucket(f) for f in _features(text, words)}), dtype=np.int64)


@lru_cache(maxsize=1 << 15)
def _bucket(feature: str) -> int:
    return crc32(feature.encode()) % BUCKETS


def _features(text: str, words: Lexicon) -> Iterator[str]:
    said = _TOKEN.findall(text)
    if not said:
        return
    if words.writing.spaces:
        said = ["0" if w.isdigit() else w for w in said]
        row = ["^", *said, "$"]
        for k, word in enumerate(row):
            yield f"w {word}"
            yield from _runs(word)
            for n in (1, 2):
                if k + n < len(row):
                    yield f"{n} {' '.join(row[k : k + n + 1])}"
            for gap in (2, 3):
                if k + gap < len(row):
                    yield f"s {word} {row[k + gap]}"
    else:
        joined = "^" + " ".join(said) + "$"
        for n in range(1, PIECE + 1):
            for k in range(len(joined) - n + 1):
                yield f"p {joined[k : k + n]}"
    for name in words.classes:
        if words.search("class", name)(text):
            yield f"c {name}"


@lru_cache(maxsize=1 << 14)
def _runs(word: str) -> tuple[str, ...]:
    """The runs of letters of a word, with signs for its ends."""
    edged = f"<{word}>"
    return tuple(
        f"r {edged[k : k + n]}" for n in range(2, LONGEST_RUN + 1) for k in range(len(edged) - n + 1) if n < len(edged)
    )
