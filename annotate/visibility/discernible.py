"""Can a feature be made out in this very picture? Measured over its own extent, stated as a probability.

At 43 points in and just around each feature the picture is compared with what the light there predicts, both freed of
their mean and slope. What counts: the contrast left, against what the eye wants on a screen (1 % of the range, common
practice) and against the noise; the contrast that the prediction promises; size over blur; and that both agree at all.

The weights are a logistic regression on rendered scenes. There the truth is known: the pattern of the sharp, noiseless
feature must keep 1 % of contrast in the noiseless picture, and over all its pixels five times the picture's noise
(A. Rose, "The sensitivity performance of the human eye on an absolute scale", J. Opt. Soc. Am. 38, 1948).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.moon.geometry import disc_axes, disc_to_pixel, project
from moondesk.moon.maps import maps, sample
from moondesk.moon.relight import DiscModel, light
from moondesk.records import Float32Array, FloatArray, Pose

#: Contrast that the eye wants, display values (0..1), and the share of a pixel's noise that counts beside it (fitted).
EYE, NOISE_SHARE = 0.01, 0.3
#: Least noise: that of 8 bits, 1/255 over the root of 12.
QUANTUM = 0.0011
#: Of the logarithms of contrast over its threshold, expected contrast over EYE and size over blur; constant. More of
#: anything is never seen less.
WEIGHTS = (5.2, 0.4, 1.0, -1.2)
#: Below this correlation with the prediction what shows there may not be the feature.
AGREEING = 0.3

#: Rings of points over a feature, in units of its radius, and how many on each; those up to its rim come first.
_RINGS = ((0.0, 1), (0.35, 6), (0.65, 10), (0.92, 14), (1.25, 12))
#: The points up to the rim.
WITHIN = 31


def _offsets() -> FloatArray:
    turns = [(r, 2 * np.pi * k / n) for r, n in _RINGS for k in range(n)]
    return np.array([(r * np.cos(t), r * np.sin(t)) for r, t in turns])


_OFFSETS = _offsets()
#: Mean and slope of values at the points, as an orthonormal basis (points, 3).
_PLANE = np.linalg.qr(np.column_stack([np.ones(len(_OFFSETS)), _OFFSETS]))[0].astype(np.float32)


def extents(surface: FloatArray, radius_rad: FloatArray) -> Float32Array:
    """(N, 43, 3) unit vectors over the circles of angular radius `radius_rad` about surface vectors (N, 3)."""
    east = np.column_stack([-surface[:, 1], surface[:, 0], np.zeros(len(surface))])
    east /= np.maximum(np.linalg.norm(east, axis=1, keepdims=True), 1e-9)
    north = np.cross(surface, east)
    reach = np.minimum(radius_rad, 1.0)[:, None] * np.float32(1.0)
    a, b = (reach * _OFFSETS[:, k] for k in (0, 1))
    scale = 1.0 / np.sqrt(1.0 + a * a + b * b)
    return np.stack([((surface[:, k, None] + a * east[:, k, None] + b * north[:, k, None]) * scale).astype(np.float32)
                     for k in range(3)], axis=-1)  # fmt: skip


@dataclass(frozen=True, eq=False, kw_only=True)
class ContrastMeasure:
    """Of N features, in display values (0..1, root of linear light): contrast, the deviation in and about each with its
    mean, its slope and the noise taken off; expected, what the prediction makes of it; agreement: correlation of both,
    -1..1; framed: share of the points inside the picture. noise: one standard deviation of a pixel."""

    contrast: FloatArray
    expected: FloatArray
    agreement: FloatArray
    framed: FloatArray
    noise: float


def measure(luminance: Float32Array, pose: Pose, points: Float32Array) -> ContrastMeasure:
    """points: (N, 43, 3) of `extents`; pose: in the pixels of the linear-light picture (H, W)."""
    height, width = luminance.shape
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    disc = project(np.asarray(points, np.float64), axes, pose.distance_radii)
    x, y = (c.astype(np.float32) for c in disc_to_pixel(pose, disc.u, disc.v))
    shown = np.sqrt(np.maximum(cv2.remap(luminance, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), 0))
    predicted = np.sqrt(predict(points, axes, pose))
    inside = ((x >= 0) & (y >= 0) & (x <= width - 1) & (y <= height - 1)).astype(np.float32)
    framed = inside.mean(axis=1)
    if framed.min() < 1:  # points outside the picture stand at the mean of the others, and so say nothing
        count = np.maximum(inside.sum(axis=1, keepdims=True), 1)
        shown, predicted = (
            inside * v + (1 - inside) * ((inside * v).sum(axis=1, keepdims=True) / count) for v in (shown, predicted)
        )
    shown, predicted = (v - (v @ _PLANE) @ _PLANE.T for v in (shown, predicted))
    both, mine, theirs = (
        np.einsum("nk,nk->n", p, q).astype(float) / len(_OFFSETS)
        for p, q in ((shown, predicted), (shown, shown), (predicted, predicted))
    )
    gain = max(float(np.median(both / np.maximum(theirs, 1e-9))), 0.0) if len(both) else 0.0
    noise = noise_of(luminance, x, y)
    # in noise the part that follows the prediction still stands out where the whole does not
    follows = np.maximum(both, 0.0) ** 2 / np.maximum(theirs, 1e-9)
    return ContrastMeasure(
        contrast=np.sqrt(np.maximum(mine - noise**2, follows)),
        expected=gain * np.sqrt(theirs),
        agreement=both / np.sqrt(np.maximum(mine * theirs, 1e-18)),
        framed=framed,
        noise=noise,
    )


def predict(points: Float32Array, axes: FloatArray, pose: Pose) -> Float32Array:
    """(N, K) relative radiance at unit vectors (N, K, 3), in the light of the pose."""
    lat = np.degrees(np.arcsin(np.clip(points[..., 2], -1, 1)))
    lon = np.degrees(np.arctan2(points[..., 1], points[..., 0]))
    grids, observer = maps(), axes[2].astype(np.float32)
    normal = sample(grids.surface, lat, lon)[..., :3]
    model = DiscModel(
        radius_px=pose.radius_px,
        centre=0,
        inside=np.ones(lat.shape, bool),
        vertical=points,
        normal=normal,
        mu=np.clip(normal @ observer, 0.02, 1.0),
        albedo=sample(grids.albedo, lat, lon),
        horizon_deg=sample(grids.horizon_deg, lat, lon),
        observer=observer,
    )
    return light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)


def noise_of(luminance: Float32Array, x: Float32Array, y: Float32Array, most: int = 4000) -> float:
    """One standard deviation of a pixel's noise, display values, from second differences at some of the points.

    (J. Immerkaer, "Fast noise variance estimation", CVIU 64, 1996.) Neighbours share the grain, so that differences
    over one pixel show about 0.36 of it (measured on scenes); those over two pixels show the Moon's texture besides:
    the smaller of both is taken, and never less than 8 bits make.
    """
    height, width = luminance.shape
    step = max(1, x.size // most)
    j, i = x.ravel()[::step].astype(np.intp), y.ravel()[::step].astype(np.intp)
    framed = (j >= 2) & (i >= 2) & (j < width - 2) & (i < height - 2)
    j, i = j[framed], i[framed]
    if len(j) < 20:
        return QUANTUM
    sigma = []
    for apart in (1, 2):
        total = np.zeros(len(j))
        for dy, row in ((-apart, (1, -2, 1)), (0, (-2, 4, -2)), (apart, (1, -2, 1))):
            for dx, k in zip((-apart, 0, apart), row, strict=True):
                total += k * np.sqrt(np.maximum(luminance[i + dy, j + dx], 0))
        sigma.append(float(np.median(np.abs(total))) / 0.6745 / 6.0)
    return max(min(sigma[0] / 0.36, sigma[1]), QUANTUM)


def probability_discernible(
    luminance: Float32Array, pose: Pose, points: Float32Array, across: FloatArray
) -> FloatArray:
    """(N,) probability that each of N features can be made out.

    luminance: the working picture, linear light (H, W); pose: in its pixels; points: (N, 43, 3) of `extents`; across:
    size as foreshortened, in widths of the picture's edge.
    """
    if not len(points):
        return np.zeros(0)
    found = measure(luminance, pose, points)
    threshold = np.hypot(EYE, NOISE_SHARE * found.noise)
    terms = np.column_stack(
        [
            np.log(np.clip(found.contrast / threshold, 0.05, 20.0)),
            np.log(np.clip(found.expected / EYE, 0.05, 20.0)),
            np.log(np.clip(across, 0.4, 12.0)),
            np.ones(len(points)),
        ]
    )
    there = np.clip(found.agreement / AGREEING, 0.05, 1.0)
    # less than a third of it in the frame is the less of it to be seen
    return np.asarray(there * np.clip(found.framed / 0.3, 0.0, 1.0) / (1 + np.exp(-terms @ np.array(WEIGHTS))))


def resolution_factor(across: FloatArray) -> FloatArray:
    """(N,) 0..1 for the width of what must be told apart in units of the edge's width: five make a ring, two a spot
    (common practice)."""
    return np.asarray(1 / (1 + np.exp(-(across - 2.5) / 0.8)))
