"""The limb fit against scikit-image's circle, the Cramer-Rao bound, and discs whose edge is known."""

from __future__ import annotations

import warnings

import cv2
import numpy as np
import pytest
from skimage.measure import CircleModel

from moondesk.placement.limb import Circle, find_circles, fit_limb, taubin
from moondesk.records import Limb, NotFound


def arc_points(rng: np.random.Generator, arc_deg: float, radius: float = 500.0, noise: float = 0.3) -> np.ndarray:
    """One point per px of arc about (0, 0), the arc's middle on the x axis, with radial noise."""
    count = int(np.radians(arc_deg) * radius)
    t = np.radians(np.linspace(-arc_deg / 2, arc_deg / 2, count))
    return (radius + rng.normal(0, noise, count))[:, None] * np.column_stack([np.cos(t), np.sin(t)])


def half_disc(x: float, y: float, radius: float, blur: float, lit_from: float = 0.0) -> np.ndarray:
    """A half-lit ball of even brightness falling to zero at the terminator; lit_from: radians from right, y down."""
    shape, fine = (480, 640), 4
    rows, columns = ((np.arange(n * fine) + 0.5) / fine - 0.5 for n in shape)
    jj, ii = np.meshgrid(columns, rows)
    dx, dy = (jj - x) / radius, (ii - y) / radius
    along = dx * np.cos(lit_from) + dy * np.sin(lit_from)
    image = np.where(dx * dx + dy * dy < 1, 0.6 * np.clip(along * 3, 0, 1), 0.0).astype(np.float32)
    image = cv2.resize(image, (shape[1], shape[0]), interpolation=cv2.INTER_AREA)
    image = cv2.GaussianBlur(image, (0, 0), blur)
    return image + np.random.default_rng(5).normal(0, 0.002, shape).astype(np.float32)


def found(luminance: np.ndarray, circle: Circle) -> Limb:
    limb = fit_limb(luminance, circle)
    assert isinstance(limb, Limb)
    return limb


@pytest.mark.parametrize("arc", [360.0, 180.0, 120.0, 90.0])
def test_taubin_agrees_with_scikit_image(arc: float) -> None:
    points = arc_points(np.random.default_rng(11), arc) + np.array([320.0, 240.0])
    ours = taubin(points)
    model = CircleModel.from_estimate(points)
    # both are at the bound; what differs is a bias of second order in the noise
    np.testing.assert_allclose(ours, [*model.center, model.radius], atol=0.03)


@pytest.mark.parametrize(
    ("arc", "along", "across", "radius"),
    [
        (360.0, 0.008, 0.008, 0.005),
        (180.0, 0.025, 0.011, 0.017),
        (120.0, 0.061, 0.017, 0.052),
        (90.0, 0.12, 0.025, 0.11),
    ],
)
def test_taubin_reaches_the_cramer_rao_bound(arc: float, along: float, across: float, radius: float) -> None:
    # figures A2: bound for R = 500 px, a point per px, 0.3 px of radial noise (values printed to two digits at best)
    rng = np.random.default_rng(12)
    fits = np.array([taubin(arc_points(rng, arc)) for _ in range(150)])
    spread = np.sqrt(((fits - [0, 0, 500]) ** 2).mean(axis=0))
    np.testing.assert_allclose(spread, [along, across, radius], rtol=0.2, atol=5e-4)


def test_taubin_of_a_line_is_no_circle() -> None:
    t = np.linspace(0, 10, 50)
    assert taubin(np.column_stack([t, 2 * t])) is None
    assert taubin(np.zeros((5, 2))) is None


@pytest.mark.parametrize("lit_from", [0.0, 1.2, 3.0, 4.6])
def test_half_lit_disc(lit_from: float) -> None:
    image = half_disc(322.3, 237.8, 150.4, 1.2, lit_from)
    limb = found(image, Circle(x=325.0, y=236.0, radius=148.0, support_deg=0, step=0))
    assert np.hypot(limb.x - 322.3, limb.y - 237.8) < 0.15  # 0.1 %R
    assert limb.radius_px == pytest.approx(150.4, abs=0.15)
    assert 120 < limb.arc_deg <= 190  # never more than the half circle that is lit
    # figures A2: 0.02 to 0.04 px at R = 500; stated for edges whose neighbours share blur
    assert 0.002 < limb.sigma_px < 0.2
    covariance = np.array(limb.covariance).reshape(3, 3)
    assert np.linalg.eigvalsh(covariance).min() > 0
    assert limb.sigma_px == pytest.approx(np.sqrt(covariance[2, 2]))


def test_edge_width_follows_the_blur() -> None:
    widths = [
        found(half_disc(320, 240, 150, s), Circle(x=320, y=240, radius=150, support_deg=0, step=0)).edge_width_px
        for s in (1.0, 2.0, 3.0)
    ]
    # between the straight edge of the steepest slope (2.01 sigma) and the 10 to 90 % of a Gaussian edge (2.56 sigma)
    for sigma, width in zip((1.0, 2.0, 3.0), widths, strict=True):
        assert 1.8 * sigma < width < 2.7 * sigma


def test_disc_is_found_without_a_hint_and_the_same_each_time() -> None:
    image = half_disc(322.3, 237.8, 150.4, 1.5, 2.0)
    circles = find_circles(image)
    assert circles == find_circles(image)
    assert np.hypot(circles[0].x - 322.3, circles[0].y - 237.8) < 3
    assert circles[0].radius == pytest.approx(150.4, rel=0.02)


def test_moon_comes_before_the_field_stop() -> None:
    image = half_disc(330, 240, 110, 1.2, 2.0)
    jj, ii = np.meshgrid(np.arange(640), np.arange(480))
    stop = cv2.GaussianBlur((np.hypot(jj - 310, ii - 236) < 205).astype(np.float32), (0, 0), 2.0)
    circles = find_circles(image + 0.02 * stop)
    assert circles[0].radius == pytest.approx(110, rel=0.03)


def test_cut_disc_still_has_its_limb() -> None:
    image = half_disc(40.0, 240.0, 150.4, 1.2, 0.3)  # the dark side hangs out of the frame
    limb = found(image, Circle(x=44.0, y=238.0, radius=152.0, support_deg=0, step=0))
    assert np.hypot(limb.x - 40, limb.y - 240) < 0.3
    assert limb.radius_px == pytest.approx(150.4, abs=0.3)


def test_nothing_to_fit() -> None:
    rng = np.random.default_rng(6)
    assert find_circles(np.zeros((200, 300), np.float32)) == ()
    blank = fit_limb(np.full((200, 300), 0.3, np.float32), Circle(x=150, y=100, radius=60, support_deg=0, step=0))
    assert isinstance(blank, NotFound)
    assert blank.reason
    assert blank.advice
    noise = rng.normal(0.2, 0.05, (240, 320)).astype(np.float32)
    for circle in find_circles(noise):
        limb = fit_limb(noise, circle)
        # whatever circle noise suggests, hardly any of it is an edge
        assert not limb or limb.arc_deg < 60


def test_no_warnings_on_a_circle_outside_the_frame() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert not fit_limb(
            np.zeros((100, 100), np.float32), Circle(x=900.0, y=900.0, radius=50.0, support_deg=0, step=0)
        )
