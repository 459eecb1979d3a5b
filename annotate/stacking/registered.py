"""A night's pictures in one frame of the Moon, in linear light, under one Sun and with one exposure and tone.

Member ... -> common frame -> linear light -> times (light at the common time over light at its own) -> tone matched
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from moondesk.comparison.common_frame import Framed, common_pose, into_frame
from moondesk.moon.relight import DiscModel, disc_model, light
from moondesk.records import ByteArray, Float32Array, FloatArray, Pose

#: Share of a pixel's full light from which it is burnt out; predicted light (share of the brightest) below which a
#: ratio of two skies is not believed, and the most that the Sun's motion may change a place.
BURNT, LEAST_LIGHT, MOST_RATIO = 0.94, 0.04, 1.6
#: Blur at which exposures and tones are compared, pixels of the frame.
TONE_PX = 6.0
#: Width of the finest band, pixels, and what it has of white noise's deviation: the root of 1 - 2 G(0) + the sum of G^2
#: for a Gaussian G of that width (0.357 and 0.187 at 0.7, summed over pixels).
FINEST, FINEST_LEFT = 0.7, 0.69


@dataclass(frozen=True, eq=False)
class StackMember:
    """One picture. id: the caller's; rgb: (H, W, 3) uint8 as displayed; pose: in its pixels; blur_km: full width at
    half maximum of its blur on the Moon."""

    id: int
    rgb: ByteArray
    pose: Pose
    blur_km: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Registered:
    """Of K members in an (N, N) frame: light, linear and matched to the middle one's; usable: where it may count.
    burnt: share of the disc that is burnt out. lit: (N, N), where the common light is bright enough to compare."""

    pose: Pose
    light: list[Float32Array]
    usable: list[NDArray[np.bool_]]
    burnt: list[float]
    lit: NDArray[np.bool_]
    #: Of each: the deviation of white noise, a frame pixel each, that is as strong at low frequencies.
    noise: FloatArray


def register(members: Sequence[StackMember], size_px: int) -> Registered:
    """ValueError for no member, or an even or small size."""
    if not members or size_px % 2 == 0 or size_px < 101:
        raise ValueError(f"a composite wants members and an odd size from 101 px, not {len(members)} and {size_px}")
    framed = [Framed(m.pose, m.rgb.shape[1], m.rgb.shape[0]) for m in members]
    pose = common_pose(framed, size_px, shared_part=False)
    order = np.argsort([m.pose.sub_solar_lon_deg for m in members])
    middle = members[int(order[len(order) // 2])].pose
    pose = replace(pose, sub_solar_lat_deg=middle.sub_solar_lat_deg, sub_solar_lon_deg=middle.sub_solar_lon_deg)
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, pose.radius_px, pose.distance_radii)
    common = _predict_light(model, pose, size_px)
    lit = cv2.GaussianBlur(common, (0, 0), 2.0) > LEAST_LIGHT * float(np.percentile(common[common > 0], 99))
    ys, xs = np.mgrid[0:size_px, 0:size_px]
    distance = np.hypot(xs - pose.x, ys - pose.y) / pose.radius_px
    sky = distance > 0.985
    found, usable, burnt, noise = [], [], [], []
    for member, one in zip(members, framed, strict=True):
        shown = into_frame(member.rgb, one, pose, size_px)
        grey = cv2.cvtColor(shown.rgb, cv2.COLOR_RGB2GRAY).astype(np.float32) / 255.0
        linear = _linear(grey)
        white = cv2.dilate((linear > BURNT).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
        burnt.append(float((white & shown.covered & lit).sum() / max((shown.covered & lit).sum(), 1)))
        own = _predict_light(model, member.pose, size_px)
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where((own > 0) & (common > 0), common / own, 0.0)
        believed = (ratio > 1 / MOST_RATIO) & (ratio < MOST_RATIO)
        deviation, background = _measure_noise(member)
        bare = linear - np.float32(background) * np.clip(1.0 - (distance - 1.005) / 0.045, 0, 1).astype(np.float32)
        found.append((bare * np.where(believed, ratio, 1.0)).astype(np.float32))
        # dark under both Suns is as good as lit under both; the sky beside the disc makes the limb's edge
        both_dark = (own <= 0) & (common <= 0)
        usable.append((shown.covered | (sky & shown.framed)) & ~white & (believed | both_dark | sky))
        noise.append(deviation * pose.radius_px / member.pose.radius_px)
    matched, gains = _match_exposures(found, usable, lit)
    return Registered(pose=pose, light=matched, usable=usable, burnt=burnt, lit=lit, noise=np.array(noise) * gains)


def _linear(shown: Float32Array) -> Float32Array:
    """Display values 0..1 to linear light (IEC 61966-2-1)."""
    return np.asarray(np.where(shown <= 0.04045, shown / 12.92, ((shown + 0.055) / 1.055) ** 2.4), np.float32)


def _measure_noise(member: StackMember) -> tuple[float, float]:
    """One standard deviation of a pixel's noise, from the finest band on the sunlit disc (there terrain has few strong
    edges), and the sky's light well off the disc; linear."""
    grey = cv2.cvtColor(member.rgb, cv2.COLOR_RGB2GRAY).astype(np.float32) / 255.0
    linear = _linear(grey)
    height, width = grey.shape
    ys, xs = np.mgrid[0:height:2, 0:width:2]
    distance = np.hypot(xs - member.pose.x, ys - member.pose.y) / member.pose.radius_px
    some = linear[::2, ::2]
    lit = (distance < 0.95) & (some > 0.15 * float(np.percentile(linear, 99)))
    fine = (linear - cv2.GaussianBlur(linear, (0, 0), FINEST))[::2, ::2][lit]
    noise = max(1.4826 * float(np.median(np.abs(fine))) / FINEST_LEFT, 1e-4) if len(fine) > 500 else 1.0
    far = some[(distance > 1.15) & (distance < 1.6)]
    return noise, float(np.median(far)) if len(far) > 200 else 0.0


def _predict_light(model: DiscModel, pose: Pose, size_px: int) -> Float32Array:
    """The disc's light as that pose's Sun makes it, in the frame."""
    disc = light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    out = np.zeros((size_px, size_px), np.float32)
    middle, centre = size_px // 2, model.centre
    half = min(middle, centre)
    out[middle - half : middle + half + 1, middle - half : middle + half + 1] = disc[
        centre - half : centre + half + 1, centre - half : centre + half + 1
    ]
    return out


def _match_exposures(
    lights: list[Float32Array], usable: list[NDArray[np.bool_]], lit: NDArray[np.bool_]
) -> tuple[list[Float32Array], FloatArray]:
    """Exposure and tone curve of each brought to the median's: a cubic in the light, fitted at a common softness.
    With the gain of each at its middle light."""
    soft = [cv2.GaussianBlur(one, (0, 0), TONE_PX) for one in lights]
    level = [float(np.median(s[u & lit])) if (u & lit).any() else 1.0 for s, u in zip(soft, usable, strict=True)]
    scaled = [one / max(k, 1e-6) for one, k in zip(soft, level, strict=True)]
    reference = np.median(np.stack(scaled), axis=0)
    out, gains = [], []
    for one, smooth, mask, k in zip(lights, scaled, usable, level, strict=True):
        where = mask & lit
        if where.sum() < 200:
            out.append((one / max(k, 1e-6)).astype(np.float32))
            gains.append(1 / max(k, 1e-6))
            continue
        x, y = smooth[where][::7], reference[where][::7]
        terms = _robust(np.stack([x, x**2, x**3], axis=1), y)
        v = one / max(k, 1e-6)
        top = float(np.percentile(x, 99.5)) * 1.3  # the cubic is not followed beyond what it was fitted to
        w = np.clip(v, 0, top)
        out.append((terms[0] * w + terms[1] * w**2 + terms[2] * w**3 + (v - w)).astype(np.float32))
        gains.append(float(terms[0] + 2 * terms[1] + 3 * terms[2]) / max(k, 1e-6))
    return out, np.abs(np.array(gains))


def _robust(design: FloatArray, y: FloatArray) -> FloatArray:
    """Least squares, twice, the second time without what lies far off."""
    keep = np.ones(len(y), bool)
    terms = np.array([1.0, 0.0, 0.0])
    for _ in range(3):
        terms = np.linalg.lstsq(design[keep], y[keep], rcond=None)[0]
        off = np.abs(design @ terms - y)
        keep = off < 3 * max(float(np.median(off)), 1e-4)
    return np.asarray(terms)
