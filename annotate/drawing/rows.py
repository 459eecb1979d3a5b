"""Names of an upright frame: in two blocks above the Moon and two below, left and right, each with a line that bends once.

Boundary labelling with rectangular lines (Bekos et al. 2007, "po-leaders"): from its point a line runs straight up or
down to the height of its name and from there level to it. In a left block the name whose point lies farther to the
right stands farther out, in a right block the other way round: so no two lines of a side cross. Which side, and which
block, is chosen by local search as in `boundary`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from moondesk.drawing.boundary import X_HEIGHT, Point, hits_ring, length_of, lines_cross, runs_through
from moondesk.drawing.stage import NameRequest, PlacedName, Stage

_FORBIDDEN, _ROWS = 1e6, 3
_SHIFTS = (0.0, -0.6, 0.6)


@dataclass(frozen=True)
class _Pick:
    """Side (0 above, 1 below), block (0 left, 1 right), spot, shift of the line from its middle in units of rx."""

    side: int
    block: int
    spot: int
    shift: float


def arrange_rows(stage: Stage, requests: Sequence[NameRequest], placed: dict[str, PlacedName]) -> dict[str, PlacedName]:
    """Places by key; where there is no room, of those that need not be that goes without which the fewest faults are
    left, a sea later than others, of equals the last. What went comes back where the others make room."""
    kept = list(requests)
    gone_ones: list[NameRequest] = []
    start: list[_Pick] | None = None
    while kept:
        state, found, cost = _Rows(stage, kept, placed).best(start)
        if cost < _FORBIDDEN:
            more = [r for r in requests if r in gone_ones]
            return _with_more(stage, kept, more, placed, state, found)
        rest = [k for k, r in enumerate(kept) if not r.must] or list(range(len(kept)))
        left = {}
        for k in rest:
            others = _Rows(stage, [*kept[:k], *kept[k + 1 :]], placed)
            left[k] = others.lay([*state[:k], *state[k + 1 :]])[1] // _FORBIDDEN
        gone = min(rest, key=lambda k: (left[k] + bool(kept[k].sea), -k))
        gone_ones.append(kept.pop(gone))
        start = [*state[:gone], *state[gone + 1 :]]
    return {}


def _with_more(
    stage: Stage,
    kept: list[NameRequest],
    more: Sequence[NameRequest],
    placed: dict[str, PlacedName],
    state: list[_Pick],
    found: dict[str, PlacedName],
) -> dict[str, PlacedName]:
    """The places with those of `more` for which there is room after all, seas first."""
    for request in sorted(more, key=lambda r: not r.sea):
        wider = _Rows(stage, [*kept, request], placed)
        pick = min(wider.options[-1], key=lambda option: wider.lay([*state, option])[1])
        picks, places, cost = wider.best([*state, pick])
        if cost < _FORBIDDEN:
            kept, state, found = [*kept, request], picks, places
    return found


class _Rows:
    def __init__(self, stage: Stage, requests: Sequence[NameRequest], placed: dict[str, PlacedName]) -> None:
        fmt, u = stage.format, stage.format.unit
        self.u, self.safe, self.requests = u, fmt.safe, requests
        pose = stage.pose
        above, below = pose.y + 0.5 - pose.radius_px - 30 * u, pose.y + 0.5 + pose.radius_px + 30 * u
        end = min([b.y0 for b in stage.fixed if b.y0 > below and b.width > 60 * u] + [self.safe.y1]) - 26 * u
        self.zones = ((self.safe.y0, above), (below, end))
        self.far = 0.9 * pose.radius_px  # a longer line crosses half of the Moon
        self.obstacles = [*(b.grow(10 * u) for b in stage.fixed), *(p.box.grow(X_HEIGHT * u) for p in placed.values())]
        self.options = [
            [
                _Pick(side, block, s, shift)
                for side in (0, 1)
                for block in (0, 1)
                for s in range(min(len(r.spots), 4))
                for shift in (_SHIFTS if r.spots[s].rx > 8 * u else (0.0,))
            ]
            for r in requests
        ]

    def best(self, start: list[_Pick] | None) -> tuple[list[_Pick], dict[str, PlacedName], float]:
        """Picks, places and what they cost. start: picks to begin with besides the usual ones."""
        best: tuple[list[_Pick], dict[str, PlacedName], float] | None = None
        for state in [*([start] if start else []), *self._starts()]:
            found, cost = self.lay(state)
            for _ in range(6):
                before = cost
                for i, options in enumerate(self.options):
                    for option in options:
                        if option != state[i]:
                            trial = [*state[:i], option, *state[i + 1 :]]
                            other, total = self.lay(trial)
                            if total < cost - 1e-9:
                                state, found, cost = trial, other, total
                if cost >= before - 1e-9:
                    break
            if best is None or cost < best[2]:
                best = state, found, cost
        assert best is not None
        return best

    def _starts(self) -> list[list[_Pick]]:
        order = np.argsort(np.argsort([r.spots[0].y for r in self.requests]))
        sides = [int(k >= len(order) / 2) for k in order]
        x = [r.spots[0].x for r in self.requests]
        middle = [float(np.median([x[k] for k in range(len(x)) if sides[k] == side] or [0.0])) for side in (0, 1)]
        parted = [_Pick(side, int(x[k] > middle[side]), 0, 0.0) for k, side in enumerate(sides)]
        return [parted, [replace(pick, block=1 - pick.block) for pick in parted]]

    def lay(self, state: Sequence[_Pick]) -> tuple[dict[str, PlacedName], float]:
        found: dict[str, PlacedName] = {}
        cost = 0.0
        counts = []
        for side in (0, 1):
            for block in (0, 1):
                mine = [k for k, pick in enumerate(state) if (pick.side, pick.block) == (side, block)]
                counts.append(len(mine))
                if len(mine) > _ROWS:
                    cost += _FORBIDDEN * (len(mine) - _ROWS)
                # the inner row belongs to the point that lies nearest to the block's own edge
                mine.sort(key=lambda k: self._x(k, state[k]), reverse=block == 1)
                top, bottom = self.zones[side]
                y = bottom if side == 0 else top
                for k in mine:
                    request = self.requests[k]
                    high = request.block.height
                    middle = y - high / 2 if side == 0 else y + high / 2
                    y += (high + 26 * self.u) * (-1 if side == 0 else 1)
                    if middle - high / 2 < top or middle + high / 2 > bottom:
                        cost += _FORBIDDEN
                    placed = self._place(request, state[k], middle)
                    found[request.key] = placed
        cost += 25 * self.u * float(np.var(counts)) * 4
        return found, cost + self._faults(list(found.values()))

    def _x(self, k: int, pick: _Pick) -> float:
        spot = self.requests[k].spots[pick.spot]
        return spot.x + pick.shift * spot.rx

    def _place(self, request: NameRequest, pick: _Pick, y: float) -> PlacedName:
        spot, u = request.spots[pick.spot], self.u
        x = spot.x + pick.shift * spot.rx
        up = -1.0 if pick.side == 0 else 1.0
        start = (x, spot.y + up * spot.ry * float(np.sqrt(1 - pick.shift**2)))
        w, h = request.block.width, request.block.height
        left = pick.block == 0
        edge = self.safe.x0 if left else self.safe.x1
        inner = edge + w if left else edge - w
        near = min(edge, inner) - 4 * u <= x <= max(edge, inner) + 4 * u
        if near:  # straight to the name's own edge
            line: tuple[Point, ...] = (start, (x, y - up * (h / 2 + 10 * u)))
        else:
            line = (start, (x, y), (inner + (10 * u if left else -10 * u), y))
        return PlacedName(block=request.block, x=edge, y=y, align="left" if left else "right", spot=spot, line=line)

    def _faults(self, names: Sequence[PlacedName]) -> float:
        cost = 0.0
        u = self.u
        for i, a in enumerate(names):
            run = abs(a.line[1][1] - a.line[0][1])
            cost += length_of(a.line) + 3.0 * max(0.0, run - self.far) + (_FORBIDDEN if run > 1.7 * self.far else 0.0)
            up = a.line[1][1] < a.line[0][1]
            if (a.line[1][1] - a.spot.y) * (-1 if up else 1) < 0:
                cost += _FORBIDDEN
            cost += _FORBIDDEN * sum(runs_through(a.line, box) for box in self.obstacles)
            for j, b in enumerate(names):
                if i == j:
                    continue
                if hits_ring(a.line, b.spot, 6 * u) or runs_through(a.line, b.box.grow(X_HEIGHT * u)):
                    cost += _FORBIDDEN
                if i < j:
                    if lines_cross(a.line, b.line) or a.box.grow(8 * u).touches(b.box):
                        cost += _FORBIDDEN
                    if abs(a.line[0][0] - b.line[0][0]) < 16 * u:  # two lines side by side are read as one
                        (a0, a1), (b0, b1) = (sorted((n.line[0][1], n.line[1][1])) for n in (a, b))
                        cost += _FORBIDDEN if min(a1, b1) > max(a0, b0) else 400 * u
        return cost
