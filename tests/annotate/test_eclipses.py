"""Eclipsed Moons, rendered: what the date says, and what is seen without one. Nothing of it may go on air as sure.

Dates from memory: total eclipse of 2026 March 3 (greatest 11:33:46 UT, partial from 9:50), partial of 2026 August 28
(greatest 4:13 UT); tests/annotate/test_phases.py checks the contacts.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from annotate import Known, annotate_picture
from annotate.reading.picture import decode
from annotate.records import Picture, Place, Taken, TimeCandidate
from annotate.sky.ephemeris import aspect_at
from annotate.telling.eclipses import eclipse_by_date, is_bitten
from tests.scenes import FileTags, Film, SceneSpec, render, true_pose
from tests.scenes.eclipses import render_eclipse

PLACE = Place(-20.0, -150.0)
PARTIAL, TOTAL = datetime(2026, 3, 3, 10, 15, tzinfo=UTC), datetime(2026, 3, 3, 11, 33, tzinfo=UTC)
BEFORE = datetime(2026, 3, 2, 11, 33, tzinfo=UTC)
BARE = FileTags(time=False, place=False, make=None, model=None)


def spec(when: datetime, tags: FileTags | None = None) -> SceneSpec:
    return SceneSpec(
        when, PLACE, x=330.0, y=245.0, radius_px=180.0, width=640, height=480, seed=4, film=Film(contrast=0.1),
        tags=tags or FileTags(),
    )  # fmt: skip


def reading(when: datetime, sigma: float = 1.0) -> TimeCandidate:
    return TimeCandidate(when, sigma, "exif+offset", 0.0)


def test_the_date_tells_the_deepest_eclipse_of_all_readings() -> None:
    taken = Taken((reading(BEFORE), reading(PARTIAL), reading(TOTAL)), None, None)
    assert eclipse_by_date(taken, None) == ("total", reading(TOTAL))
    assert eclipse_by_date(Taken((), None, None), reading(PARTIAL))[0] == "partial"
    assert eclipse_by_date(Taken((), None, None), None) == ("none", None)
    # a time that is only known to the hour could miss it
    assert eclipse_by_date(Taken((reading(TOTAL, 60.0),), None, None), None)[0] == "none"


@pytest.mark.parametrize(("when", "exposure", "word"), [(PARTIAL, 1.0, "partial"), (TOTAL, 1000.0, "total")])
def test_with_a_clock_it_is_an_eclipse(when: datetime, exposure: float, word: str) -> None:
    data = render_eclipse(spec(when), exposure, 30.0)
    got = annotate_picture(data, Known(received_utc=when + timedelta(hours=3)))
    assert (got.status, got.sure) == ("eclipse", False)
    assert f"A {word} lunar eclipse is on" in got.reason
    # the shadow's edge is no terminator, gives no time, and accuses no clock
    assert got.terminator is None
    assert got.clock.verdict == "cannot_tell"
    assert got.time is not None
    assert got.time.utc == when
    # the Sun of every feature is that of the date: full Moon
    assert got.pose is not None
    aspect = aspect_at(when, PLACE)
    assert got.pose.sub_solar_lon_deg == pytest.approx(aspect.sub_solar_lon_deg, abs=0.1)


def test_without_a_clock_a_bitten_disc_is_not_sure() -> None:
    data = render_eclipse(spec(PARTIAL, BARE), 1.0, 30.0)
    got = annotate_picture(data, Known(received_utc=PARTIAL + timedelta(hours=3)))
    assert got.sure is False
    assert "eclipse" in got.reason


def test_without_a_clock_a_red_disc_is_an_eclipse() -> None:
    got = annotate_picture(render_eclipse(spec(TOTAL, BARE), 1000.0), Known(received_utc=TOTAL + timedelta(hours=3)))
    assert (got.status, got.sure) == ("eclipse", False)
    assert "as red as" in got.reason


def test_no_terminator_is_taken_for_a_bite() -> None:
    for days in (4, 7, 11, 14):
        s = spec(BEFORE - timedelta(days=days))
        aspect = aspect_at(s.when_utc, PLACE)
        scene = render(replace(s, film=Film(contrast=0.1, gain=1.0 + days / 10)))
        assert not is_bitten(_luminance(scene.data), replace(true_pose(scene.spec, aspect), score=0.9))


def test_a_covered_part_is_a_bite() -> None:
    scene = render(spec(BEFORE))
    luminance = _luminance(scene.data).copy()
    assert not is_bitten(luminance, scene.pose)
    luminance[:, :270] = 0.002  # a wall
    assert is_bitten(luminance, scene.pose)


def _luminance(data: bytes) -> np.ndarray:
    picture = decode(data)
    assert isinstance(picture, Picture)
    return picture.luminance
