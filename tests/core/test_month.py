"""A month's poster and march on rendered evenings: whose name stands where, and that one terminator moves."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from moondesk.comparison.common_frame import into_frame
from moondesk.drawing.text import set_line
from moondesk.files.picture import decode_rgb
from moondesk.records import NotFound, Place
from moondesk.stacking.march import LEVEL, MOON, STANDS, UPRIGHT, march
from moondesk.stacking.month import DatedFrame, MonthWords, framed_of, levelled, pose_of_all
from moondesk.stacking.moving_light import moving_light
from moondesk.stacking.page import Page
from moondesk.stacking.poster import FEED, PAPER, STORY, grid, poster
from tests.scenes import FileTags, Film, Optics, SceneSpec, Sky, render

FIRST = datetime(2026, 3, 20, 19, 0, tzinfo=UTC)
WORDS = MonthWords(
    programme="Moon at Nine",
    title="A month of the Moon",
    span="20 March to 18 April 2026",
    lunation="Lunation 1277",
    legend="Marked: photographed",
    method="North up.",
    true="As photographed",
    between="Computed",
    heads=tuple(f"Day {k}, {k} March 2026" for k in range(30)),
    days=tuple(f"{k} Mar" for k in range(30)),
    numbers=tuple(f"Day {k}" for k in range(30)),
    evenings=tuple(FIRST + timedelta(days=k) for k in range(30)),
)


@cache
def picture(day: int, name: str) -> DatedFrame:
    spec = SceneSpec(FIRST + timedelta(days=day), Place(48.2, 16.4), 302.0, 260.0, 210.0, 33.0 * day, width=600,
                     height=520, film=Film(gain=0.5 + 0.04 * day), sky=Sky(0.0), fine=False, optics=Optics(1.2),
                     tags=FileTags("png"), mirrored=day % 2 == 1)  # fmt: skip
    scene = render(spec)
    return DatedFrame(decode_rgb(scene.data), scene.pose, day, name)


def month() -> list[DatedFrame]:
    return [picture(6, "Ada"), picture(8, "Борис"), picture(9, "花子")]


def edge_of(moon: np.ndarray) -> float:
    """Where the light ends along the middle rows, pixels from the left."""
    middle = moon.shape[0] // 2
    row = moon[middle - 40 : middle + 41].mean(axis=(0, 2))
    return float(np.argmax(np.convolve(row, np.ones(9) / 9, "same") > 22))


def test_the_terminator_moves_from_one_photograph_to_the_next_and_stands_at_both():
    found = month()[:2]
    steps = list(moving_light(found, 400, 3))
    assert [s.share == 0.0 for s in steps] == [True] + [False] * 6 + [True]
    assert [s.first for s in steps] == [0] * 7 + [1]
    edges = [edge_of(s.moon) for s in steps]
    assert all(later <= before + 1 for before, later in pairwise(edges))  # westwards, to the left
    assert edges[0] - edges[-1] > 40
    assert edges[0] - 5 > edges[3] > edges[-1] + 5
    pose = pose_of_all(found, 400)
    for step, one in ((steps[0], found[0]), (steps[-1], found[1])):
        own = into_frame(levelled(one), framed_of(one), pose, 400).rgb
        np.testing.assert_array_equal(step.moon, own)
    jumps = [np.abs(a.moon.astype(int) - b.moon).mean() for a, b in pairwise(steps)]
    assert max(jumps) < 2.2 * float(np.median(jumps))  # none of the steps is a leap


def test_between_two_pictures_no_second_terminator_stands():
    """In a fade half of the ground that only the later picture has would be half as bright all the way."""
    steps = list(moving_light(month()[:2], 400, 3))
    first, last, half = steps[0].moon, steps[-1].moon, steps[1].moon
    new = (last.mean(axis=2) > 90) & (first.mean(axis=2) < 5)
    assert new.sum() > 2000
    assert half[new].mean() < 0.25 * last[new].mean()


def test_a_name_stands_with_its_own_photograph_alone():
    found = march(month(), WORDS, (LEVEL, UPRIGHT), steps_a_day=2)
    assert not isinstance(found, NotFound)
    frames = list(found)
    assert [f.true for f in frames] == [True, *[False] * 4, True, *[False] * 2, True]
    assert {f.count for f in frames if f.true} == {STANDS}
    assert all(f.rgb[0].shape == (1080, 1920, 3) and f.rgb[1].shape == (1920, 1080, 3) for f in frames)
    words = [f.rgb[0][400:900, 192:880] for f in frames]
    same = [bool((w == words[k + 1]).all()) for k, w in enumerate(words[:-1])]
    # the words change where a photograph begins or ends, and nowhere else
    assert same == [False, True, True, True, False, False, True, False]


def test_all_words_keep_inside_the_safe_area(monkeypatch):
    pages = []
    finish = Page.finish
    monkeypatch.setattr(Page, "finish", lambda page: pages.append(page) or finish(page))
    assert not isinstance(march(month(), WORDS, (LEVEL, UPRIGHT), 2), NotFound)
    assert len(pages) == 10
    for page in pages:
        height, width = page.pixels.shape[:2]
        for box in page.texts:
            assert 0.1 * width <= box.x0 <= box.x1 <= 0.9 * width
            assert 0.05 * height <= box.y0 <= box.y1 <= 0.95 * height
    assert MOON < 1080


@pytest.mark.parametrize("shape", [PAPER, FEED, STORY])
def test_a_poster_has_each_picture_once_and_no_empty_place(shape, monkeypatch):
    laid, pages = [], []
    lay, finish = Page.lay, Page.finish
    monkeypatch.setattr(Page, "lay", lambda page, rgb, x, y: laid.append((rgb.shape[0], x, y)) or lay(page, rgb, x, y))
    monkeypatch.setattr(Page, "finish", lambda page: pages.append(page) or finish(page))
    small = replace(shape, width=shape.width // 4, height=shape.height // 4)
    found = poster(month(), WORDS, small)
    assert not isinstance(found, NotFound)
    assert found.shape == (small.height, small.width, 3)
    side = max(size for size, _, _ in laid)
    moons = [place for place in laid if place[0] == side]
    assert len(moons) == 3
    assert side > 0.25 * small.width  # few pictures are large
    (page,) = pages
    assert all(min(b.x0, b.y0) >= 0 and b.x1 <= small.width and b.y1 <= small.height for b in page.texts)
    for k, one in enumerate(page.texts):
        for other in page.texts[k + 1 :]:
            apart = one.x1 <= other.x0 or other.x1 <= one.x0 or one.y1 <= other.y0 or other.y1 <= one.y0
            assert apart, (one, other)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 7, 11, 17, 23, 30])
def test_rows_hold_all_pictures_and_differ_by_one_at_most(count):
    rows, side = grid(count, 1000.0, 1100.0, 50.0)
    assert sum(rows) == count
    assert max(rows) - min(rows) <= 1
    assert side * max(rows) <= 1000.0
    assert (side + 50.0) * len(rows) <= 1100.0


def test_one_picture_makes_a_poster_and_no_march():
    assert isinstance(march(month()[:1], WORDS, (LEVEL,)), NotFound)
    assert isinstance(poster([], WORDS, FEED), NotFound)
    assert not isinstance(poster(month()[:1], WORDS, replace(FEED, width=540, height=675)), NotFound)


def test_a_sign_that_no_typeface_has_is_told():
    strange = "\U0001f9ff"
    assert isinstance(set_line(strange, 20.0), NotFound)
    odd = replace(month()[0], words=strange)
    assert isinstance(poster([odd], WORDS, replace(FEED, width=540, height=675)), NotFound)
    assert isinstance(march([odd, month()[1]], WORDS, (LEVEL,)), NotFound)
