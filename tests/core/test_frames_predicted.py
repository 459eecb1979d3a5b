"""The Moon to come: where up is and when it is up, by skyfield with DE421; the drawing by its own light."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from moondesk.comparison.predicted import NIGHT_SIDE, predicted_moon, predicted_pose
from moondesk.ephemeris.aspect import aspect_at, unix_seconds_of
from moondesk.ephemeris.rise_and_set import LOST_DEG, NEAR_DEG, best_shown, night, sun_altitude_deg, sun_caution
from moondesk.moon.geometry import bright_limb_screen_deg, surface_to_pixel
from moondesk.records import Place

VIENNA, SYDNEY, TROMSO = Place(48.2, 16.4, 170.0), Place(-33.87, 151.21, 20.0), Place(69.65, 18.96)
WHEN = datetime(2026, 3, 26, 19, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def de421():
    """skyfield's own timescale and ephemeris (JPL DE421), closed afterwards."""
    api = pytest.importorskip("skyfield.api", reason="the comparison needs skyfield")
    spec = find_spec("skyfield_data")
    path = Path(spec.origin).parent / "data/de421.bsp" if spec and spec.origin else None
    if path is None or not path.is_file():
        pytest.skip("package skyfield-data (DE421) is not installed")
    eph = api.load_file(str(path))
    yield api.load.timescale(builtin=True), eph, api.wgs84
    eph.close()


@pytest.mark.parametrize("place", [VIENNA, SYDNEY, TROMSO])
def test_heights_of_sun_and_moon_and_the_phase_are_those_of_skyfield(de421, place: Place) -> None:
    """0.01 degree; the Sun's parallax, 0.0024, is left out here."""
    ts, eph, wgs84 = de421
    observer = eph["earth"] + wgs84.latlon(place.latitude_deg, place.longitude_deg, place.height_m)
    for days in range(0, 360, 13):
        when = WHEN + timedelta(days=days, hours=days % 24)
        at = observer.at(ts.from_datetime(when))
        sun, moon = at.observe(eph["sun"]).apparent(), at.observe(eph["moon"]).apparent()
        ours = aspect_at(when, place)
        found = float(sun_altitude_deg(np.array([unix_seconds_of(when)]), place)[0])
        assert found == pytest.approx(sun.altaz()[0].degrees, abs=0.01)
        assert ours.altitude_deg == pytest.approx(moon.altaz()[0].degrees, abs=0.01)
        assert ours.elongation_deg == pytest.approx(sun.separation_from(moon).degrees, abs=0.01)
        assert ours.illuminated_fraction == pytest.approx(moon.fraction_illuminated(eph["sun"]), abs=0.0002)


@pytest.mark.parametrize("place", [VIENNA, SYDNEY])
def test_rise_and_set_are_those_of_skyfield(de421, place: Place) -> None:
    """40 s, for the same height of the centre, 50' below the horizon (34' of refraction and 16' of half the disc)."""
    from skyfield import almanac

    ts, eph, wgs84 = de421
    topos = wgs84.latlon(place.latitude_deg, place.longitude_deg, place.height_m)
    start, end = WHEN, WHEN + timedelta(days=3)
    found = night(start, end, place)
    for body, spans in (("sun", found.sun), ("moon", found.moon)):
        observer = eph["earth"] + topos
        rises, _ = almanac.find_risings(observer, eph[body], ts.from_datetime(start), ts.from_datetime(end), -50 / 60)
        sets, _ = almanac.find_settings(observer, eph[body], ts.from_datetime(start), ts.from_datetime(end), -50 / 60)
        ours_up = [a for a, _ in spans if a > start]
        ours_down = [b for _, b in spans if b < end]
        for theirs, ours in ((rises, ours_up), (sets, ours_down)):
            assert len(theirs) == len(ours) >= 2
            for t, mine in zip(theirs, ours, strict=True):
                assert abs((t.utc_datetime() - mine).total_seconds()) < 40


def test_in_the_polar_summer_the_sun_stays_up_the_whole_night() -> None:
    start = datetime(2026, 6, 21, 12, 0, tzinfo=UTC)
    found = night(start, start + timedelta(days=1), TROMSO)
    assert found.sun == ((start, start + timedelta(days=1)),)
    with pytest.raises(ValueError, match="runs forward"):
        night(start, start, TROMSO)


@pytest.mark.parametrize("place", [VIENNA, SYDNEY])
def test_as_the_eye_sees_it_the_zenith_is_up(de421, place: Place) -> None:
    """By skyfield alone: the bright limb points from the Moon to the Sun across the sky, so its screen angle is the
    angle at the Moon between the zenith and the Sun, leftwards."""
    ts, eph, wgs84 = de421
    observer = eph["earth"] + wgs84.latlon(place.latitude_deg, place.longitude_deg, place.height_m)
    for days in (0, 2, 4, 12, 20):
        when = WHEN + timedelta(days=days)
        at = observer.at(ts.from_datetime(when))
        directions = []
        for body in ("moon", "sun"):
            alt, az, _ = at.observe(eph[body]).apparent().altaz()
            directions.append((alt.radians, az.radians))
        (h, a), (h2, a2) = directions
        # to the right of the zenith direction is growing azimuth; the Sun's bearing at the Moon, spherical triangle
        right = np.cos(h2) * np.sin(a2 - a)
        up = np.sin(h2) * np.cos(h) - np.cos(h2) * np.sin(h) * np.cos(a2 - a)
        expected = np.degrees(np.arctan2(-right, up)) % 360
        pose = predicted_pose(aspect_at(when, place), 400, "eye")
        assert abs((bright_limb_screen_deg(pose) - expected + 180) % 360 - 180) < 0.3, days


def test_north_is_down_for_the_southern_programme_when_the_moon_stands_in_the_north() -> None:
    northern, southern = (
        predicted_pose(aspect_at(WHEN, VIENNA), 400, "eye"),
        predicted_pose(aspect_at(datetime(2026, 3, 26, 8, 30, tzinfo=UTC), SYDNEY), 400, "eye"),
    )
    assert min(northern.north_screen_deg, 360 - northern.north_screen_deg) < 60
    assert abs(southern.north_screen_deg - 180) < 60


@pytest.mark.parametrize("orientation", ["north", "eye"])
def test_the_drawing_is_lit_where_the_sun_stands(orientation: str) -> None:
    aspect = aspect_at(WHEN, VIENNA)
    shown = predicted_moon(aspect, 401, orientation).astype(float)
    pose = predicted_pose(aspect, 401, orientation)
    ys, xs = np.mgrid[0:401, 0:401]
    inside = np.hypot(xs - pose.x, ys - pose.y) < pose.radius_px - 2
    outside = np.hypot(xs - pose.x, ys - pose.y) > pose.radius_px + 2
    assert shown[outside].max() == 0
    assert shown[inside].min() == NIGHT_SIDE
    weight = np.where(inside, shown - NIGHT_SIDE, 0)
    dx, dy = ((xs - pose.x) * weight).sum() / weight.sum(), ((ys - pose.y) * weight).sum() / weight.sum()
    towards = np.degrees(np.arctan2(-dx, -dy)) % 360
    assert abs((towards - bright_limb_screen_deg(pose) + 180) % 360 - 180) < 12
    lit = (shown[inside] > NIGHT_SIDE + 25).mean()
    assert lit == pytest.approx(aspect.illuminated_fraction, abs=0.06)


def test_the_drawing_has_its_features_where_its_pose_says() -> None:
    """Mare Crisium is dark and round on bright ground, by every map: its middle against its surroundings."""
    aspect = aspect_at(datetime(2026, 4, 1, 20, 0, tzinfo=UTC), VIENNA)  # near full
    for orientation in ("north", "eye"):
        shown, pose = predicted_moon(aspect, 801, orientation).astype(float), predicted_pose(aspect, 801, orientation)
        at = surface_to_pixel(pose, 17.0, 59.1)
        ring = surface_to_pixel(pose, [30.0, 4.0], [59.1, 59.1])
        middle = shown[int(at.y) - 6 : int(at.y) + 7, int(at.x) - 6 : int(at.x) + 7].mean()
        beside = np.mean(
            [
                shown[int(y) - 6 : int(y) + 7, int(x) - 6 : int(x) + 7].mean()
                for x, y in zip(ring.x, ring.y, strict=True)
            ]
        )
        assert middle < 0.85 * beside, orientation


def test_without_a_place_nobody_knows_where_up_is() -> None:
    aspect = aspect_at(WHEN, None)
    assert predicted_moon(aspect, 64).shape == (64, 64)
    with pytest.raises(ValueError, match="no zenith"):
        predicted_pose(aspect, 64, "eye")
    with pytest.raises(ValueError, match="shows nothing"):
        predicted_pose(aspect, 8)


def test_caution_grows_towards_the_sun() -> None:
    assert [sun_caution(d) for d in (2.0, LOST_DEG - 0.1, LOST_DEG, NEAR_DEG - 0.1, NEAR_DEG, 179.0)] == [
        "lost",
        "lost",
        "near",
        "near",
        "none",
        "none",
    ]


def test_a_moon_that_is_down_on_air_is_shown_when_it_is_up() -> None:
    on_air = datetime(2026, 3, 26, 19, 0, tzinfo=UTC)  # day after first quarter: high in the evening
    assert best_shown(on_air, VIENNA) == on_air
    waning = datetime(2026, 4, 8, 19, 0, tzinfo=UTC)  # six days after full Moon: rises long after midnight
    shown = best_shown(waning, VIENNA)
    assert aspect_at(waning, VIENNA).altitude_deg < 0
    assert timedelta(hours=5) < shown - waning < timedelta(hours=12)
    assert aspect_at(shown, VIENNA).altitude_deg >= 5
    assert float(sun_altitude_deg(np.array([unix_seconds_of(shown)]), VIENNA)[0]) < 0
