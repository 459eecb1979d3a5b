"""Features that nobody can point at in this picture: outside the eyepiece's field, or where it is black.

Whether a feature can be made out is measured against its own surroundings (`seen`), and grain in the dark may agree
with it by chance. So the level counts too: where the Moon should be bright and the picture is not, something stands
before it.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from moondesk.moon.geometry import disc_axes, disc_to_pixel, in_field, project, unit_vector
from moondesk.records import MOON_RADIUS_KM, FeatureMark, FieldStop, Float32Array, Pose
from moondesk.visibility.discernible import extents, predict

#: Only what is made out so well is asked whether it stands in the dark.
LEAST_SEEN = 0.05
#: Points of a feature's extent that are looked at: its middle and two rings, up to 0.65 of its radius.
POINTS = 17
#: Black: less than this share of the display level that the other features of the picture have against the prediction.
#: Only where that is at least the second share of what bright features are predicted.
BLACK, BRIGHT = 0.3, 0.3
#: A feature of this size may be named on a part of it, with its middle hidden.
LARGE_KM = 150.0
#: Less than this share of it inside the field is the less of it to be seen.
ENOUGH = 0.3


def without_hidden(
    marks: tuple[FeatureMark, ...], pose: Pose, luminance: Float32Array, field: FieldStop | None
) -> tuple[FeatureMark, ...]:
    """The marks, those that are hidden not seen. pose, field: in the pixels of luminance (H, W), linear light."""
    index = [k for k, mark in enumerate(marks) if mark.seen > (LEAST_SEEN if field is None else 0.0)]
    if not index:
        return marks
    features = [marks[k].feature for k in index]
    surface = unit_vector([f.lat_deg for f in features], [f.lon_deg for f in features])
    radius = np.array([f.size_km / 2 / MOON_RADIUS_KM for f in features])
    points = extents(surface, radius)[:, :POINTS]
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    disc = project(np.asarray(points, np.float64), axes, pose.distance_radii)
    x, y = (c.astype(np.float32) for c in disc_to_pixel(pose, disc.u, disc.v))
    height, width = luminance.shape
    inside = (x >= 0) & (y >= 0) & (x <= width - 1) & (y <= height - 1) & (disc.mu > 0)
    if field is not None:
        inside &= in_field(field, x, y)
    share = inside.mean(axis=1)
    shown = np.sqrt(np.maximum(cv2.remap(luminance, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), 0))
    count = np.maximum(inside.sum(axis=1), 1)
    level = (shown * inside).sum(axis=1) / count
    wanted = (np.sqrt(predict(points, axes, pose)) * inside).sum(axis=1) / count
    bright = wanted > BRIGHT * np.percentile(wanted, 80)
    ratio = level / np.maximum(wanted, 1e-6)
    usual = float(np.percentile(ratio[bright], 75)) if bright.any() else 0.0
    left = np.clip(share / ENOUGH, 0.0, 1.0) * ~(bright & (ratio < BLACK * usual))
    large = np.array([f.size_km > LARGE_KM for f in features])
    left *= inside[:, 0] | large
    told = list(marks)
    for k, much in zip(index, left.tolist(), strict=True):
        if much < 1.0:
            told[k] = replace(marks[k], seen=marks[k].seen * much)
    return tuple(told)
