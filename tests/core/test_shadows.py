"""Heights from shadows: the geometry, drawn shadows of known length, and what is declined. Accuracy on rendered relief
is the bench's (tests/benchmarks/shadows.py)."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from moondesk.moon.geometry import disc_axes, lift, pixel_to_disc, unit_vector
from moondesk.records import (
    MOON_RADIUS_KM,
    Aspect,
    Clock,
    ClockVerdict,
    EveningKnowledge,
    EveningVerdict,
    Feature,
    FeatureMark,
    NotFound,
    Pose,
    Status,
    TimeCandidate,
    TimeReadings,
)
from moondesk.records import Annotation as Placed
from moondesk.shadows.craters import rim_shadow
from moondesk.shadows.heights import ShadowHeight, height_km, slopes
from moondesk.shadows.measurement import LIGHT_SIGMA_DEG, shadow_at, sun_of

#: First quarter, 1.2 km a pixel: the Sun over 90 east.
POSE = Pose(
    x=400.0,
    y=400.0,
    radius_px=1448.0,
    north_screen_deg=0.0,
    mirrored=False,
    libration_lat_deg=0.0,
    libration_lon_deg=0.0,
    sub_solar_lat_deg=0.0,
    sub_solar_lon_deg=90.0,
)


@pytest.mark.parametrize("sun_deg", [2.0, 5.0, 10.0])
@pytest.mark.parametrize("length", [5.0, 20.0, 60.0])
def test_the_ray_grazes_the_crest_and_ends_at_the_tip(sun_deg, length):
    """Constructed in the plane: a ray from the tip at that elevation, cut with the crest's vertical."""
    h, theta = np.radians(sun_deg), length / MOON_RADIUS_KM
    tip, ray = np.array([0.0, MOON_RADIUS_KM]), np.array([np.cos(h), np.sin(h)])
    vertical = np.array([np.sin(theta), np.cos(theta)])
    along, up = np.linalg.solve(np.column_stack([-ray, vertical]), tip)
    assert along > 0
    assert height_km(length, sun_deg) == pytest.approx(up - MOON_RADIUS_KM, abs=1e-6)


def test_small_shadows_are_as_on_a_plane():
    """10 km with the Sun 6 degrees high: 10 tan 6 = 1.051 km, and 10^2 / 2R = 0.029 km more for the curvature."""
    assert height_km(10.0, 6.0) == pytest.approx(1.051 + 0.029, abs=0.001)


def test_slopes_are_the_derivatives():
    for length, sun in ((10.0, 3.0), (50.0, 8.0)):
        by_length, by_sun = slopes(length, sun)
        assert by_length == pytest.approx((height_km(length + 1e-4, sun) - height_km(length - 1e-4, sun)) / 2e-4, 1e-5)
        assert by_sun == pytest.approx((height_km(length, sun + 1e-4) - height_km(length, sun - 1e-4)) / 2e-4, 1e-3)


def test_there_is_no_height_without_a_sun():
    for length, sun in ((10.0, 0.0), (10.0, -3.0), (-1.0, 5.0)):
        with pytest.raises(ValueError, match="no height from a shadow"):
            height_km(length, sun)


def drawn(
    start_km: float, tip_km: float, blur_px: float = 1.5, dark: float = 0.0, lon_deg: float = 5.0, noise: float = 0.003
) -> np.ndarray:
    """Level ground with one shadow across the lines of the Sun through (0, lon), 30 km wide; (801, 801) linear."""
    import cv2

    y, x = np.mgrid[0:801, 0:801].astype(float)
    u, v = pixel_to_disc(POSE, x, y)
    vectors = lift(u, v, disc_axes(0.0, 0.0), POSE.distance_radii)
    sine = vectors @ unit_vector(0.0, 90.0)
    light = np.where(sine > 0, np.maximum(sine, 0.0) / (np.maximum(sine, 0.0) + 0.9), 0.0)
    away = MOON_RADIUS_KM * (np.radians(lon_deg) - np.arcsin(np.clip(vectors[..., 1], -1, 1)))
    aside = MOON_RADIUS_KM * np.arcsin(np.clip(vectors[..., 2], -1, 1))
    shaded = (away > start_km) & (away < tip_km) & (np.abs(aside) < 30)
    light = cv2.GaussianBlur(np.where(shaded, dark * light, light).astype(np.float32), (0, 0), blur_px)
    return np.maximum(light + np.random.default_rng(4).normal(0, noise, light.shape), 0).astype(np.float32)


@pytest.mark.parametrize(("start", "tip"), [(0.0, 20.0), (2.0, 32.0), (-3.0, 15.0)])
def test_a_drawn_shadow_has_its_length(start, tip):
    found = shadow_at(drawn(start, tip), POSE, (0.0, 5.0), 15.0, 1.5, 0.03)
    assert isinstance(found, ShadowHeight)
    assert abs(found.length_km - (tip - start)) < 2 * found.length_sigma_km
    assert found.length_sigma_km < 0.09 * (tip - start)
    sun = 5.0 - np.degrees(tip / MOON_RADIUS_KM)  # over the equator the Sun's height is the longitude past the edge
    assert found.sun_altitude_deg == pytest.approx(sun, abs=0.08)
    assert abs(found.height_m - 1000 * height_km(tip - start, sun)) < 2 * found.sigma_m


@pytest.mark.parametrize(
    ("picture", "words"),
    [
        (drawn(0.0, 7.5), "too short"),
        (drawn(0.0, 20.0, dark=0.4), "No shadow begins"),
        (drawn(500.0, 501.0), "No shadow begins"),
        (drawn(0.0, 90.0), "night|merge|another|beside"),
    ],
)
def test_what_cannot_be_told_is_declined_with_its_reason(picture, words):
    found = shadow_at(picture, POSE, (0.0, 5.0), 15.0, 1.5, 0.03)
    assert isinstance(found, NotFound)
    assert any(word in found.reason for word in words.split("|")), found.reason
    assert found.advice


def test_dim_ground_that_follows_a_shadow_is_declined():
    clear = drawn(0.0, 20.0)
    dim = np.maximum(clear, 0.25 * drawn(0.0, 14.0))  # from 14 to 20 km a quarter of level ground's light
    assert isinstance(shadow_at(clear, POSE, (0.0, 5.0), 15.0, 1.5, 0.03), ShadowHeight)
    found = shadow_at(dim, POSE, (0.0, 5.0), 15.0, 1.5, 0.03)
    assert isinstance(found, NotFound)
    assert "Dim ground" in found.reason


def test_what_begins_off_the_rim_is_not_the_rims():
    # the rim nearest to the Sun stands at (0, 5): 40 km across, so that its middle lies 20 km west of it
    middle = 5.0 - float(np.degrees(20.0 / MOON_RADIUS_KM))
    mark = FeatureMark(
        feature=Feature(name="Drawn", kind="crater", lat_deg=0.0, lon_deg=middle, size_km=40.0),
        x=400,
        y=400,
        sigma_px=1,
        radius_px=20,
        sun_altitude_deg=4,
        cos_view=1,
        lit_fraction=0.5,
        seen=1,
        prominence=0.5,
    )
    assert isinstance(rim_shadow(drawn(0.0, 20.0), POSE, mark, 1.5, 0.03), ShadowHeight)
    found = rim_shadow(drawn(11.0, 31.0), POSE, mark, 1.5, 0.03)
    assert isinstance(found, NotFound)
    assert "from the rim" in found.reason


def test_off_the_picture_and_near_the_limb():
    for pose in (replace(POSE, x=-700.0), replace(POSE, x=-900.0, y=-900.0)):
        found = shadow_at(drawn(0.0, 20.0), pose, (0.0, 5.0), 15.0, 1.5, 0.03)
        assert isinstance(found, NotFound)
        assert "outside the picture" in found.reason


def test_the_sun_is_the_clocks_where_it_is_good_and_else_the_lights():
    when = datetime(2026, 3, 25, 20, tzinfo=UTC)
    aspect = Aspect(
        when_utc=when,
        place=None,
        libration_lat_deg=0,
        libration_lon_deg=0,
        sub_solar_lat_deg=1.0,
        sub_solar_lon_deg=88.0,
        axis_pa_deg=0,
        bright_limb_pa_deg=0,
        parallactic_deg=None,
        phase_angle_deg=90,
        illuminated_fraction=0.5,
        elongation_deg=90,
        semidiameter_arcsec=900,
        distance_km=384_400,
        altitude_deg=None,
        azimuth_deg=None,
        colongitude_deg=2.0,
    )
    told = TimeCandidate(when, 5.0, "told")
    a = Placed(
        status=Status.ANNOTATED,
        sure=True,
        width=801,
        height=801,
        taken=TimeReadings(candidates=(told,), earliest_utc=None, latest_utc=None),
        time=told,
        clock=Clock(ClockVerdict.AGREES, when, 0.4),
        pose=POSE,
        aspect=aspect,
        dated=EveningKnowledge(EveningVerdict.SURE),
    )
    pose, sigma = sun_of(a)
    assert (pose.sub_solar_lat_deg, pose.sub_solar_lon_deg) == (1.0, 88.0)
    assert sigma == pytest.approx(np.hypot(5 * 0.51 / 60, 0.03), rel=0.02)
    for other in (
        replace(a, clock=Clock(ClockVerdict.DISAGREES, when, 0.4)),
        replace(a, time=replace(told, source="picture")),
        replace(a, time=replace(told, sigma_minutes=120.0)),
        replace(a, aspect=None),
        replace(a, dated=EveningKnowledge(EveningVerdict.UNSURE)),
    ):
        assert sun_of(other) == (POSE, LIGHT_SIGMA_DEG)
    assert sun_of(replace(a, sure=False)) is None
