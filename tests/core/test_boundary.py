"""Names in columns: no two lines cross or run through another's ring, no two names touch, and no arrangement is shorter.

Crossing is judged here by solving for the common point of two segments in whole numbers and fractions, which the
module's own comparison of orientations does not do.
"""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest

from moondesk.drawing import boundary
from moondesk.drawing.boundary import Column, Spot, Wanted, arrange, lines_cross, stack
from moondesk.drawing.boxes import TurnedBox

LEFT = Column(edge=400.0, knee=450.0, top=60.0, bottom=860.0, gap=24.0)
RIGHT = Column(edge=1500.0, knee=1450.0, top=60.0, bottom=860.0, gap=24.0)


def meet(a, b, c, d):
    """Whether the open segments ab and cd have a point in common: exact, by Cramer's rule."""
    a, b, c, d = ([Fraction(v).limit_denominator(10**6) for v in p] for p in (a, b, c, d))
    r, s = [b[0] - a[0], b[1] - a[1]], [d[0] - c[0], d[1] - c[1]]
    det = r[0] * s[1] - r[1] * s[0]
    if det == 0:
        return False
    t = ((c[0] - a[0]) * s[1] - (c[1] - a[1]) * s[0]) / det
    u = ((c[0] - a[0]) * r[1] - (c[1] - a[1]) * r[0]) / det
    return 0 < t < 1 and 0 < u < 1


def names(seed, n, ring=14.0):
    """So many craters anywhere on a disc of radius 400 about (960, 500)."""
    rng = np.random.default_rng(seed)
    found = []
    while len(found) < n:
        x, y = 960 + rng.uniform(-380, 380), 500 + rng.uniform(-380, 380)
        apart = all(np.hypot(x - w.spots[0].x, y - w.spots[0].y) > 70 for w in found)
        if np.hypot(x - 960, y - 500) < 380 and apart:
            spot = Spot(x=float(x), y=float(y), rx=ring, ry=ring)
            found.append(Wanted(key=f"n{len(found)}", spots=(spot,), width=200.0, height=float(rng.choice([36, 82]))))
    return found


@pytest.mark.parametrize("seed", range(12))
def test_lines_do_not_cross_and_names_do_not_touch(seed):
    wanted = names(seed, 8)
    placed = arrange(wanted, (LEFT, RIGHT), 1.0)
    assert len(placed) >= 7
    heights = {w.key: w.height for w in wanted}
    for one, other in itertools.combinations(placed.values(), 2):
        pieces = itertools.product(itertools.pairwise(one.line), itertools.pairwise(other.line))
        assert not any(meet(*p, *q) for p, q in pieces)
        if one.right == other.right:
            assert abs(one.y - other.y) >= (heights[one.key] + heights[other.key]) / 2 + 24 - 1e-6
        for line, spot in ((one.line, other.spot), (other.line, one.spot)):
            for (x0, y0), (x1, y1) in itertools.pairwise(line):
                t = np.linspace(0, 1, 400)
                assert np.hypot(x0 + t * (x1 - x0) - spot.x, y0 + t * (y1 - y0) - spot.y).min() > 14
    for name in placed.values():
        assert name.y - heights[name.key] / 2 >= 60
        assert name.y + heights[name.key] / 2 <= 860
        start = np.array(name.line[0])
        assert np.hypot(*(start - [name.spot.x, name.spot.y])) == pytest.approx(14, abs=0.5)  # it begins on the ring


@pytest.mark.parametrize("seed", range(4))
def test_no_other_choice_of_sides_and_levels_is_cheaper(seed):
    """Against every combination, for four names."""
    solver = boundary._Solver(names(100 + seed, 4), (LEFT, RIGHT), 1.0, (), (), None)
    _, cost = solver.best()
    cheap = [sorted(own, key=lambda k: solver.choices[k].cost)[:9] for own in solver.by_owner]
    assert cost <= min(solver._cost(list(state)) for state in itertools.product(*cheap)) + 1e-6


def test_a_name_without_a_faultless_line_goes_and_not_the_one_that_was_asked_for():
    wall = TurnedBox(455.0, 0.0, 470.0, 1000.0), TurnedBox(1430.0, 0.0, 1445.0, 1000.0)
    one, other = names(3, 2)
    assert arrange([one, other], (LEFT, RIGHT), 1.0, obstacles=wall) == {}
    crowded = Column(edge=400.0, knee=450.0, top=60.0, bottom=100.0, gap=24.0)
    none = Column(edge=1500.0, knee=1450.0, top=60.0, bottom=61.0, gap=24.0)
    asked = Wanted(key="asked", spots=other.spots, width=200.0, height=36.0, must=True)
    free = Wanted(key="free", spots=one.spots, width=200.0, height=36.0)
    assert set(arrange([free, asked], (crowded, none), 1.0)) == {"asked"}


def test_no_name_stands_where_a_column_is_blocked():
    column = Column(edge=400.0, knee=450.0, top=60.0, bottom=860.0, gap=24.0, blocked=(480.0, 520.0))
    closed = Column(edge=1500.0, knee=1450.0, top=60.0, bottom=61.0, gap=24.0)
    placed = arrange(names(7, 4), (column, closed), 1.0)
    heights = {w.key: w.height for w in names(7, 4)}
    assert len(placed) >= 3
    for name in placed.values():
        assert name.y + heights[name.key] / 2 <= 480 + 1e-6 or name.y - heights[name.key] / 2 >= 520 - 1e-6


def test_a_stack_is_as_near_to_its_levels_as_it_can_be():
    """By hand: two names that want one place share the way; a third stays where it is; without room there is none."""
    assert stack([100.0, 100.0, 400.0], [40.0, 40.0, 40.0], 20.0, 0.0, 500.0) == pytest.approx([70.0, 130.0, 400.0])
    assert stack([0.0, 10.0], [40.0, 40.0], 20.0, 0.0, 500.0) == pytest.approx([20.0, 80.0])  # moved back in
    assert stack([50.0, 60.0], [40.0, 40.0], 20.0, 0.0, 90.0) is None


def test_lines_cross_as_the_exact_answer_says():
    rng = np.random.default_rng(5)
    crossed = 0
    for _ in range(400):
        a, b, c, d = (tuple(float(v) for v in p) for p in rng.integers(0, 40, (4, 2)))
        crossed += meet(a, b, c, d)
        assert lines_cross((a, b), (c, d)) == meet(a, b, c, d)
    assert 40 < crossed < 360
