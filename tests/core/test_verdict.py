"""What a picture is not: every verdict and its cause, on looks made by hand and on rendered things.

Bars come from rendered discs and real photographs (tests/benchmarks/RESULTS.md); there is no published figure for them.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import cv2
import numpy as np
import pytest

from moondesk import Known, annotate_picture
from moondesk.checks.eclipses import Eclipse
from moondesk.checks.tiny_discs import BrightSpot, brightest_spot
from moondesk.checks.verdict import Trust, judge_surroundings, without_placement
from moondesk.files.picture import decode
from moondesk.placement.discs import Look, look_at
from moondesk.placement.limb import find_circles
from moondesk.placement.search import Limbs
from moondesk.records import NotFound, Picture
from moondesk.sentences import sentence, sentences_of
from tests.scenes import render, render_other, spec_of

WHEN = datetime(2026, 10, 20, 21, 0, tzinfo=UTC)
#: A sharp, evenly lit disc with markings in a dark sky.
PLATE = Look(
    level=0.6,
    around=0.05,
    burnt=0.0,
    marks=0.09,
    rough=0.1,
    slope=0.1,
    fall=0.0,
    softness=0.01,
    framed=1.0,
    arc_deg=300.0,
    all_round=1.0,
    redness=0.0,
)
SMALL = BrightSpot(x=300.0, y=200.0, radius=12.0, largest=12.0)


def said(look: Look | None, spot: BrightSpot | None = None) -> tuple[str, str]:
    got = without_placement(look, spot, 1.0, NotFound("pose", "why", "what"))
    assert got.advice
    return got.status, got.reason


@pytest.mark.parametrize(
    ("look", "status", "word"),
    [
        (None, "unplaced", "why"),
        (replace(PLATE, all_round=0.2), "unplaced", "why"),
        (replace(PLATE, all_round=0.6), "unplaced", "why"),
        (PLATE, "not_moon", "markings are not the Moon's"),
        (replace(PLATE, softness=0.08), "unplaced", "out of focus"),
        (replace(PLATE, marks=0.01, rough=0.02, fall=0.2), "not_moon", "the Sun"),
        (replace(PLATE, marks=0.01, rough=0.05, slope=0.8), "not_moon", "lit from one side"),
        (replace(PLATE, marks=0.01, rough=0.03), "not_moon", "a lamp"),
        (replace(PLATE, marks=0.01, rough=0.03, softness=0.2), "unplaced", "the Moon out of focus"),
        (replace(PLATE, marks=0.01, rough=0.03, burnt=0.4), "unplaced", "too bright"),
        (replace(PLATE, marks=0.0, rough=0.0, burnt=1.0), "unplaced", "the Moon far too bright"),
        (replace(PLATE, level=0.15, marks=0.02, rough=0.03), "not_moon", "eyepiece"),
        # a crescent's night side is no empty field: it is no brighter than the sky about it
        (replace(PLATE, level=0.06, around=0.06, marks=0.02, rough=0.03, all_round=0.5), "unplaced", "why"),
    ],
)  # fmt: skip
def test_a_disc_that_no_surface_fits(look: Look | None, status: str, word: str) -> None:
    got = said(look)
    assert got[0] == status
    assert word in got[1]


@pytest.mark.parametrize(
    ("spot", "status", "word"),
    [
        (SMALL, "disc_only", "24 pixels"),
        (replace(SMALL, company=False), "disc_only", "24 pixels"),
        (replace(SMALL, burnt=False), "disc_only", "24 pixels"),
        (replace(SMALL, burnt=False, company=False), "unplaced", "planet"),
        (replace(SMALL, crowd=40), "unplaced", "star"),
        (replace(SMALL, redness=0.4), "unplaced", "lamp from a low Moon"),
        (replace(SMALL, company=False, in_line=2), "unplaced", "a planet with its moons, or"),
        (replace(SMALL, company=False, in_line=3), "not_moon", "planet and its moons"),
        (replace(SMALL, radius=40.0), "unplaced", "why"),
    ],
)  # fmt: skip
def test_a_small_bright_disc(spot: BrightSpot, status: str, word: str) -> None:
    got = said(None, spot)
    assert got[0] == status
    assert word in got[1]


def test_the_suns_caution_stands_wherever_the_sun_is_named() -> None:
    for look in (replace(PLATE, marks=0.01, rough=0.02, fall=0.2), replace(PLATE, burnt=1.0)):
        got = without_placement(look, None, 1.0, NotFound("pose", "why", "what"))
        assert "Sun" in got.reason
        assert "filter" in got.advice


def sky(*discs: tuple[float, float, float, float]) -> np.ndarray:
    """Black sky with soft discs (x, y, radius, linear light)."""
    jj, ii = np.meshgrid(np.arange(640, dtype=np.float32), np.arange(480, dtype=np.float32))
    image = np.zeros((480, 640), np.float32)
    for x, y, radius, light in discs:
        image = np.maximum(image, light * np.clip(radius + 0.5 - np.hypot(jj - x, ii - y), 0, 1))
    return np.asarray(cv2.GaussianBlur(image, (0, 0), 0.8), np.float32)


def spot_in(image: np.ndarray) -> BrightSpot:
    found = brightest_spot(image)
    assert found is not None
    return found


def test_the_company_of_a_spot() -> None:
    assert (spot_in(sky((200, 100, 9, 1.0))).burnt, spot_in(sky((200, 100, 9, 0.5))).burnt) == (True, False)
    assert spot_in(sky((200, 100, 9, 1.0))).company is False
    assert spot_in(sky((200, 100, 9, 1.0)) + np.float32(0.01)).company is True  # a lit sky
    assert spot_in(sky((200, 100, 9, 1.0), (500, 400, 8, 0.3))).company is True
    moons = sky((200, 100, 9, 1.0), (300, 130, 1.5, 0.4), (120, 76, 1.5, 0.4), (260, 118, 1.5, 0.4))
    assert spot_in(moons).in_line == 3
    stars = sky((200, 100, 9, 1.0), (300, 30, 1.5, 0.4), (120, 276, 1.5, 0.4), (260, 318, 1.5, 0.4))
    assert spot_in(stars).in_line == 0
    # the bright part of a larger thing is no disc
    assert brightest_spot(sky((200, 100, 80, 0.2), (210, 110, 9, 1.0))) is None


def test_of_comparable_spots_the_least_coloured_is_taken() -> None:
    image = sky((200, 100, 9, 1.0), (400, 300, 10, 1.0))
    redness = np.zeros(image.shape, np.float32)
    redness[250:350, 350:450] = 0.4
    found = brightest_spot(image, redness=redness)
    assert found is not None
    assert (found.x, found.y) == pytest.approx((200, 100), abs=0.5)


def look_of(data: bytes) -> Look:
    picture = decode(data, 800)
    assert isinstance(picture, Picture)
    limbs = Limbs(picture.luminance, find_circles(picture.luminance))
    return look_at(picture.luminance, picture.redness, next(iter(limbs)))


@pytest.mark.parametrize("kind", ["lamp", "ball", "sun"])
def test_smooth_things_look_smooth(kind: str) -> None:
    look = look_of(render_other(kind, 4, 640, 480))
    assert look.marks < 0.045
    assert look.rough < 0.1


@pytest.mark.parametrize("family", ["full", "clean", "haze"])
def test_the_moon_does_not(family: str) -> None:
    assert look_of(render(spec_of(family, 31)).data).marks > 0.06


@pytest.mark.parametrize("kind", ["lamp", pytest.param("sun", marks=pytest.mark.slow)])
def test_not_the_moon_the_whole_way(kind: str) -> None:
    got = annotate_picture(render_other(kind, 2, 640, 480), Known(received_utc=WHEN))
    assert (got.status, got.sure, got.features) == ("not_moon", False, ())


GOOD = Trust(True, True)


def test_every_doubt_about_a_placement_is_named() -> None:
    plain = judge_surroundings(GOOD, 1, Eclipse())
    assert (plain.status, plain.sure, plain.reason, plain.advice) == ("annotated", True, "", "")
    weak = judge_surroundings(Trust(True, False, sentences_of("Only 9 places.")), 1, Eclipse(doubt=True))
    assert (weak.status, weak.sure, weak.reason) == ("annotated", False, "Only 9 places.")
    both = judge_surroundings(GOOD, 4, Eclipse(told=True, words=sentence("red_as_shadow")))
    assert (both.status, both.sure, both.flags) == ("eclipse", False, ("several discs",))
    assert "4 times" in both.reason
    assert "as red as" in both.reason
    got = judge_surroundings(GOOD, 1, Eclipse(told=True, words=sentence("eclipse_on", state="partial")))
    assert (got.status, got.sure) == ("eclipse", False)
    assert "A partial lunar eclipse" in got.reason
    assert got.advice
