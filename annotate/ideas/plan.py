"""Ideas spread over the evenings of a lunation: each told once, where all together are told best."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from scipy.optimize import linear_sum_assignment

from moondesk.ideas.library import IDEAS, tell
from moondesk.ideas.records import Idea, Telling
from moondesk.ideas.tonight import Tonight
from moondesk.records import NotFound

#: Between plans that are equally good the one that tells earlier ideas of the library on earlier evenings; far below
#: any difference of merit that means something.
_TIE = 1e-7


@dataclass(frozen=True)
class Planned:
    """An evening with the idea told on it, or why there is none."""

    when: datetime
    idea: Idea | None
    telling: Telling | NotFound


@dataclass(frozen=True)
class Plan:
    """evenings: in order of time; left: key of each idea that is not told, and why."""

    evenings: tuple[Planned, ...]
    left: tuple[tuple[str, NotFound], ...]


def plan_over_lunation(evenings: Sequence[Tonight], told: Collection[str] = (), ideas: Sequence[Idea] = IDEAS) -> Plan:
    """One idea an evening, none twice, so that the sum of their merits is greatest.

    evenings: those that have a programme, each as its picture shows it (`tonight_of`) or, ahead, as it will be
    (`predict_tonight`); told: keys of ideas told before.
    """
    nights = sorted(evenings, key=lambda t: t.when)
    fresh = [i for i in ideas if i.key not in told]
    table = [[tell(i, t) for t in nights] for i in fresh]
    merit = np.zeros((len(fresh), len(nights)))
    for k, row in enumerate(table):
        for n, found in enumerate(row):
            if isinstance(found, Telling):
                merit[k, n] = 0.01 + found.merit - _TIE * (k + 1) * (n + 1)
    ideas_at, nights_at = linear_sum_assignment(merit, maximize=True)
    chosen = {int(n): int(k) for k, n in zip(ideas_at, nights_at, strict=True) if merit[k, n] > 0.0}
    planned = []
    for n, t in enumerate(nights):
        at = chosen.get(n)
        planned.append(Planned(t.when, fresh[at], table[at][n]) if at is not None
                       else Planned(t.when, None, _why_none([row[n] for row in table])))  # fmt: skip
    left = [(i.key, _why_left(table[k])) for k, i in enumerate(fresh) if k not in chosen.values()]
    return Plan(tuple(planned), tuple(left))


def _why_none(row: Sequence[Telling | NotFound]) -> NotFound:
    if not row:
        return NotFound("idea", "All ideas have been told.", "Begin anew with the history of this lunation alone.")
    if any(isinstance(r, Telling) for r in row):
        return NotFound("idea", "What this evening shows is told better on others.", "Repeat one that people liked.")
    return NotFound(
        "idea", "Tonight's Moon shows none of the ideas that are left.", "Speak of the pictures themselves."
    )


def _why_left(row: Sequence[Telling | NotFound]) -> NotFound:
    if any(isinstance(r, Telling) for r in row):
        return NotFound(
            "idea", "Each evening that shows it carries an idea that fits better.", "Keep it for the next lunation."
        )
    own = [r for r in row if isinstance(r, NotFound) and "other days" not in r.reason]
    return (
        own[0]
        if own
        else NotFound("idea", "No evening with a programme falls on its days.", "Keep it for the next lunation.")
    )
