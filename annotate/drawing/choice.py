"""Which candidates can stand together, and a good set of them: greedy by value, then names push one another aside.

A pair that cannot stand together is one entry of a square table, so that trying a place costs one look. Simulated
annealing would find a little more (J. Christensen, J. Marks, S. Shieber 1995), but not twice the same and not in
milliseconds.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from moondesk.drawing.boxes import BoolArray, covering, overlaps
from moondesk.drawing.candidates import rims
from moondesk.drawing.scene import Candidates, Scene
from moondesk.drawing.style import SPOT_KINDS
from moondesk.records import FeatureMark, FloatArray

#: A name is not worth a place that costs more than this and its value together.
WORTH = 0.55


def conflicts(every: Candidates, font_px: float) -> BoolArray:
    """(n, n): pairs of candidates that cannot both stand."""
    clash: BoolArray = np.equal.outer(every.owner, every.owner)
    box = every.box.grow(0.2 * font_px)
    clash |= overlaps(box, box)
    hung = np.flatnonzero(every.leader)
    lines = every.take(hung).leaders(0.3 * font_px)
    struck = overlaps(every.box.grow(0.25 * font_px), lines)
    struck &= every.owner[:, None] != every.owner[hung]
    struck[hung] |= overlaps(lines, lines)
    clash[:, hung] |= struck
    clash[hung] |= struck.T
    return clash


def keep_off_features(clash: BoolArray, every: Candidates, pool: Sequence[FeatureMark], scene: Scene) -> None:
    """Adds to clash: a leader line over a rim that is drawn, save one that holds the line's own feature; a name on a
    spot that is named."""
    spots = rims(pool, scene.pose, scene.font_px)
    i, j = covering(every.leaders(0.15 * scene.font_px), spots)
    k = every.owner[i]
    craters = np.array([m.feature.kind == "crater" for m in pool])
    dx, dy = spots.x[k] - spots.x[j], spots.y[k] - spots.y[j]
    away = np.hypot(dx, dy)
    safe = np.maximum(away, 1e-9)
    reach = spots.take(j).reach(dx / safe, dy / safe)
    over = (k != j) & craters[j] & (away > reach)
    barred = np.zeros((len(every), len(pool)), bool)  # candidates that rule out any name of a feature
    barred[i[over], j[over]] = True
    i, j = covering(every.box, spots)
    pointed = np.array([m.feature.kind in SPOT_KINDS for m in pool])
    named = (every.owner[i] != j) & pointed[j]
    barred[i[named], j[named]] = True
    wide = barred[:, every.owner]
    clash |= wide
    clash |= wide.T


class LabelChoice:
    """A search for the places of names. clash: (n, n), the pairs of candidates that cannot both stand.

    value: what naming each feature is worth, shape (owners,). At most `wanted` names are set.
    """

    def __init__(self, every: Candidates, clash: BoolArray, value: FloatArray, wanted: int) -> None:
        self._cost, self._clash, self._wanted = every.cost, clash, wanted
        self._worth = WORTH + value
        self._order = [int(k) for k in np.argsort(-value, kind="stable")]
        mine = [np.flatnonzero(every.owner == k) for k in range(len(value))]
        self._mine = [c[np.argsort(every.cost[c], kind="stable")] for c in mine]
        self._placed: dict[int, int] = {}
        self._blocked = np.zeros(len(every), np.int32)  # how many set candidates stand in the way of each

    def best(self) -> list[int]:
        """Indices of the candidates that are set, the most valuable feature first."""
        for k in self._order:
            free = self._free(k)
            if len(self._placed) < self._wanted and free is not None:
                self._put(k, free)
        for _ in range(2):
            for k in self._order:
                if k in self._placed:  # a better place may have come free
                    lifted = self._lift(k)
                    free = self._free(k)
                    self._put(k, lifted if free is None else free)
                elif len(self._placed) < self._wanted:
                    self._push_in(k)
        return [self._placed[k] for k in self._order if k in self._placed]

    def _free(self, owner: int) -> int | None:
        for c in self._mine[owner]:
            if self._cost[c] > self._worth[owner]:
                return None
            if self._blocked[c] == 0:
                return int(c)
        return None

    def _put(self, owner: int, candidate: int) -> None:
        self._placed[owner] = candidate
        self._blocked += self._clash[candidate]

    def _lift(self, owner: int) -> int:
        candidate = self._placed.pop(owner)
        self._blocked -= self._clash[candidate]
        return candidate

    def _push_in(self, owner: int) -> None:
        """Sets a name whose every place is taken, if the one name in its way has somewhere else to go."""
        for c in self._mine[owner]:
            if self._cost[c] > self._worth[owner]:
                return
            if self._blocked[c] > 1:
                continue
            rivals = [o for o, p in self._placed.items() if self._clash[c, p]]
            lifted = {o: self._lift(o) for o in rivals}
            self._put(owner, int(c))
            found = {o: self._free(o) for o in rivals}
            if all(place is not None for place in found.values()):
                for o, place in found.items():
                    if place is not None:
                        self._put(o, place)
                return
            self._lift(owner)
            for o, old in lifted.items():
                self._put(o, old)
