"""Names in columns beside a picture, each with a line to what it names: which side, how high, and no two lines cross.

Boundary labelling with one bend (M. Bekos, M. Kaufmann, A. Symvonis and A. Wolff, "Boundary Labeling: Models and
Efficient Algorithms for Rectangular Maps", Computational Geometry 36, 2007; "do-leaders"): a line leaves its ring level
and ends at its name, straight, or after one bend of 45 degrees. Names stand in the order of their levels, so no two
lines of a column cross; what runs through another's ring is struck out by exact comparison.

Sides and levels are chosen by local search over every pair of choices: least total length, most of all over the lit
Moon. With a dozen names at most that finds the best there is or one hardly longer (tests compare with every
combination). Pixels of the frame, x right, y down.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from moondesk.drawing.boxes import TurnedBox
from moondesk.records import FloatArray

Point = tuple[float, float]
#: What no line may do, what one should not, and what is merely not as good as it could be, in pixels of length.
_FORBIDDEN, _BAD, _UNEVEN = 1e7, 1e5, 14.0
#: How much a pixel costs: off its point's own level, slanting between knee and name, over the lit Moon, and along a line
#: of the Moon's own.
_OFF_LEVEL, _SLANTED, _OVER_LIT, _ALONG = 0.7, 0.9, 0.8, 2.5
#: How far beyond its knee towards its ring a line may bend, units of the way from knee to name.
_BEYOND = 1.5
#: A line runs straight to a name whose middle is no farther off its level, units of the name's height.
_STRAIGHT = 0.3
#: And how many pixels of 1080 lines each step down among the spots that a name may point at.
_LESSER_SPOT = 14.0
#: Free between a line and the letters of a name that is not its own: the height of a small letter, lines of 1080.
X_HEIGHT = 18.0


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A place that a name may point at. rx, ry: half sizes of the ring round it that its line must end at."""

    x: float
    y: float
    rx: float
    ry: float


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """A name that wants a place. spots: where its line may end, the best first; width, height: of its letters; must:
    given up last."""

    key: str
    spots: tuple[Spot, ...]
    width: float
    height: float
    must: bool = False


@dataclass(frozen=True, kw_only=True)
class Column:
    """Where names stand. edge: x of their ends towards the picture; knee: x from which on lines may turn towards them;
    top, bottom: between which they stand; gap: between two of them, pixels; blocked: a stretch in which none may stand."""

    edge: float
    knee: float
    top: float
    bottom: float
    gap: float
    blocked: tuple[float, float] | None = None

    @property
    def right(self) -> bool:
        """Whether it stands to the right of the picture."""
        return self.edge > self.knee


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A name's place. y: its middle; line: from its ring to the name; right: in which column."""

    key: str
    spot: Spot
    y: float
    right: bool
    line: tuple[Point, ...]


@dataclass(frozen=True, eq=False)
class _Choice:
    """One way to lead to a name: owner, column, spot, level, the fixed part of its line, what that costs by itself."""

    owner: int
    side: int
    spot: Spot
    level: float
    path: tuple[Point, ...]
    cost: float


def arrange(
    wanted: Sequence[Wanted],
    columns: tuple[Column, Column],
    unit: float,
    obstacles: Sequence[TurnedBox] = (),
    rings: Sequence[Spot] = (),
    lit_share: Callable[[FloatArray, FloatArray], FloatArray] | None = None,
    along: Callable[[FloatArray, FloatArray], FloatArray] | None = None,
) -> dict[str, Standing]:
    """Places by key; names for which there is none without a fault are left out, those that need not be first.

    columns: left and right. obstacles: boxes through which no line may run; rings: of what is pointed at otherwise.
    lit_share: how much lit Moon (0..1) lies under points of the frame; along: whether a line of the Moon's own runs
    there.
    """
    kept = list(wanted)
    while kept:
        solver = _Solver(kept, columns, unit, obstacles, rings, lit_share, along)
        state, cost = solver.best()
        if cost < _BAD * unit:
            return solver.standings(state)
        kept.pop(solver.worst(state))
    return {}


class _Solver:
    """The search over one set of names."""

    def __init__(
        self,
        wanted: Sequence[Wanted],
        columns: tuple[Column, Column],
        unit: float,
        obstacles: Sequence[TurnedBox],
        rings: Sequence[Spot],
        lit_share: Callable[[FloatArray, FloatArray], FloatArray] | None,
        along: Callable[[FloatArray, FloatArray], FloatArray] | None = None,
    ) -> None:
        self.wanted, self.columns, self.unit = wanted, columns, unit
        self.under = [(c, f) for c, f in ((_OVER_LIT, lit_share), (_ALONG, along)) if f is not None]
        self.choices: list[_Choice] = []
        for owner, name in enumerate(wanted):
            for side in (0, 1):
                self.choices += self._choices_of(owner, name, side, obstacles, rings)
        self.by_owner = [[k for k, c in enumerate(self.choices) if c.owner == i] for i in range(len(wanted))]
        self.pair = self._pairs()

    def _choices_of(
        self, owner: int, name: Wanted, side: int, obstacles: Sequence[TurnedBox], rings: Sequence[Spot]
    ) -> list[_Choice]:
        column, u = self.columns[side], self.unit
        way = 1.0 if column.right else -1.0
        found = []
        for rank, spot in enumerate(name.spots):
            for off in (0.0, -0.4, 0.4, -0.75, 0.75) if spot.ry > 6 * u else (0.0,):
                shift = off * spot.ry
                level = spot.y + shift
                start = (spot.x + way * spot.rx * float(np.sqrt(1 - off**2)), level)
                path: tuple[Point, ...] = (start, (column.knee, level))
                if way * (column.knee - start[0]) < 0:
                    continue
                cost = length_of(path) + _OFF_LEVEL * abs(shift) + _LESSER_SPOT * rank * u
                x = np.linspace(start[0], column.knee, 48)
                for weight, share in self.under:
                    cost += weight * abs(column.knee - start[0]) * float(share(x, np.full(48, level)).mean())
                if any(runs_through(path, b) for b in obstacles):
                    cost += _FORBIDDEN
                if any(hits_ring(path, r, 5 * u) for r in rings):
                    cost += _FORBIDDEN
                found.append(_Choice(owner, side, spot, level, path, cost))
        return found

    def _pairs(self) -> FloatArray:
        """What each two choices of different names cost together."""
        n, u = len(self.choices), self.unit
        cost = np.zeros((n, n))
        for i, a in enumerate(self.choices):
            for j in range(i):
                b = self.choices[j]
                if a.owner == b.owner:
                    continue
                total = 0.0
                if hits_ring(a.path, b.spot, 6 * u) or hits_ring(b.path, a.spot, 6 * u) or lines_cross(a.path, b.path):
                    total = _FORBIDDEN
                elif a.side == b.side and abs(a.level - b.level) < 13 * u:
                    total = _BAD * u * (2.0 - abs(a.level - b.level) / (13 * u))
                cost[i, j] = cost[j, i] = total
        return cost

    def best(self) -> tuple[list[int], float]:
        """A choice for each name, and what all of them cost."""
        found: tuple[list[int], float] | None = None
        for start in self._starts():
            state, cost = self._improve(start)
            if found is None or cost < found[1] - 1e-9:
                found = state, cost
        assert found is not None
        return found

    def _starts(self) -> list[list[int]]:
        cheapest = [
            [
                min(
                    (k for k in own if self.choices[k].side == side), key=lambda k: self.choices[k].cost, default=own[0]
                )
                for side in (0, 1)
            ]
            for own in self.by_owner
        ]
        nearest = [min(pair, key=lambda k: self.choices[k].cost) for pair in cheapest]
        order = np.argsort([min(s.y for s in w.spots) for w in self.wanted])
        turn = np.argsort(order) % 2
        return [
            nearest,
            [pair[int(t)] for pair, t in zip(cheapest, turn, strict=True)],
            [pair[1 - int(t)] for pair, t in zip(cheapest, turn, strict=True)],
        ]

    def _improve(self, start: list[int]) -> tuple[list[int], float]:
        state, cost = list(start), self._cost(start)
        for _ in range(12):
            before = cost
            for i, own in enumerate(self.by_owner):
                for k in own:
                    if k == state[i]:
                        continue
                    trial = [*state[:i], k, *state[i + 1 :]]
                    total = self._cost(trial, cost)
                    if total < cost - 1e-9:
                        state, cost = trial, total
            for i in range(len(state)):  # two change sides with each other
                for j in range(i):
                    a, b = self.choices[state[i]], self.choices[state[j]]
                    if a.side != b.side:
                        k = min(
                            (c for c in self.by_owner[i] if self.choices[c].side == b.side),
                            key=lambda c: self.choices[c].cost,
                            default=-1,
                        )
                        m = min(
                            (c for c in self.by_owner[j] if self.choices[c].side == a.side),
                            key=lambda c: self.choices[c].cost,
                            default=-1,
                        )
                        if k >= 0 and m >= 0:
                            trial = list(state)
                            trial[i], trial[j] = k, m
                            total = self._cost(trial, cost)
                            if total < cost - 1e-9:
                                state, cost = trial, total
            if cost >= before - 1e-9:
                break
        return state, cost

    def _cost(self, state: Sequence[int], enough: float = np.inf) -> float:
        index = np.asarray(state)
        total = sum(self.choices[k].cost for k in state) + float(self.pair[np.ix_(index, index)].sum()) / 2
        counts = [0, 0]
        for k in state:
            counts[self.choices[k].side] += 1
        total += _UNEVEN * self.unit * (counts[0] - counts[1]) ** 2
        if total >= enough:
            return total
        for side in (0, 1):
            total += self._stack(state, side)[1]
        return total

    def _stack(self, state: Sequence[int], side: int) -> tuple[dict[int, float], float]:
        """Middles of the names of a column by owner, as near to their levels as they go, and what that costs."""
        mine = sorted((c.level, c.owner, c.path[0][0]) for c in (self.choices[k] for k in state) if c.side == side)
        if not mine:
            return {}, 0.0
        column = self.columns[side]
        heights = [self.wanted[owner].height for _, owner, _ in mine]
        middles = stack_round([level for level, _, _ in mine], heights, column)
        if middles is None:
            return {owner: level for level, owner, _ in mine}, _FORBIDDEN
        cost = 0.0
        run = abs(column.edge - column.knee)
        for (level, owner, start), y in zip(mine, middles, strict=True):
            off = abs(y - level)
            cost += _SLANTED * off + 3.0 * max(0.0, off - run)
            if off > min(_BEYOND * run, abs(column.edge - start)):
                cost += (0.2 if self.wanted[owner].must else 1.0) * _BAD * self.unit
        return {owner: y for (_, owner, _), y in zip(mine, middles, strict=True)}, cost

    def worst(self, state: Sequence[int]) -> int:
        """The name to be given up: of those that need not be the one with the most faults, the last of equals."""
        index = np.asarray(state)
        faults = [self.choices[k].cost + float(self.pair[k, index].sum()) for k in state]
        bad = _BAD * self.unit
        over = [k for k in (0, 1) if self._stack(state, k)[1] >= bad]
        faults = [f + (bad if self.choices[k].side in over else 0.0) for f, k in zip(faults, state, strict=True)]
        ranked = [(not self.wanted[i].must, faults[i] >= bad, i) for i in range(len(state))]
        return max(ranked)[2]

    def standings(self, state: Sequence[int]) -> dict[str, Standing]:
        found = {}
        for side in (0, 1):
            middles, _ = self._stack(state, side)
            for k in state:
                c = self.choices[k]
                if c.side == side:
                    y = middles[c.owner]
                    edge, off = self.columns[side].edge, abs(y - c.level)
                    bend = edge - off if side else edge + off
                    line: tuple[Point, ...] = (c.path[0], (bend, c.level), (edge, y))
                    if off < _STRAIGHT * self.wanted[c.owner].height:  # it meets the letters' side all the same
                        line = (c.path[0], (edge, c.level))
                    elif off > abs(edge - c.path[0][0]):  # of one that was asked for, without room for the bend
                        line = (c.path[0], (edge, y))
                    key = self.wanted[c.owner].key
                    found[key] = Standing(key=key, spot=c.spot, y=y, right=bool(side), line=line)
        return found


def stack_round(levels: Sequence[float], heights: Sequence[float], column: Column) -> list[float] | None:
    """As `stack` within a column, above and below the stretch that is blocked; None without room."""
    if column.blocked is None:
        return stack(levels, heights, column.gap, column.top, column.bottom)
    above, below = column.blocked
    at = sum(level < (above + below) / 2 for level in levels)
    best: tuple[float, list[float]] | None = None
    for k in range(max(at - 2, 0), min(at + 2, len(levels)) + 1):
        first = stack(levels[:k], heights[:k], column.gap, column.top, above) if k else []
        second = stack(levels[k:], heights[k:], column.gap, below, column.bottom) if k < len(levels) else []
        if first is not None and second is not None:
            middles = [*first, *second]
            off = sum(abs(y - level) for y, level in zip(middles, levels, strict=True))
            if best is None or off < best[0]:
                best = off, middles
    return None if best is None else best[1]


def stack(
    levels: Sequence[float], heights: Sequence[float], gap: float, top: float, bottom: float
) -> list[float] | None:
    """Middles of names in their order, without overlap and as near to their levels as squares tell; None without room.

    Names that push each other form a block whose place is the mean of what its members want (pool adjacent violators,
    R. Barlow et al. 1972); a block that leaves the column is moved back in.
    """
    if sum(heights) + gap * (len(heights) - 1) > bottom - top + 1e-6:
        return None
    # of each block: sum of wanted tops of its first name, how many, length, first
    blocks: list[list[float]] = []
    offsets = np.concatenate([[0.0], np.cumsum([h + gap for h in heights])])

    def start(block: list[float]) -> float:
        return float(np.clip(block[0] / block[1], top, bottom - block[2]))

    for k, (level, height) in enumerate(zip(levels, heights, strict=True)):
        blocks.append([level - height / 2, 1.0, height, k])
        while len(blocks) > 1 and start(blocks[-2]) + blocks[-2][2] + gap > start(blocks[-1]) + 1e-9:
            last = blocks.pop()
            before = blocks[-1]
            inner = offsets[int(last[3])] - offsets[int(before[3])]
            before[0] += last[0] - last[1] * inner
            before[1] += last[1]
            before[2] = inner + last[2]
    middles = []
    for n, block in enumerate(blocks):
        first = int(block[3])
        end = int(blocks[n + 1][3]) if n + 1 < len(blocks) else len(heights)
        middles += [start(block) + offsets[k] - offsets[first] + heights[k] / 2 for k in range(first, end)]
    return middles


def lines_cross(one: Sequence[Point], other: Sequence[Point]) -> bool:
    """Whether two lines of straight pieces cross."""
    return any(
        _turn(a, b, c) * _turn(a, b, d) < 0 and _turn(c, d, a) * _turn(c, d, b) < 0
        for a, b in pairwise(one)
        for c, d in pairwise(other)
    )


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def length_of(path: Sequence[Point]) -> float:
    return float(sum(np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(path)))


def hits_ring(path: Sequence[Point], ring: Spot, room: float) -> bool:
    """Whether a line comes nearer to a ring than `room`: in coordinates in which the ring is a circle of radius 1."""
    a, b = ring.rx + room, ring.ry + room
    for (x0, y0), (x1, y1) in pairwise(path):
        px, py, qx, qy = (x0 - ring.x) / a, (y0 - ring.y) / b, (x1 - ring.x) / a, (y1 - ring.y) / b
        dx, dy = qx - px, qy - py
        t = min(max(-(px * dx + py * dy) / max(dx * dx + dy * dy, 1e-12), 0.0), 1.0)
        if (px + t * dx) ** 2 + (py + t * dy) ** 2 < 1.0:
            return True
    return False


def runs_through(path: Sequence[Point], box: TurnedBox) -> bool:
    """Whether a line runs through a box (pieces clipped to its slabs: C. Cyrus and J. Beck 1978)."""
    for (x0, y0), (x1, y1) in pairwise(path):
        low, high = 0.0, 1.0
        for p, d, b0, b1 in ((x0, x1 - x0, box.x0, box.x1), (y0, y1 - y0, box.y0, box.y1)):
            if abs(d) < 1e-12:
                if not b0 < p < b1:
                    low, high = 1.0, 0.0
                continue
            s, t = sorted(((b0 - p) / d, (b1 - p) / d))
            low, high = max(low, s), min(high, t)
        if low < high:
            return True
    return False
