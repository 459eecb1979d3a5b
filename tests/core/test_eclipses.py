"""Eclipsed Moons, rendered: what the date says, and what is seen without one. Nothing of it may go on air as sure.

Dates from memory: total eclipse of 2026 March 3 (greatest 11:33:46 UT, partial from 9:50), partial of 2026 August 28
(greatest 4:13 UT); tests/core/test_phases.py checks the contacts.
"""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from PIL import Image

from moondesk import Known, annotate_picture
from moondesk.checks.eclipses import eclipse_by_date, eclipse_in, is_bitten
from moondesk.ephemeris.aspect import aspect_at
from moondesk.files.picture import decode
from moondesk.placement.even_light import even_light
from moondesk.placement.limb import find_circles
from moondesk.placement.search import Limbs
from moondesk.records import Picture, Place, TimeCandidate, TimeReadings
from tests.scenes import FileTags, Film, SceneSpec, render, spec_of, true_pose
from tests.scenes.develop import develop, encode
from tests.scenes.eclipses import render_eclipse
from tests.scenes.optics import moonlight, with_sky

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


def test_the_date_tells_the_deepest_eclipse_of_all_certain_readings() -> None:
    taken = TimeReadings(
        candidates=(reading(BEFORE), reading(PARTIAL), reading(TOTAL)), earliest_utc=None, latest_utc=None
    )
    assert eclipse_by_date(taken) == reading(TOTAL)
    assert eclipse_by_date(TimeReadings(candidates=(), earliest_utc=None, latest_utc=None)) is None
    # a time that is only known to the hour could miss it, and some zone of all nearly always finds it
    assert eclipse_by_date(TimeReadings(candidates=(reading(TOTAL, 60.0),), earliest_utc=None, latest_utc=None)) is None
    assert (
        eclipse_by_date(
            TimeReadings(
                candidates=(replace(reading(TOTAL), source="exif+any zone"),), earliest_utc=None, latest_utc=None
            )
        )
        is None
    )


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


def test_a_deep_partial_eclipse_exposed_for_the_umbra_is_placed() -> None:
    """What lies outside the umbra is burnt out: turn and hand are read from the seas in the shadow."""
    scene = render(spec_of("partial", 900_007))
    got = annotate_picture(scene.data, Known(received_utc=scene.spec.received_utc))
    assert (got.status, got.sure) == ("eclipse", False)
    assert got.pose is not None
    assert got.pose.mirrored == scene.pose.mirrored
    away = (got.pose.north_screen_deg - scene.pose.north_screen_deg + 180.0) % 360.0 - 180.0
    assert abs(away) < 0.5
    assert np.hypot(got.pose.x - scene.pose.x, got.pose.y - scene.pose.y) < 0.01 * scene.pose.radius_px


def test_an_even_light_is_left_alone() -> None:
    luminance = _luminance(render(spec(BEFORE)).data)
    limb = next(iter(Limbs(luminance, find_circles(luminance))))
    assert even_light(luminance, limb) is None


def test_without_a_clock_a_bitten_disc_is_not_sure() -> None:
    data = render_eclipse(spec(PARTIAL, BARE), 1.0, 30.0)
    got = annotate_picture(data, Known(received_utc=PARTIAL + timedelta(hours=3)))
    assert (got.status, got.sure) == ("eclipse", False)
    assert "A partial lunar eclipse is on" in got.reason
    # of the days before it came one alone had an eclipse: the shadow tells the instant too
    assert got.shadow is not None
    assert got.shadow.settled
    assert abs(got.shadow.utc - PARTIAL) < timedelta(minutes=5)
    assert got.time is not None
    assert got.time.source == "picture"


def test_without_any_date_the_shadow_is_told_and_no_time() -> None:
    got = annotate_picture(render_eclipse(spec(PARTIAL, BARE), 1.0, 30.0), Known())
    assert (got.status, got.sure) == ("eclipse", False)
    assert got.time is None
    assert got.shadow is not None
    assert not got.shadow.settled


@pytest.mark.parametrize("soft", [0.02, 0.3])
def test_a_roof_before_the_full_moon_is_no_eclipse(soft: float) -> None:
    """An edge that is sharp, or out of focus, cut out of a Moon that has an eclipse's libration."""
    scene = render(replace(spec(TOTAL - timedelta(hours=30), BARE), film=Film(contrast=0.1)))
    picture = decode(scene.data)
    assert isinstance(picture, Picture)
    x = np.arange(picture.luminance.shape[1])[None, :]
    hidden = 1.0 / (1.0 + np.exp(np.clip((300.0 - x) / (soft * 180.0), -30, 30)))
    dark = replace(picture, luminance=(picture.luminance * (0.002 + 0.998 * hidden)).astype(np.float32))
    taken = TimeReadings(candidates=(), earliest_utc=None, latest_utc=None)
    assert not eclipse_in(dark, scene.pose, taken, None).told


def test_without_a_clock_a_red_disc_is_an_eclipse() -> None:
    got = annotate_picture(render_eclipse(spec(TOTAL, BARE), 1000.0), Known(received_utc=TOTAL + timedelta(hours=3)))
    assert (got.status, got.sure) == ("eclipse", False)
    assert "A total lunar eclipse is on" in got.reason
    assert got.shadow is not None
    assert abs(got.shadow.utc - TOTAL) < timedelta(minutes=20)


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


def developed(s: SceneSpec) -> np.ndarray:
    """Its pixels, to be written with one clock after the other."""
    pose = true_pose(s, aspect_at(s.when_utc, s.place))
    return develop(with_sky(moonlight(s, pose), s, pose), s.film, s.seed)


def coloured(data: bytes, shares: tuple[float, float, float]) -> bytes:
    """The picture seen through smoke: its display values, red, green and blue, so much weaker; without its EXIF."""
    with Image.open(io.BytesIO(data)) as image:
        rgb = np.asarray(image.convert("RGB"), float) * shares
    out = io.BytesIO()
    Image.fromarray(rgb.astype(np.uint8)).save(out, "JPEG", quality=92)
    return out.getvalue()


@pytest.mark.parametrize(("eclipse", "hours"), [
    ("2025-03-14 06:59", (-12, 0)), ("2023-10-28 20:14", (-5, 0)), ("2024-03-25 07:13", (0, 14)),
])  # fmt: skip
def test_an_ordinary_full_moon_is_no_eclipse_whatever_its_clock_reads(eclipse: str, hours: tuple[int, ...]) -> None:
    """Total, partial and penumbral (greatest eclipses by NASA's catalogue, from memory). The Moon is that of another
    month; its clock, without a zone or with one, reads hours about the eclipse."""
    greatest = datetime.fromisoformat(eclipse).replace(tzinfo=UTC)
    full = spec_of("full", 503)
    pixels = developed(full)
    for hour in hours:
        clock_error = (greatest + timedelta(hours=hour) - full.when_utc) / timedelta(hours=1)
        tags = FileTags(clock_error_h=clock_error, offset=hour == 0, place=False)
        got = annotate_picture(encode(pixels, replace(full, tags=tags)), Known())
        assert got.status == "annotated"
        assert "eclipse" not in got.reason


def test_an_ordinary_full_moon_of_the_very_night_is_no_eclipse() -> None:
    """Two hours before the penumbra touches it, libration and all; the clock says the middle of the eclipse."""
    before = datetime(2026, 3, 3, 6, 30, tzinfo=UTC)
    pixels = developed(spec(before))
    for offset, came in ((False, None), (True, TOTAL + timedelta(hours=1))):
        tags = FileTags(clock_error_h=5.0, offset=offset, place=False)
        got = annotate_picture(encode(pixels, replace(spec(before), tags=tags)), Known(received_utc=came))
        assert (got.status, got.sure) == ("annotated", True)
        if offset:  # by the date the umbra was on it, and it was not: nobody is told that the clock is right
            assert (got.clock.verdict, got.dated.verdict) == ("cannot_tell", "unsure")
    got = annotate_picture(encode(pixels, spec(before, BARE)), Known(received_utc=TOTAL + timedelta(hours=1)))
    assert (got.status, got.sure) == ("annotated", True)


def test_a_clock_without_a_zone_allows_an_eclipse_and_the_shadow_tells_the_instant() -> None:
    tags = FileTags(offset=False, place=False)
    got = annotate_picture(render_eclipse(spec(TOTAL, tags), 1000.0), Known())
    assert (got.status, got.sure, got.clock.verdict) == ("eclipse", False, "cannot_tell")
    assert got.time is not None
    assert got.time.source == "picture"
    assert abs(got.time.utc - TOTAL) < timedelta(minutes=20)
    assert got.reason.startswith("A total lunar eclipse is on")


def test_a_state_is_named_only_where_the_clock_settles_it() -> None:
    """Totality from 11:04 UT (from memory): at its very beginning the clock may as well be a minute off."""
    at_contact = datetime(2026, 3, 3, 11, 4, 30, tzinfo=UTC)
    got = annotate_picture(render_eclipse(spec(at_contact), 1000.0, 30.0), Known())
    assert got.status == "eclipse"
    assert got.reason.startswith("A lunar eclipse was on that night")


@pytest.mark.parametrize("days", [1.0, 4.5])
def test_a_moon_reddened_by_smoke_is_no_eclipse(days: float) -> None:
    """Phases of 12 and 54 degrees or so, with a terminator of their own, as red as in the umbra; undated and dated."""
    smoky = coloured(render(spec(BEFORE - timedelta(days=days), BARE)).data, (1.0, 0.5, 0.22))
    for known in (Known(), Known(received_utc=TOTAL)):
        got = annotate_picture(smoky, known)
        assert got.status == "annotated"
        assert "shadow" not in got.reason


def test_light_that_may_be_the_shadows_gives_no_time_and_no_sure_share() -> None:
    """The penumbra alone shades the disc, and nobody says when: the days before it came hold an eclipse."""
    deep = datetime(2026, 3, 3, 9, 40, tzinfo=UTC)
    got = annotate_picture(render_eclipse(spec(deep, BARE), 1.0), Known(received_utc=deep + timedelta(hours=20)))
    assert (got.status, got.sure, got.time) == ("annotated", False, None)
    assert got.clock.picture_utc is None
