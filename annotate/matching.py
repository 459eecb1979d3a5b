"""Where the predicted surface is found in the picture: patches of the relit disc, looked for near their places.

The picture is resampled into the north-up frame of the predicted disc under the pose at hand, both are flattened
(local mean out, local contrast evened), and small patches of the prediction are searched in a neighbourhood by
normalised correlation with a sub-pixel peak. What comes back are pairs: surface point, measured pixel.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from annotate.geometry import disc_axes, disc_to_pixel, lift
from annotate.records import Float32Array, FloatArray, Pose
from annotate.relight import DiscModel, frame_grid


@dataclass(frozen=True, eq=False)
class Matches:
    """surface: (N, 3) mean-Earth unit vectors; xy: (N, 2) measured pixels of the picture; correlation: (N,) of the
    peak; sharpness: (N,) curvature of the peak across its weakest direction, per px^2 of the frame (how well it
    fixes the point); tried: patches with enough texture to be tried; frame_px: one frame pixel in picture pixels.
    """

    surface: FloatArray
    xy: FloatArray
    correlation: FloatArray
    sharpness: FloatArray
    tried: int
    frame_px: float


def to_frame(image: Float32Array, pose: Pose, radius_px: float) -> tuple[Float32Array, np.ndarray]:
    """The picture in the north-up frame of `radius_px`: (values (N, N), inside-the-frame mask (N, N) bool)."""
    u, v, _ = frame_grid(radius_px)
    x, y = disc_to_pixel(pose, u, v)
    scale = min(1.0, 1.6 * radius_px / pose.radius_px)
    if scale < 0.8:  # area-average first, so that nothing aliases
        # the size is given, not the factor: only then does the library map by the ratio of the sizes (0.4 px else)
        size = (round(image.shape[1] * scale), round(image.shape[0] * scale))
        small = cv2.resize(image, size, interpolation=cv2.INTER_AREA)
        fx, fy = small.shape[1] / image.shape[1], small.shape[0] / image.shape[0]
        sx, sy = (x + 0.5) * fx - 0.5, (y + 0.5) * fy - 0.5
    else:
        small, sx, sy = image, x, y
    warped = np.asarray(cv2.remap(
        small, sx.astype(np.float32), sy.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ), np.float32)
    height, width = image.shape
    inside = (x > 0) & (y > 0) & (x < width - 1) & (y < height - 1)
    return warped, inside


def flatten_frame(values: Float32Array, weight: Float32Array, window_px: int) -> Float32Array:
    """Local mean out and local contrast evened over a square window, weighted; (N, N) float32, about unit variance."""
    def mean(a: Float32Array) -> Float32Array:
        return np.asarray(cv2.blur(cv2.blur(a, (window_px, window_px)), (window_px, window_px)), np.float32)

    mass = np.maximum(mean(weight), 0) + 1e-4
    centred = np.asarray((values - mean(values * weight) / mass) * weight, np.float32)
    spread = np.sqrt(np.maximum(mean(centred * centred), 0) / np.maximum(mass, 1e-4))
    lit = weight > 0.5
    floor = 0.15 * float(np.median(spread[lit])) + 1e-6 if lit.any() else 1.0
    return np.asarray(centred / (spread + floor), np.float32)


def match_patches(picture: Float32Array, inside: np.ndarray, radiance: Float32Array, model: DiscModel, pose: Pose,
                  half_px: int, reach_px: int, spacing_px: int, blur_px: float = 0.7) -> Matches:
    """Finds patches of the prediction in the picture's frame.

    picture: (N, N) display-valued picture in the north-up frame (see `to_frame`); radiance: (N, N) prediction from
    `relight.light` on the same frame; patches are (2 half + 1) px wide on a grid of `spacing`, searched `reach` px
    around; blur_px: blur of the picture in frame pixels, given to the prediction too.
    """
    predicted = np.sqrt(radiance / max(float(radiance.max()), 1e-6))
    predicted = cv2.GaussianBlur(predicted, (0, 0), max(blur_px, 0.3))
    weight = (model.inside & inside).astype(np.float32)
    window = 2 * half_px + 1
    flat_model = flatten_frame(predicted, weight, window)
    flat_picture = flatten_frame(picture, weight, window)
    lit = (predicted > 0.12).astype(np.float32) * weight
    # texture worth matching: what the flattening left, in absolute display values
    fine = (predicted - cv2.blur(predicted, (window, window))) * lit
    box = (window, window)
    energy = np.sqrt(np.maximum(cv2.blur(fine * fine, box) - cv2.blur(fine, box) ** 2, 0))
    share = cv2.blur(lit, box)
    n = picture.shape[0]
    margin = half_px + reach_px + 1
    grid = np.arange(margin, n - margin, spacing_px)
    rows, cols = (a.ravel() for a in np.meshgrid(grid, grid, indexing="ij"))
    usable = (share[rows, cols] > 0.75) & (energy[rows, cols] > 0.008)
    rows, cols = rows[usable], cols[usable]
    places = zip(rows, cols, strict=True)
    peaks = [_peak(flat_picture, flat_model, int(i), int(j), half_px, reach_px) for i, j in places]
    found = np.array(peaks, float).reshape(-1, 4)
    good = found[:, 2] > 0.35
    u = (cols - model.centre) / model.radius_px
    v = (model.centre - rows) / model.radius_px
    good &= u * u + v * v < 0.985
    moved_u = u + found[:, 0] / model.radius_px
    moved_v = v - found[:, 1] / model.radius_px
    x, y = disc_to_pixel(pose, moved_u[good], moved_v[good])
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    return Matches(
        lift(u[good], v[good], axes, pose.distance_radii), np.column_stack([x, y]), found[good, 2], found[good, 3],
        len(rows), pose.radius_px / model.radius_px,
    )


def _peak(picture: Float32Array, model: Float32Array, i: int, j: int, half: int, reach: int,
          ) -> tuple[float, float, float, float]:
    """(dx, dy, correlation, sharpness) of the best place of one patch; correlation -1 where it lies on the edge."""
    patch = model[i - half : i + half + 1, j - half : j + half + 1]
    wide = half + reach
    scene = picture[i - wide : i + wide + 1, j - wide : j + wide + 1]
    c = cv2.matchTemplate(scene, patch, cv2.TM_CCOEFF_NORMED)
    _, top, _, (px, py) = cv2.minMaxLoc(c)
    if not (0 < px < 2 * reach and 0 < py < 2 * reach) or not np.isfinite(top):
        return 0.0, 0.0, -1.0, 0.0
    # quadratic surface through the 3 x 3 neighbourhood of the peak
    w = c[py - 1 : py + 2, px - 1 : px + 2].astype(float)
    gx, gy = (w[1, 2] - w[1, 0]) / 2, (w[2, 1] - w[0, 1]) / 2
    hxx, hyy = w[1, 2] - 2 * w[1, 1] + w[1, 0], w[2, 1] - 2 * w[1, 1] + w[0, 1]
    hxy = (w[2, 2] - w[2, 0] - w[0, 2] + w[0, 0]) / 4
    det = hxx * hyy - hxy * hxy
    if det <= 1e-9 or hxx >= 0:
        return 0.0, 0.0, -1.0, 0.0
    dx, dy = -(hyy * gx - hxy * gy) / det, -(hxx * gy - hxy * gx) / det
    if abs(dx) > 1 or abs(dy) > 1:
        return 0.0, 0.0, -1.0, 0.0
    weakest = -0.5 * (hxx + hyy) - np.sqrt(max(0.25 * (hxx - hyy) ** 2 + hxy * hxy, 0.0))
    return px - reach + dx, py - reach + dy, float(top), float(weakest)
