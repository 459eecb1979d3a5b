"""The edge of an eyepiece's field, where a picture shows one: what lies outside it is neither Moon nor sky.

Inside the field the sky glows a little and the Moon shines; outside there is nothing but the camera's own dark. The
border of what is brighter than that dark is taken where it is neither the Moon's limb nor its terminator, and a circle
is put through it by random samples (RANSAC of scikit-image; M. Fischler, R. Bolles, Comm. ACM 24, 1981).
"""

from __future__ import annotations

import warnings

import cv2
import numpy as np

from moondesk.moon.geometry import disc_axes, disc_to_pixel, in_field, lift, pixel_to_disc, unit_vector
from moondesk.placement.limb import taubin
from moondesk.records import FieldStop, Float32Array, FloatArray, Pose

#: Longest side of the picture on which the border is looked for, and its blur, px.
REDUCED_PX, SOFT_PX = 480, 1.5
#: What is brighter than the dark by as many deviations of it, and by this much at least (display values), is not dark.
ABOVE_NOISE, ABOVE = 4.0, 0.012
#: Points of the border this near to the limb (radii) are the limb's; on the disc, those with the Sun lower than this
#: (its sine) are the terminator's.
LIMB_NEAR, TERMINATOR = 0.025, 0.15
#: A point of a circle lies within so many reduced px of it; so large a share of all points does, on so many degrees.
NEAR_PX, AGREE, LEAST_ARC_DEG, LEAST_POINTS = 1.5, 0.6, 50.0, 30
#: Where the circle cuts the disc, so large a share of what should be lit outside it is dark, inside it bright.
CUT_OFF = 0.85
#: A circle that leaves the disc whole and is no further from its edge than this (radii) is the Moon's glow.
GLOW = 0.25
#: The edge of a field is soft: so much of the radius counts as inside.
SOFT_EDGE = 0.98


def find_field(luminance: Float32Array, pose: Pose) -> FieldStop | None:
    """The field in the pixels of a linear-light picture (H, W), of which `pose` is the Moon; None where none shows."""
    height, width = luminance.shape
    scale = min(1.0, REDUCED_PX / max(height, width))
    size = (max(round(width * scale), 16), max(round(height * scale), 16))
    small = np.sqrt(np.maximum(cv2.resize(luminance, size, interpolation=cv2.INTER_AREA), 0.0))
    soft = np.asarray(cv2.GaussianBlur(small, (0, 0), SOFT_PX), np.float32)
    lightened = _not_dark(soft)
    if lightened is None:
        return None
    step = np.array([width / size[0], height / size[1]])
    border = _border(lightened)
    points = (border + 0.5) * step - 0.5
    points = points[_foreign(points, pose)]
    if len(points) < LEAST_POINTS or _glow(points, pose):
        return None
    from skimage.measure import CircleModel, ransac  # half a second of imports, and few pictures show a field

    near = NEAR_PX * float(step.mean())
    with warnings.catch_warnings():  # three points in line have no circle; another sample is drawn
        warnings.simplefilter("ignore")
        _, inliers = ransac(  # type: ignore[no-untyped-call]
            points, CircleModel, min_samples=3, residual_threshold=near, max_trials=150, rng=0
        )
    circle = None if inliers is None or inliers.mean() < AGREE else taubin(points[inliers])
    if circle is None:
        return None
    x, y, radius = circle.tolist()
    turn = np.degrees(np.arctan2(points[inliers, 1] - y, points[inliers, 0] - x)) % 360
    if len(np.unique(turn.astype(int) // 2)) * 2 < LEAST_ARC_DEG:
        return None
    if not _is_field(FieldStop(x, y, radius), soft, lightened, step, pose):
        return None
    x, y, radius = _half_way(luminance, x, y, radius)
    return FieldStop(x, y, SOFT_EDGE * radius)


def _half_way(luminance: Float32Array, x: float, y: float, radius: float) -> tuple[float, float, float]:
    """The circle where the light falls to half between inside and outside, not where the dark ends."""
    turn = np.arange(240) * (2 * np.pi / 240)
    reach = radius * np.linspace(0.9, 1.08, 73)
    px, py = x + np.outer(np.cos(turn), reach), y + np.outer(np.sin(turn), reach)
    height, width = luminance.shape
    rays = ((px > 0) & (py > 0) & (px < width - 1) & (py < height - 1)).all(axis=1)
    if rays.sum() < LEAST_POINTS:
        return x, y, radius
    light = cv2.remap(luminance, px[rays].astype(np.float32), py[rays].astype(np.float32), cv2.INTER_LINEAR)
    inner, outer = light[:, :15].mean(axis=1), light[:, -10:].mean(axis=1)
    above = light > ((inner + outer) / 2)[:, None]
    last = light.shape[1] - 1 - np.argmax(above[:, ::-1], axis=1)
    # a clear step, and inside as even as outside is dark: not where the Moon's limb crosses
    clear = (inner > 2 * outer + 1e-4) & (light[:, :15].std(axis=1) < 0.3 * inner) & above.any(axis=1)
    at = np.column_stack([px[rays][np.arange(len(last)), last], py[rays][np.arange(len(last)), last]])[clear]
    if len(at) < LEAST_POINTS:
        return x, y, radius
    found = np.array([x, y, radius])
    for _ in range(2):
        circle = taubin(at)
        if circle is None or abs(circle[2] / radius - 1) > 0.1:
            return x, y, radius
        found = circle
        off = np.abs(np.hypot(at[:, 0] - circle[0], at[:, 1] - circle[1]) - circle[2])
        at = at[off <= max(3 * float(np.median(off)), 1.0)]
    return float(found[0]), float(found[1]), float(found[2])


def hides(field: FieldStop, pose: Pose, points: int = 400) -> bool:
    """Some of the disc's lit part lies outside the field."""
    number = np.arange(points) + 0.5
    radius, turn = np.sqrt(number / points), np.pi * (1 + 5**0.5) * number
    u, v = radius * np.cos(turn), radius * np.sin(turn)
    return bool((~in_field(field, *disc_to_pixel(pose, u, v)) & (_sun(pose, u, v) > 0)).any())


def _not_dark(soft: Float32Array) -> np.ndarray | None:
    """(H, W) bool: brighter than the dark outside, which shows in a corner; None where no corner is dark."""
    height, width = soft.shape
    side = max(min(height, width) // 16, 4)
    corners = [
        soft[a, b]
        for a in (slice(0, side), slice(height - side, None))
        for b in (slice(0, side), slice(width - side, None))
    ]
    dark = min(corners, key=lambda c: float(np.median(c)))
    level, noise = float(np.median(dark)), float(np.median(np.abs(dark - np.median(dark)))) * 1.48
    if level > 0.35:
        return None
    return soft > level + max(ABOVE_NOISE * noise, ABOVE)


def _border(lightened: np.ndarray) -> FloatArray:
    """(N, 2) points x, y on the outlines of the larger bright parts, off the frame's own border."""
    height, width = lightened.shape
    found, _ = cv2.findContours(lightened.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    large = [c.reshape(-1, 2) for c in found if len(c) > 0.15 * min(height, width)]
    if not large:
        return np.zeros((0, 2))
    points = np.concatenate(large).astype(float)
    inner = (points > 2).all(axis=1) & (points[:, 0] < width - 3) & (points[:, 1] < height - 3)
    return np.asarray(points[inner])


def _foreign(points: FloatArray, pose: Pose) -> np.ndarray:
    """Which points are neither on the limb nor in the night or at the terminator."""
    u, v = pixel_to_disc(pose, points[:, 0], points[:, 1])
    away = np.hypot(u, v)
    on = away < 1.0
    return np.asarray((np.abs(away - 1.0) > LIMB_NEAR) & ~(on & (_sun(pose, u, v) < TERMINATOR)))


def _glow(points: FloatArray, pose: Pose) -> bool:
    """The border runs round the Moon at an even distance: its own glow, not an edge."""
    away = np.hypot(*pixel_to_disc(pose, points[:, 0], points[:, 1]))
    return bool(np.percentile(away, 80) < 1.0 + GLOW and np.percentile(away, 10) > 1.0)


def _sun(pose: Pose, u: FloatArray, v: FloatArray) -> FloatArray:
    """Sine of the Sun's height at disc points; -1 off the disc."""
    with np.errstate(invalid="ignore"):
        sine = lift(u, v, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii) @ unit_vector(
            pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
        )
    return np.nan_to_num(sine, nan=-1.0)


def _is_field(field: FieldStop, soft: Float32Array, lightened: np.ndarray, step: FloatArray, pose: Pose) -> bool:
    """Outside it is dark all over, the lit Moon too; where the lit Moon reaches the edge from inside it is bright."""
    height, width = soft.shape
    xs, ys = np.meshgrid((np.arange(width) + 0.5) * step[0] - 0.5, (np.arange(height) + 0.5) * step[1] - 0.5)
    away = np.hypot(xs - field.x, ys - field.y) / field.radius_px
    outside = away > 1.03
    if outside.mean() < 0.02 or lightened[outside].mean() > 1.0 - CUT_OFF:
        return False
    u, v = pixel_to_disc(pose, xs, ys)
    lit = (np.hypot(u, v) < 0.97) & (_sun(pose, u, v) > 2 * TERMINATOR)
    cut, kept = lit & outside, lit & (away < 0.97)
    if not kept.any() or lightened[kept].mean() < CUT_OFF:
        return False
    if cut.sum() < 0.01 * lit.sum():
        # a circle about the whole disc hides nothing; close to it, it is the Moon's glow or its own edge
        return bool(
            np.hypot(field.x - pose.x, field.y - pose.y) + abs(field.radius_px - pose.radius_px) > GLOW * pose.radius_px
        )
    return float(lightened[cut].mean()) < 1.0 - CUT_OFF
