"""Marks of features: where geometry puts them, how much of them is lit, what is left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from moondesk.moon.geometry import sun_altitude_deg, surface_to_pixel, unit_vector
from moondesk.records import FeatureMark, Pose
from moondesk.visibility.marks import ALWAYS, FLOOR_PCT_RADIUS, LEAST_KM, lit_fraction, mark_features

#: First quarter: the Sun over 90 E, the terminator along the zero meridian.
POSE = Pose(x=500.0, y=400.0, radius_px=350.0, north_screen_deg=20.0, mirrored=False, libration_lat_deg=0.0, libration_lon_deg=0.0, sub_solar_lat_deg=0.0, sub_solar_lon_deg=90.0, sigma_pct_radius=0.1,
            parameters=("x", "y"), covariance=(0.25, 0.0, 0.0, 0.25))  # fmt: skip


def marks_of(pose: Pose, width: int = 1000, height: int = 800, blur_px: float = 2.0) -> dict[str, FeatureMark]:
    """Of an empty picture: what geometry and light alone say (what is seen: test_seen)."""
    dark = np.zeros((height, width), np.float32)
    return {m.feature.name: m for m in mark_features(pose, pose, dark, width, height, blur_px)}


@pytest.fixture(scope="module")
def quarter() -> dict[str, FeatureMark]:
    return marks_of(POSE)


def test_terminator_halves_what_lies_on_it() -> None:
    on, day, night = unit_vector(0, 0), unit_vector(0, 30), unit_vector(0, -30)
    share = lit_fraction(np.array([on, day, night]), np.full(3, 0.2), POSE)
    # the Sun's upper edge counts, a quarter of a degree beyond: of a circle 23 degrees wide that adds 1.5 %
    np.testing.assert_allclose(share, [0.5, 1.0, 0.0], atol=0.05)


def test_small_feature_is_lit_or_not() -> None:
    share = lit_fraction(unit_vector([0.0, 0.0], [0.6, -0.8]), np.array([0.001, 0.001]), POSE)
    np.testing.assert_array_equal(share, [1.0, 0.0])


def test_pixels_heights_and_sizes(quarter: dict[str, FeatureMark]) -> None:
    mark = quarter["Theophilus"]
    f = mark.feature
    point = surface_to_pixel(POSE, f.lat_deg, f.lon_deg)
    assert (mark.x, mark.y, mark.cos_view) == pytest.approx((float(point.x), float(point.y), float(point.mu)))
    # the handbook's sine rule: sin h = sin b sin b0 + cos b cos b0 cos(l0 - l)
    height = np.degrees(np.arcsin(np.cos(np.radians(f.lat_deg)) * np.cos(np.radians(90 - f.lon_deg))))
    assert mark.sun_altitude_deg == pytest.approx(height)
    assert mark.sun_altitude_deg == pytest.approx(float(sun_altitude_deg(f.lat_deg, f.lon_deg, 0.0, 90.0)))
    assert mark.radius_px == pytest.approx(f.size_km / 2 / 1737.4 * 350.0)
    # covariance of the centre alone, half a pixel, and small floors for maps and blur
    assert np.hypot(0.5, FLOOR_PCT_RADIUS / 100 * 350.0) <= mark.sigma_px * (1 + 1e-9) < 0.6


def test_ranges_and_what_is_left_out(quarter: dict[str, FeatureMark]) -> None:
    assert len(quarter) > 300
    for mark in quarter.values():
        for share in (mark.lit_fraction, mark.seen, mark.prominence, mark.cos_view):
            assert 0 <= share <= 1
        assert mark.cos_view > 0
        assert mark.feature.parent is None or mark.feature.name == ALWAYS
        assert mark.feature.size_km >= LEAST_KM or mark.feature.name == ALWAYS
        if mark.lit_fraction == 0:
            assert mark.seen == 0
    assert ALWAYS in quarter
    assert "Tsiolkovskiy" not in quarter  # on the far side, 129 E
    assert quarter["Copernicus"].lit_fraction == 0  # 20 W: still night at first quarter
    assert quarter["Langrenus"].lit_fraction == 1


def test_outside_the_frame_nothing_but_large_seas(quarter: dict[str, FeatureMark]) -> None:
    part = marks_of(replace(POSE, x=-100.0))
    for name, mark in part.items():
        if mark.feature.size_km <= 150:
            assert 0 <= mark.x <= 999, name
    assert 0 < len(part) < 0.5 * len(quarter)
    assert "Copernicus" not in part


def test_an_empty_picture_shows_nothing(quarter: dict[str, FeatureMark]) -> None:
    assert quarter["Theophilus"].lit_fraction == 1
    assert max(m.seen for m in quarter.values()) < 0.1


def test_mirror_moves_marks_but_not_light(quarter: dict[str, FeatureMark]) -> None:
    other = marks_of(replace(POSE, mirrored=True, north_screen_deg=-20.0 % 360))
    a, b = quarter["Langrenus"], other["Langrenus"]
    assert b.x == pytest.approx(1000.0 - a.x)
    assert b.y == pytest.approx(a.y)
    assert b.sun_altitude_deg == a.sun_altitude_deg
