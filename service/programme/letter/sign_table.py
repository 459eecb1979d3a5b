"""Signs that were counted and what each weighs: the small numerics of readers that learnt. Pure.

A sign is a string ("the word before is *call*"); it is counted under a number that its letters give, and the table of
weights is made by a builder of letters with a known truth. Method: the hashing trick (Weinberger et al., "Feature hashing
for large scale multitask learning", 2009).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from moondesk.service.lexicons.lexicon import FOLDER

#: Numbers that signs are counted under.
BUCKETS = 1 << 17


@dataclass(frozen=True)
class Weights:
    """values: of each bucket, in steps; listed: numbers of listed words (see `is_held`); bars: what the reader asks
    for, by its own names."""

    values: NDArray[np.int8]
    step: float
    listed: frozenset[int]
    bars: dict[str, float]

    def sums(self, rows: Sequence[Sequence[int]]) -> NDArray[np.float64]:
        """What the signs of each row weigh together."""
        sizes = np.fromiter(map(len, rows), np.int64, len(rows))
        flat = np.fromiter(chain.from_iterable(rows), np.int64, int(sizes.sum()))
        so_far = np.concatenate([[0], np.cumsum(self.values[flat], dtype=np.int64)])
        ends = np.cumsum(sizes)
        return np.asarray((so_far[ends] - so_far[ends - sizes]) * self.step)


@lru_cache(maxsize=8)
def weights(file: str) -> Weights:
    """The weights of a file beside those of the languages."""
    with np.load(FOLDER / file) as held:
        bars = dict(zip(held["bar_names"].tolist(), held["bars"].tolist(), strict=True))
        values = np.zeros(BUCKETS, np.int8)
        values[held["used"]] = held["values"]
        return Weights(values, float(held["step"]), frozenset(held["listed"].tolist()), bars)


@lru_cache(maxsize=1 << 16)
def bucket(sign: str) -> int:
    return crc32(sign.encode()) % BUCKETS


def is_held(word: str, listed: frozenset[int]) -> bool:
    """Whether a word is one of a list that is kept as numbers of its words: one in some hundred thousand others is taken for
    one."""
    return crc32(word.encode()) in listed
