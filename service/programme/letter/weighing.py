"""What speaks for and against a reading, weighed: a log-linear model of signs that are counted under hashes. Pure.

A reader that proposes (a town, a time, a name) tells signs of each proposal, as strings; each is worth something that was
learnt from letters with a known truth, and the sum tells how likely the proposal is right. Methods as in `letter.learnt`:
logistic regression (Cox 1958), feature hashing (Weinberger et al. 2009).

The weights are made by `python -m tests.builders.build_weighed_facts`; FACT.weights.npz beside the languages' files.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from moondesk.service.lexicons.lexicon import FOLDER

#: Numbers that signs are counted under.
BUCKETS = 1 << 16


@dataclass(frozen=True)
class Weights:
    """weights: of each bucket, in steps; bar: how likely a reading must be to be told."""

    weights: NDArray[np.int8]
    step: float
    offset: float
    bar: float

    def chance(self, signs: Iterable[str]) -> float:
        """How likely it is that what has these signs is right, 0 to 1."""
        total = self.step * float(self.weights[buckets_of(signs)].sum(dtype=np.int64)) + self.offset
        return 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, total))))


@lru_cache(maxsize=8)
def weights_of(fact: str) -> Weights:
    """What was learnt about a kind of fact: "place", "time". Raises FileNotFoundError where nothing was."""
    with np.load(FOLDER / f"{fact}.weights.npz") as held:
        return Weights(held["weights"], float(held["step"]), float(held["offset"]), float(held["bar"]))


def buckets_of(signs: Iterable[str]) -> NDArray[np.int64]:
    """The buckets of signs, each once and in order."""
    return np.array(sorted({_bucket(sign) for sign in signs}), dtype=np.int64)


@lru_cache(maxsize=1 << 15)
def _bucket(sign: str) -> int:
    return crc32(sign.encode()) % BUCKETS


def steps_of(name: str, value: float, least: float, most: float, step: float) -> list[str]:
    """A number as signs: one for each step that it reaches, so that a weight a step makes any curve."""
    count = int((min(value, most) - least) / step + 1e-9)
    return [f"{name}>{least + k * step:g}" for k in range(count + 1)] if value >= least else [f"{name}<{least:g}"]
