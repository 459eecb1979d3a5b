"""Geometry against the orthographic formulas, a pinhole camera of another library, and a handbook's worked example."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from moondesk.moon.geometry import (
    bright_limb_screen_deg,
    disc_axes,
    disc_to_pixel,
    lift,
    phase_angle_deg,
    pixel_to_disc,
    pixel_to_surface,
    project,
    screen_axes,
    sun_altitude_deg,
    surface_to_pixel,
    unit_vector,
)
from moondesk.records import Pose

#: Meeus, Astronomical Algorithms (2nd ed.), ch. 48 and 53, all at 1992 April 12, 0h TD.
MEEUS = {"l": -1.23, "b": 4.20, "P": 15.08, "l0": 67.90, "b0": 1.46, "i": 69.0756, "k": 0.6786, "chi": 285.0}
PLAIN = Pose(
    x=0.0,
    y=0.0,
    radius_px=500.0,
    north_screen_deg=0.0,
    mirrored=False,
    libration_lat_deg=0.0,
    libration_lon_deg=0.0,
    sub_solar_lat_deg=0.0,
    sub_solar_lon_deg=0.0,
)


def random_pose(rng: np.random.Generator) -> Pose:
    return Pose(
        x=rng.uniform(200, 800), y=rng.uniform(200, 800), radius_px=rng.uniform(50, 600), north_screen_deg=rng.uniform(0, 360), mirrored=bool(rng.random() < 0.5),
        libration_lat_deg=rng.uniform(-8, 8), libration_lon_deg=rng.uniform(-9, 9), sub_solar_lat_deg=rng.uniform(-1.6, 1.6), sub_solar_lon_deg=rng.uniform(-180, 180),
        distance_radii=rng.uniform(205, 234), flattening=rng.choice([0.0, 0.03]), flattening_screen_deg=rng.uniform(0, 180), radial_k1=rng.choice([0.0, -0.03, 0.03]),
        axis_x=500.0, axis_y=450.0, axis_scale_px=700.0, tilt=rng.choice([0.0, 0.08]), tilt_screen_deg=rng.uniform(0, 360), tangential=rng.choice([0.0, 0.03]), tangential_screen_deg=rng.uniform(0, 360),
    )  # fmt: skip


def near_side(rng: np.random.Generator, pose: Pose, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Latitudes and longitudes spread over the visible side, up to 85 degrees from its middle."""
    away, turn = np.radians(rng.uniform(0, 85, count)), rng.uniform(0, 2 * np.pi, count)
    local = np.column_stack([np.sin(away) * np.cos(turn), np.sin(away) * np.sin(turn), np.cos(away)])
    v = local @ disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    return np.degrees(np.arcsin(v[:, 2])), np.degrees(np.arctan2(v[:, 1], v[:, 0]))


def test_from_far_away_the_textbook_orthographic_formulas_hold() -> None:
    # x = cos b sin(l - l0), y = sin b cos b0 - cos b sin b0 cos(l - l0) (Snyder 1987, Map Projections, 20-3, 20-4)
    rng = np.random.default_rng(1)
    lat, lon, b0, l0 = rng.uniform(-80, 80, 200), rng.uniform(-80, 80, 200), 5.3, -6.1
    b, dl, s = np.radians(lat), np.radians(lon - l0), np.radians(b0)
    disc = project(unit_vector(lat, lon), disc_axes(b0, l0), 1e8)
    np.testing.assert_allclose(disc.u, np.cos(b) * np.sin(dl), atol=1e-7)
    np.testing.assert_allclose(disc.v, np.sin(b) * np.cos(s) - np.cos(b) * np.sin(s) * np.cos(dl), atol=1e-7)
    np.testing.assert_allclose(disc.mu, np.sin(b) * np.sin(s) + np.cos(b) * np.cos(s) * np.cos(dl), atol=1e-7)


def test_limb_lies_a_quarter_degree_inside_the_right_angle() -> None:
    # arcsin(1737.4 / 384400) = 0.259 degrees short of 90
    d = 384400 / 1737.4
    edge = project(unit_vector(0.0, 90 - np.degrees(np.arcsin(1 / d))), disc_axes(0, 0), d)
    assert np.degrees(np.arcsin(1 / d)) == pytest.approx(0.259, abs=5e-4)
    assert edge.u == pytest.approx(1.0, abs=1e-12)
    assert edge.mu == pytest.approx(0.0, abs=1e-12)
    assert project(unit_vector(0.0, 90.0), disc_axes(0, 0), d).mu < 0
    # leaving perspective out costs 0.45 % x sin(2 x angle) / 2 of the radius: 0.226 %R at 45 degrees
    assert project(unit_vector(0.0, 45.0), disc_axes(0, 0), d).u - np.sin(np.pi / 4) == pytest.approx(0.00226, abs=5e-5)


@pytest.mark.parametrize("k1", [0.0, 0.04])
def test_agrees_with_opencvs_pinhole_camera_and_radial_lens(k1: float) -> None:
    # cv2.projectPoints: x' = x / z, r_seen = r (1 + k1 r^2) in focal lengths about the principal point
    rng = np.random.default_rng(2)
    d, focal, turn = 221.3, 90000.0, 31.0
    radius = focal / np.sqrt(d * d - 1)
    # the lens term in units of 0.004 focal lengths, about the Moon's radius as seen
    pose = replace(PLAIN, x=640.0, y=480.0, radius_px=radius, north_screen_deg=turn, libration_lat_deg=-4.0,
                   libration_lon_deg=6.5, distance_radii=d, radial_k1=k1, axis_x=640.0, axis_y=480.0,
                   axis_scale_px=0.004 * focal)  # fmt: skip
    lat, lon = near_side(rng, pose, 100)
    # camera axes in the Moon's frame: x right, y down, z from the camera to the Moon
    t = np.radians(turn)
    u, v, w = disc_axes(-4.0, 6.5)
    camera = np.array([np.cos(t) * u - np.sin(t) * v, -np.sin(t) * u - np.cos(t) * v, -w])
    expected, _ = cv2.projectPoints(
        unit_vector(lat, lon), cv2.Rodrigues(camera)[0], np.array([0.0, 0.0, d]),
        np.array([[focal, 0, 640.0], [0, focal, 480.0], [0, 0, 1]]), np.array([k1 / 0.004**2, 0, 0, 0]),
    )  # fmt: skip
    found = surface_to_pixel(pose, lat, lon)
    np.testing.assert_allclose(np.column_stack([found.x, found.y]), expected[:, 0], atol=1e-6)


def test_round_trips_over_random_poses() -> None:
    rng = np.random.default_rng(3)
    for _ in range(60):
        pose = random_pose(rng)
        lat, lon = near_side(rng, pose, 40)
        points = surface_to_pixel(pose, lat, lon)
        back_lat, back_lon = pixel_to_surface(pose, points.x, points.y)
        tolerance = 1e-6
        np.testing.assert_allclose(back_lat, lat, atol=tolerance)
        away = (back_lon - lon + 180) % 360 - 180
        np.testing.assert_allclose(away * np.cos(np.radians(lat)), 0, atol=tolerance)
        u, v = pixel_to_disc(pose, points.x, points.y)
        x, y = disc_to_pixel(pose, u, v)
        np.testing.assert_allclose(np.hypot(x - points.x, y - points.y), 0, atol=1e-7)


def test_lift_undoes_project_and_is_nan_off_the_disc() -> None:
    rng = np.random.default_rng(4)
    axes = disc_axes(3.0, -7.0)
    r, t = np.sqrt(rng.random(300)), rng.uniform(0, 2 * np.pi, 300)
    u, v = r * np.cos(t), r * np.sin(t)
    disc = project(lift(u, v, axes, 210.0), axes, 210.0)
    np.testing.assert_allclose(disc.u, u, atol=1e-12)
    np.testing.assert_allclose(disc.v, v, atol=1e-12)
    assert (disc.mu >= -1e-9).all()
    assert np.isnan(lift(1.001, 0.0, axes, 210.0)).all()


def test_screen_directions() -> None:
    # records.py: screen angles from up counter-clockwise; lunar east is to the right where north is up, unless mirrored
    east, north = screen_axes(0.0, False)
    np.testing.assert_allclose([east, north], [[1, 0], [0, -1]], atol=1e-12)
    east, north = screen_axes(90.0, False)
    np.testing.assert_allclose([east, north], [[0, -1], [-1, 0]], atol=1e-12)
    east, north = screen_axes(0.0, True)
    np.testing.assert_allclose([east, north], [[-1, 0], [0, -1]], atol=1e-12)


def test_flattening_shortens_along_its_direction_only() -> None:
    pose = replace(PLAIN, radius_px=100.0, flattening=0.05, flattening_screen_deg=0.0)
    assert disc_to_pixel(pose, 0.0, 1.0) == pytest.approx((0.0, -95.0))
    assert disc_to_pixel(pose, 1.0, 0.0) == pytest.approx((100.0, 0.0))
    sideways = replace(pose, flattening_screen_deg=90.0)
    assert disc_to_pixel(sideways, 1.0, 0.0) == pytest.approx((95.0, 0.0))


def test_sun_over_copernicus_in_the_handbook() -> None:
    # Meeus ch. 53: Sun's altitude at 20 W, 9.7 N is +2.318 degrees; l0, b0 are printed to 0.01
    height = sun_altitude_deg(9.7, -20.0, MEEUS["b0"], MEEUS["l0"])
    assert height == pytest.approx(2.318, abs=0.006)


def test_phase_and_bright_limb_of_the_handbook() -> None:
    i = phase_angle_deg(MEEUS["b"], MEEUS["l"], MEEUS["b0"], MEEUS["l0"])
    # geocentric l, b printed to 0.01; the Moon's axis model leaves 0.02 (against DE421)
    assert i == pytest.approx(MEEUS["i"], abs=0.03)
    assert (1 + np.cos(np.radians(i))) / 2 == pytest.approx(MEEUS["k"], abs=3e-4)
    # with celestial north up and east left, screen angles are position angles: the axis at P, the bright limb at chi
    pose = replace(PLAIN, north_screen_deg=MEEUS["P"], libration_lat_deg=MEEUS["b"], libration_lon_deg=MEEUS["l"],
                   sub_solar_lat_deg=MEEUS["b0"], sub_solar_lon_deg=MEEUS["l0"])  # fmt: skip
    assert bright_limb_screen_deg(pose) == pytest.approx(MEEUS["chi"], abs=0.1)
    # in a mirror that keeps the axis where it is, the bright limb changes sides of it
    mirrored = bright_limb_screen_deg(replace(pose, mirrored=True))
    assert mirrored == pytest.approx((2 * MEEUS["P"] - MEEUS["chi"]) % 360, abs=0.1)
