"""The solver on matches made from a known pose: exact, with outliers, with noise; and its covariance by trial."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from moondesk.moon.geometry import disc_axes, surface_to_pixel
from moondesk.placement.matching import Matches
from moondesk.placement.solver import BASE, FLATTENING, LENS, Constraints, Prior, pixel_sigma, solve
from moondesk.records import Limb, Pose

TRUE = Pose(x=612.3, y=455.8, radius_px=301.7, north_screen_deg=141.25, mirrored=True, libration_lat_deg=-4.31, libration_lon_deg=6.02, sub_solar_lat_deg=0.7, sub_solar_lon_deg=40.0, distance_radii=221.3, axis_x=600.0, axis_y=450.0,
            axis_scale_px=750.0)  # fmt: skip
START = replace(TRUE, x=615.0, y=453.0, radius_px=304.0, north_screen_deg=140.4, libration_lat_deg=-3.6,
                libration_lon_deg=5.1)  # fmt: skip


def surface(rng: np.random.Generator, count: int) -> np.ndarray:
    """Unit vectors spread over the visible side up to 75 degrees from its middle."""
    away, turn = np.arcsin(0.966 * np.sqrt(rng.random(count))), rng.uniform(0, 2 * np.pi, count)
    local = np.column_stack([np.sin(away) * np.cos(turn), np.sin(away) * np.sin(turn), np.cos(away)])
    return local @ disc_axes(TRUE.libration_lat_deg, TRUE.libration_lon_deg)


def pixels(pose: Pose, vectors: np.ndarray) -> np.ndarray:
    lat, lon = np.degrees(np.arcsin(vectors[:, 2])), np.degrees(np.arctan2(vectors[:, 1], vectors[:, 0]))
    points = surface_to_pixel(pose, lat, lon)
    return np.column_stack([points.x, points.y])


def matches(vectors: np.ndarray, xy: np.ndarray, frame_px: float = 1.25) -> Matches:
    ones = np.ones(len(vectors))
    return Matches(
        surface=vectors, xy=xy, correlation=0.8 * ones, sharpness=0.05 * ones, tried=len(vectors), frame_px=frame_px
    )


def of(pose: Pose, names: tuple[str, ...] = BASE) -> np.ndarray:
    return np.array([getattr(pose, n) for n in names])


def test_exact_matches_give_the_pose_back() -> None:
    vectors = surface(np.random.default_rng(1), 150)
    solution = solve(START, matches(vectors, pixels(TRUE, vectors)))
    np.testing.assert_allclose(of(solution.pose), of(TRUE), atol=1e-6)
    assert solution.inliers.all()
    assert solution.agree == 1.0
    assert solution.pose.n_matches == 150
    assert solution.pose.parameters == BASE
    # what is not solved for is left alone
    assert solution.pose.mirrored is True
    assert solution.pose.sub_solar_lon_deg == TRUE.sub_solar_lon_deg


def test_three_in_ten_outliers() -> None:
    rng = np.random.default_rng(2)
    vectors = surface(rng, 200)
    xy = pixels(TRUE, vectors) + rng.normal(0, 0.3, (200, 2))
    wrong = rng.random(200) < 0.3
    xy[wrong] += rng.uniform(-12, 12, (wrong.sum(), 2))
    solution = solve(START, matches(vectors, xy))
    # 140 good pairs of 0.3 px fix the disc's centre to about 0.3 / sqrt(140) x 2 = 0.05 px (tilt and centre correlate)
    assert np.hypot(*(pixels(solution.pose, vectors) - pixels(TRUE, vectors)).T).max() < 0.2
    assert solution.noise_px == pytest.approx(0.3, rel=0.35)
    far = np.hypot(*(xy - pixels(TRUE, vectors)).T) > 3.2
    assert not solution.inliers[far].any()
    assert solution.inliers[~wrong].mean() > 0.98


def test_covariance_is_honest() -> None:
    """A hundred noisy trials: errors in units of the stated covariance have the variance that they should."""
    rng = np.random.default_rng(3)
    vectors = surface(rng, 120)
    exact = pixels(TRUE, vectors)
    square, at_points = [], []
    for _ in range(100):
        pose = solve(TRUE, matches(vectors, exact + rng.normal(0, 0.4, exact.shape))).pose
        error = of(pose) - of(TRUE)
        covariance = np.array(pose.covariance).reshape(6, 6)
        square.append(error @ np.linalg.solve(covariance, error) / 6)
        shift = (pixels(pose, vectors) - exact) / pixel_sigma(pose, vectors)[:, None]
        at_points.append((shift**2).mean())
    # mean of chi-square / 6 over 100 trials scatters by 6 %; the noise is measured from residuals, weights cost some
    assert 0.75 < np.mean(square) < 1.35
    assert 0.75 < np.mean(at_points) < 1.35


def test_prior_holds_what_the_matches_do_not_say() -> None:
    # points along one narrow strip near the middle leave the libration nearly free
    rng = np.random.default_rng(4)
    vectors = surface(rng, 400)
    middle = disc_axes(TRUE.libration_lat_deg, TRUE.libration_lon_deg)[2]
    vectors = vectors[vectors @ middle > 0.97]
    xy = pixels(TRUE, vectors) + rng.normal(0, 0.3, (len(vectors), 2))
    priors = (Prior("libration_lat_deg", -4.3, 0.05), Prior("libration_lon_deg", 6.0, 0.05))
    free, held = (
        solve(START, matches(vectors, xy)).pose,
        solve(START, matches(vectors, xy), Constraints(priors=priors)).pose,
    )
    assert abs(held.libration_lat_deg + 4.3) < 0.15
    assert abs(held.libration_lon_deg - 6.0) < 0.15
    variance = np.array(free.covariance).reshape(6, 6)[5, 5], np.array(held.covariance).reshape(6, 6)[5, 5]
    assert variance[1] <= 0.05**2 * 1.001
    assert variance[0] > 4 * variance[1]


def test_limb_alone_fixes_centre_and_radius() -> None:
    limb = Limb(
        x=612.0,
        y=456.0,
        radius_px=301.5,
        sigma_px=0.1,
        covariance=tuple((0.01 * np.eye(3)).ravel()),
        rms_px=0.2,
        arc_deg=180.0,
        n_points=180,
        edge_width_px=2.0,
    )
    priors = tuple(Prior(n, getattr(START, n), 0.5) for n in BASE[3:])
    solution = solve(START, matches(np.zeros((0, 3)), np.zeros((0, 2))), Constraints(limb, 0.5, priors))
    np.testing.assert_allclose(of(solution.pose)[:3], [612.0, 456.0, 301.5], atol=1e-6)
    sigma = np.sqrt(np.diag(np.array(solution.pose.covariance).reshape(6, 6)))
    np.testing.assert_allclose(sigma[:3], np.hypot(0.1, 0.5), rtol=1e-6)
    assert solution.agree == 0.0
    assert solution.pose.n_matches == 0


def test_flattening_and_lens_are_found_where_asked_for() -> None:
    true = replace(TRUE, flattening=0.03, flattening_screen_deg=63.0, radial_k1=-0.025)
    vectors = surface(np.random.default_rng(5), 200)
    start = replace(START, flattening=0.004, flattening_screen_deg=45.0)
    solution = solve(start, matches(vectors, pixels(true, vectors)), extra=FLATTENING + LENS, rounds=30)
    pose = solution.pose
    np.testing.assert_allclose(of(pose), of(true), atol=2e-4)
    assert pose.flattening == pytest.approx(0.03, abs=1e-5)
    assert pose.flattening_screen_deg == pytest.approx(63.0, abs=0.02)
    assert pose.radial_k1 == pytest.approx(-0.025, abs=1e-5)
    assert pose.parameters == BASE + FLATTENING + LENS
    assert len(pose.covariance) == 81


def test_pixel_sigma_of_a_plain_shift_and_of_no_covariance() -> None:
    vectors = surface(np.random.default_rng(6), 20)
    shifted = replace(TRUE, parameters=("x", "y"), covariance=(0.04, 0.0, 0.0, 0.16))
    np.testing.assert_allclose(pixel_sigma(shifted, vectors), np.sqrt(0.1), rtol=1e-9)
    # a turn of one degree moves a point by its distance from the centre times one degree
    turned = replace(TRUE, parameters=("north_screen_deg",), covariance=(1.0,))
    distance = np.hypot(*(pixels(TRUE, vectors) - [TRUE.x, TRUE.y]).T)
    np.testing.assert_allclose(pixel_sigma(turned, vectors), np.radians(1.0) * distance / np.sqrt(2), rtol=1e-3)
    assert np.isnan(pixel_sigma(TRUE, vectors)).all()
