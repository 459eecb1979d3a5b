"""The light between two photographs: one Moon under a Sun that moves from the first one's place to the second's.

Each picture is relit by the ratio of the predicted light (`moon.relight`) under the moving Sun to that under its own,
and counts as far as the ground was in its light and its own evening is near. So one terminator moves, where a fade would
show two that stand. Ground that neither has in the light, in long gaps, is the predicted Moon at their tone. At both
ends stands the photograph itself: what the prediction leaves of it goes and comes within the first and last steps.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.comparison.common_frame import into_frame
from moondesk.comparison.levels import TO_LINEAR, to_display
from moondesk.ephemeris.evenings import SUN_DEG_HOUR
from moondesk.moon.relight import DiscModel, disc_model, light
from moondesk.records import ByteArray, Float32Array, Pose
from moondesk.stacking.month import DatedFrame, framed_of, levelled, pose_of_all

#: Predicted light, shares of the brightest, between which a picture's ground begins to count; the most that its light
#: is raised; what the predicted Moon itself counts beside pictures.
FROM, FULL, MOST_RATIO, MODEL = 0.03, 0.18, 3.0, 0.004
#: Blur of the predicted light, pixels: pictures are softer than the maps.
SOFT_PX = 1.2
#: How soon what is a picture's alone goes: a power of the share of the way.
HOLD = 2.5


@dataclass(frozen=True, eq=False)
class LightStep:
    """One state of the Moon. moon: (N, N, 3) uint8; first: index of the picture it is, or that it comes from; share: 0
    for the picture itself, else how much of the way to the next is done."""

    moon: ByteArray
    first: int
    share: float


@dataclass(frozen=True, eq=False)
class _Lit:
    """A picture in the frame: linear light, the predicted light under its Sun, and how far its ground counts."""

    linear: Float32Array
    predicted: Float32Array
    counts: Float32Array
    sun: tuple[float, float]


def moving_light(pictures: Sequence[DatedFrame], size_px: int, steps_a_day: int) -> Iterator[LightStep]:
    """The pictures in the order of their days, and the light between each two."""
    pose = pose_of_all(pictures, size_px)
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, pose.radius_px, pose.distance_radii)
    before: _Lit | None = None
    for k, picture in enumerate(pictures):
        shown = into_frame(levelled(picture), framed_of(picture), pose, size_px)
        rgb = shown.rgb.copy()
        rgb[~shown.framed] = 0  # beyond the picture's edge the Moon is dark here, not marked
        now = _lit_of(model, pose, rgb, shown.covered, picture.pose)
        if before is not None:
            days = picture.day - pictures[k - 1].day
            yield from _between(model, pose, before, now, days, k - 1, max(2, days * steps_a_day))
        yield LightStep(rgb, k, 0.0)
        before = now


def _between(
    model: DiscModel, pose: Pose, before: _Lit, after: _Lit, days: int, first: int, steps: int
) -> Iterator[LightStep]:
    (lat0, lon0), (lat1, lon1) = before.sun, after.sun
    expected = SUN_DEG_HOUR * 24 * days  # westwards; which turn it is the days tell
    way = expected + ((lon0 - lon1 - expected + 180) % 360 - 180)
    tone = _tone(before, after)

    def blend(share: float) -> Float32Array:
        predicted = _predict(model, pose, (lat0 + share * (lat1 - lat0), lon0 - share * way), before.linear.shape[0])
        total: Float32Array = np.asarray((tone * MODEL * predicted)[..., None], np.float32)
        mass: Float32Array = np.full(predicted.shape, MODEL, np.float32)
        for one, weight in ((before, 1 - share), (after, share)):
            counts = np.float32(weight) * one.counts
            ratio = np.minimum(predicted / np.maximum(one.predicted, 1e-4), MOST_RATIO)
            total = total + (counts * ratio)[..., None] * one.linear
            mass = mass + counts
        return np.asarray(total / mass[..., None], np.float32)

    left, came = before.linear - blend(0.0), after.linear - blend(1.0)
    for k in range(1, steps + 1):
        share = k / (steps + 1)
        eased = share * share * (3 - 2 * share)
        moon = blend(eased) + np.float32((1 - eased) ** HOLD) * left + np.float32(eased**HOLD) * came
        yield LightStep(to_display(moon), first, share)


def _lit_of(model: DiscModel, pose: Pose, rgb: ByteArray, covered: np.ndarray, own: Pose) -> _Lit:
    sun = (own.sub_solar_lat_deg, own.sub_solar_lon_deg)
    predicted = _predict(model, pose, sun, rgb.shape[0])
    white = float(np.percentile(predicted[predicted > 0], 99)) if (predicted > 0).any() else 1.0
    rise = np.clip((predicted / white - FROM) / (FULL - FROM), 0.0, 1.0)
    counts = rise * rise * (3 - 2 * rise) * cv2.blur(covered.astype(np.float32), (5, 5))
    return _Lit(TO_LINEAR[rgb], predicted, counts.astype(np.float32), sun)


def _predict(model: DiscModel, pose: Pose, sun: tuple[float, float], size_px: int) -> Float32Array:
    """The light of the disc in the frame, whose middle the model's may miss by half a pixel."""
    disc = light(model, *sun)
    shift = np.array([[1.0, 0.0, pose.x - model.centre], [0.0, 1.0, pose.y - model.centre]])
    placed = cv2.warpAffine(disc, shift, (size_px, size_px), flags=cv2.INTER_LINEAR)
    return np.asarray(cv2.GaussianBlur(placed, (0, 0), SOFT_PX), np.float32)


def _tone(before: _Lit, after: _Lit) -> float:
    """Light of the pictures by the predicted, in the middle of what they show."""
    shares = [
        float(np.median(one.linear[..., 1][lit] / one.predicted[lit]))
        for one in (before, after)
        for lit in [one.counts > 0.9]
        if lit.sum() > 100
    ]
    return float(np.mean(shares)) if shares else 1.0
