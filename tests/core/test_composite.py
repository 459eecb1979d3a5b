"""The composite on drawn pictures of one Moon: the noise falls, strangers are left out and named, few are declined.

Accuracy on rendered nights is the bench's (tests/benchmarks/composite.py).
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from moondesk.moon.relight import disc_model, light
from moondesk.records import MOON_RADIUS_KM, NotFound, Pose
from moondesk.stacking.composite import Composite, composite, stack
from moondesk.stacking.registered import StackMember, register
from moondesk.stacking.weights import RINGS, weigh

RADIUS = 150.0
POSE = Pose(
    x=200.0,
    y=190.0,
    radius_px=RADIUS,
    north_screen_deg=0.0,
    mirrored=False,
    libration_lat_deg=3.0,
    libration_lon_deg=-2.0,
    sub_solar_lat_deg=1.0,
    sub_solar_lon_deg=60.0,
)
FWHM = 2.3548


def shown(linear: np.ndarray) -> np.ndarray:
    v = np.clip(linear, 0, 1)
    grey = np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 1e-9) ** (1 / 2.4) - 0.055)
    return np.repeat(np.rint(255 * grey).astype(np.uint8)[..., None], 3, axis=2)


def moon(blur_px: float) -> np.ndarray:
    """(400, 400) linear, at POSE."""
    model = disc_model(3.0, -2.0, RADIUS)
    disc = light(model, 1.0, 60.0)
    image = np.full((400, 400), 0.003, np.float32)
    c = model.centre
    image[190 - c : 190 + c + 1, 200 - c : 200 + c + 1] += 0.6 * disc / np.percentile(disc, 99)
    return cv2.GaussianBlur(image, (0, 0), blur_px)


def member(number: int, blur_px: float, sigma: float, mirrored: bool = False, turn: int = 0) -> StackMember:
    noisy = moon(blur_px) + np.random.default_rng(number).normal(0, sigma, (400, 400)).astype(np.float32)
    rgb, x, y, north = shown(noisy), 200.0, 190.0, 0.0
    if mirrored:
        rgb, x = rgb[:, ::-1], 399 - x
    for _ in range(turn):  # by quarters, counter-clockwise
        rgb, x, y, north = np.rot90(rgb), y, 399 - x, (north + 90) % 360
    pose = replace(POSE, x=x, y=y, north_screen_deg=north, mirrored=mirrored)
    return StackMember(number, np.ascontiguousarray(rgb), pose, FWHM * blur_px * MOON_RADIUS_KM / RADIUS)


def night(count: int = 8) -> list[StackMember]:
    return [member(k, 1.1 + 0.15 * k, 0.02, k % 3 == 1, k % 4) for k in range(count)]


@pytest.fixture(scope="module")
def stacked() -> Composite:
    found = composite(night(), 401)
    assert isinstance(found, Composite)
    return found


def rough(noisy: np.ndarray, clean: np.ndarray, pose: Pose) -> float:
    """Deviation that the noise makes at a blur of two pixels, well inside the lit part."""
    ys, xs = np.mgrid[0:401, 0:401]
    inside = np.hypot(xs - pose.x - 0.45 * pose.radius_px, ys - pose.y) < 0.35 * pose.radius_px
    off = cv2.GaussianBlur(noisy - clean, (0, 0), 1.5)
    return float((off - cv2.GaussianBlur(off, (0, 0), 8.0))[inside].std())


def test_turned_and_mirrored_pictures_lie_on_each_other_and_the_noise_falls(stacked):
    """Eight pictures of equal noise and blur: at best the root of eight, 2.8, and a little less for what is lifted."""
    assert stacked.used == tuple(range(8))
    assert not stacked.rejected
    assert stacked.gain.times > 1.6
    assert stacked.gain.blur_km == pytest.approx(FWHM * 1.1 * MOON_RADIUS_KM / RADIUS)
    noisy, clean = (
        register([member(k, 1.3, sigma, k % 3 == 1, k % 4) for k in range(8)], 401) for sigma in (0.02, 0.0)
    )
    blur = np.full(8, 1.3 * noisy.pose.radius_px / RADIUS)
    single = np.median([rough(a, b, noisy.pose) for a, b in zip(noisy.light, clean.light, strict=True)])
    shares = weigh(noisy, blur)
    assert single > 2.3 * rough(stack(noisy, shares), stack(clean, shares), noisy.pose)


def test_the_moon_in_it_is_the_predicted_one(stacked):
    model = disc_model(stacked.pose.libration_lat_deg, stacked.pose.libration_lon_deg, stacked.pose.radius_px)
    disc = cv2.GaussianBlur(light(model, 1.0, 60.0), (0, 0), 1.5)
    c, half = model.centre, 180
    mine = stacked.linear[200 - half : 201 + half, 200 - half : 201 + half]
    real = disc[c - half : c + half + 1, c - half : c + half + 1]
    lit = real > 0.1 * real.max()
    assert np.corrcoef(mine[lit], real[lit])[0, 1] > 0.97


def test_strangers_are_left_out_and_named():
    astray = member(100, 1.2, 0.02)
    astray = replace(astray, pose=replace(astray.pose, x=astray.pose.x + 25))
    white = replace(member(101, 1.2, 0.02), rgb=shown(3.5 * moon(1.2)))
    soft = member(102, 9.0, 0.002)
    found = composite([*night(6), astray, white, soft], 401)
    assert isinstance(found, Composite)
    assert found.used == tuple(range(6))
    why = dict(found.rejected)
    assert "does not agree" in why[100]
    assert "burnt out" in why[101]
    assert set(why) == {100, 101, 102}


def test_the_pictures_tell_their_blur_and_noise_themselves():
    """Blurs and noises of the drawing; the transfer of a Gaussian blur by its own formula (Fourier transform of a
    Gaussian). The blurs that are stated are wrong by a third, and do not lead astray."""
    blurs = (1.1, 1.4, 1.7, 2.0, 2.3)
    members = [member(k, b, 0.01) for k, b in enumerate(blurs)]
    together = register(members, 401)
    scale = together.pose.radius_px / RADIUS
    shares = weigh(together, np.full(5, 1.6 * scale))
    assert shares.best == 0
    at = int(np.argmin(np.abs(RINGS - 0.1)))
    told = shares.of[:, at] * shares.noise[:, at] ** 2
    drawn = np.exp(-2 * np.pi**2 * (np.array(blurs) * scale * RINGS[at]) ** 2)
    np.testing.assert_allclose(told / told[0], drawn / drawn[0], atol=0.08)
    assert np.ptp(shares.noise[:, at]) < 0.4 * shares.noise[:, at].mean()


def test_pictures_that_share_no_ground_are_weighed_by_their_stated_blurs():
    together = register(night(4), 401)
    halves = [np.zeros_like(u) for u in together.usable]
    shares = weigh(replace(together, usable=halves), np.array([1.0, 1.5, 2.0, 2.5]))
    assert shares.best == 0
    assert np.isfinite(shares.of).all()
    assert (np.diff(shares.of[:, 20]) < 0).all()  # the softer, the less it has to say of fine detail


def test_no_rim_is_left_where_one_libration_sees_less_than_another():
    discs = []
    for k, (lat, lon) in enumerate(((5.0, -4.0), (4.0, -5.0), (-3.0, 4.0), (-4.0, 5.0))):
        model = disc_model(lat, lon, RADIUS)
        image = np.full((400, 400), 0.003, np.float32)
        disc, c = light(model, 0.0, 55.0), model.centre
        image[190 - c : 190 + c + 1, 200 - c : 200 + c + 1] += 0.6 * disc / np.percentile(disc, 99)
        noise = np.random.default_rng(k).normal(0, 0.004, (400, 400)).astype(np.float32)
        pose = Pose(
            x=200.0,
            y=190.0,
            radius_px=RADIUS,
            north_screen_deg=0.0,
            mirrored=False,
            libration_lat_deg=lat,
            libration_lon_deg=lon,
            sub_solar_lat_deg=0.0,
            sub_solar_lon_deg=55.0,
        )
        discs.append(StackMember(k, shown(cv2.GaussianBlur(image, (0, 0), 1.0) + noise), pose, 30.0))
    found = composite(discs, 401)
    assert isinstance(found, Composite)
    angle = np.radians(np.arange(0, 360, 0.5))
    rim = np.array(
        [
            found.rgb[
                np.rint(found.pose.y - r * found.pose.radius_px * np.sin(angle)).astype(int),
                np.rint(found.pose.x + r * found.pose.radius_px * np.cos(angle)).astype(int),
                0,
            ]
            for r in (0.99, 0.995, 0.998, 0.9995)
        ]
    )
    sunward = np.abs(angle - np.where(angle > np.pi, 2 * np.pi, 0)) < np.radians(60)
    night = np.abs(angle - np.pi) < np.radians(50)
    assert rim[:, sunward].min() > 60  # no black pixel on the bright side
    assert rim[:, night].max() < 45  # and no lighter one on the dark


def test_two_are_too_few():
    found = composite(night(2), 401)
    assert isinstance(found, NotFound)
    assert "2 pictures" in found.reason


def test_a_wrong_size_is_a_wrong_call():
    with pytest.raises(ValueError, match="odd size"):
        composite(night(3), 400)
