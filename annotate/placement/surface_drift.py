"""How far the picture's surface has drifted from where a nearly right pose puts it: all patches at once, sub-pixel.

The picture in a patch is taken as a times the prediction shifted by d, to first order a (M - d . grad M): least squares
for a and a d over each patch (Lucas & Kanade 1981, with the contrast as a further unknown), whose sums are box filters
over the whole frame. Good for drifts below a frame pixel or so: one step of some milliseconds replaces a search.
"""

from __future__ import annotations

import cv2
import numpy as np

from moondesk.placement.matching import Matches, NorthUpFrame, Prediction, as_matches, textures
from moondesk.records import Float32Array, FloatArray, Pose

#: Beyond this drift, frame px, the first order does not hold.
MOST_DRIFT_PX = 1.5


def measure_drift(frame: NorthUpFrame, prediction: Prediction, pose: Pose, half_px: int, spacing_px: int) -> Matches:
    """Pairs of surface points and pixels, as `matching.match_patches` finds them, for a pose that is nearly right.

    pose: that of the frame.
    """
    at = textures(frame, prediction, half_px, half_px + 2, spacing_px)
    gx = np.asarray(cv2.Sobel(at.model, cv2.CV_32F, 1, 0, ksize=1, scale=0.5), np.float32)
    gy = np.asarray(cv2.Sobel(at.model, cv2.CV_32F, 0, 1, ksize=1, scale=0.5), np.float32)
    layers = (at.model, gx, gy, at.picture)
    box = (2 * half_px + 1, 2 * half_px + 1)
    where = (at.rows, at.cols)

    def mean(a: Float32Array) -> FloatArray:
        return np.asarray(cv2.blur(a, box)[where], float)

    means = [mean(a) for a in layers]

    def product(k: int, m: int) -> FloatArray:
        return mean(layers[k] * layers[m]) - means[k] * means[m]

    gram = np.empty((len(at.rows), 3, 3))
    for k in range(3):
        for m in range(k, 3):
            gram[:, k, m] = gram[:, m, k] = product(k, m)
    right = np.stack([product(k, 3) for k in range(3)], axis=1)
    power = np.maximum(product(3, 3), 1e-9)
    size = np.trace(gram, axis1=1, axis2=2)[:, None, None]
    fitted = np.linalg.solve(gram + (1e-6 * size + 1e-12) * np.eye(3), right[..., None])[..., 0]
    contrast = np.where(fitted[:, 0] > 1e-3, fitted[:, 0], np.inf)
    drift = -fitted[:, 1:] / contrast[:, None]
    explained = np.clip((right * fitted).sum(axis=1) / power, 0.0, 1.0)
    near = np.isfinite(contrast) & (np.hypot(drift[:, 0], drift[:, 1]) < MOST_DRIFT_PX)
    correlation = np.where(near, np.sqrt(explained), -1.0)
    found = np.column_stack([drift, correlation, _sharpness(gram) * correlation])
    return as_matches(frame, prediction.model, pose, at, found)


def _sharpness(gram: FloatArray) -> FloatArray:
    """(n,) curvature of the correlation's peak across its weakest direction, per px^2 of the frame."""
    power = np.maximum(gram[:, 0, 0], 1e-9)
    bend = gram[:, 1:, 1:] / power[:, None, None]
    half = 0.5 * (bend[:, 0, 0] + bend[:, 1, 1])
    apart = np.sqrt(0.25 * (bend[:, 0, 0] - bend[:, 1, 1]) ** 2 + bend[:, 0, 1] ** 2)
    return np.maximum(half - apart, 0.0)
