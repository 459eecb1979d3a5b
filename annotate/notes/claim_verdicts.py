"""How a claim is judged: a difference against two tolerances, for the light as it is and as far off as it may be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from moondesk.notes.claim_words import Amount
from moondesk.notes.feature_notes import FeatureLight
from moondesk.notes.messages import Message

Verdict = Literal["true", "roughly", "false", "cannot tell", "not understood"]

#: Kilometres of a degree along a great circle of the Moon: 2 pi 1737.4 / 360.
KM_A_DEGREE = 30.323


@dataclass(frozen=True)
class Checked:
    """What came of a claim. said: how it is, with the numbers; tolerance: up to what it counts as true and roughly so
    (None where nothing was measured); hints: what else can be asked, for a claim that was not understood."""

    verdict: Verdict
    said: Message
    tolerance: Message | None = None
    hints: tuple[str, ...] = ()


@dataclass(frozen=True)
class Tolerance:
    """Off by no more than `true` counts as true, than `rough` as roughly true."""

    true: float
    rough: float

    def judge(self, off: float) -> Verdict:
        return "true" if abs(off) <= self.true else "roughly" if abs(off) <= self.rough else "false"

    def above(self, over: float) -> Verdict:
        """For "more than": by how much it is more; within `true` of the mark it is roughly so."""
        return "roughly" if abs(over) <= self.true else "true" if over > 0 else "false"


def over_light(judge: Callable[[float], Verdict], light: FeatureLight) -> Verdict:
    """The verdict of `judge` (of a turn of the Sun in degrees), weakened where the light is not known well enough.

    It is asked as things are and two sigma to either side: where these answers are opposite nobody can tell.
    """
    here = judge(0.0)
    beside = {judge(k * light.sun_sigma_deg) for k in (-2.0, 2.0)} | {here}
    if beside == {here}:
        return here
    return "cannot tell" if {"true", "false"} <= beside else "roughly"


def spoken_tolerance(told: Amount, least: Tolerance, part: float) -> Tolerance:
    """What a number as people say it allows: half of what it is rounded to, or a part of it, but the least anyway."""
    half = min(0.55 * told.step, part * told.value)
    return Tolerance(max(least.true, half), max(least.rough, 2 * half))
