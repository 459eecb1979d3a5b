"""With what the picture is smeared: the kernel that takes the predicted disc to the picture. One spot is a photograph,
two are two: a double exposure, a frame blended with the next, a shaken camera.

The kernel comes by division in the frequency domain, held off zero where the prediction has no power (N. Wiener,
"Extrapolation, Interpolation, and Smoothing of Stationary Time Series", 1949). The prediction's own structure drops out
with it, which an autocorrelation of the picture keeps: there a shift of 2 %R does not show.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.placement.matching import NorthUpFrame, Prediction, flatten_frame
from moondesk.records import Float32Array

#: Window of the local mean and contrast and the largest shift looked for, radii.
WINDOW, REACH = 0.06, 0.07
#: Share of the mean power that is added to the prediction's; blur of the kernel, px.
HOLD, SOFT_PX = 0.02, 0.9
#: A second spot counts from this share of the first on: seen without one 0.15 at most (blurred by 3 %R), with one 0.5
#: and more; below the second the kernel is no kernel.
SECOND, LEAST_PEAK = 0.3, 0.02
#: A spot this many times longer than wide is drawn out, if what it is longer by comes to the second, px (one standard
#: deviation, the width taken off in quadrature: 0.7 at most in single exposures, 0.9 and more in double ones); by more
#: than the third it is no spot.
LONG, LEAST_HALF_PX, MOST_HALF_PX = 1.35, 0.8, 3.0
#: A smaller disc's spots are not told apart, px.
LEAST_RADIUS_PX = 80.0


@dataclass(frozen=True)
class Smear:
    """apart_pct: distance of the two spots, %R, 0 where there is one; spread_pct: how far the picture's parts lie from
    the pose, one standard deviation per axis, %R."""

    apart_pct: float
    spread_pct: float


ONE_SPOT = Smear(0.0, 0.0)


def smear_of(frame: NorthUpFrame, prediction: Prediction) -> Smear:
    """frame: the picture under its pose, on a frame of about 140 px to the radius: spots 2 %R apart are told apart."""
    model = prediction.model
    radius = model.radius_px
    if radius < LEAST_RADIUS_PX:
        return ONE_SPOT
    use = model.inside & frame.inside & (prediction.values > 0.2) & (frame.values < 0.985)
    weight = np.asarray(cv2.erode(use.astype(np.float32), np.ones((5, 5), np.uint8)), np.float32)
    if weight.sum() < 0.05 * radius**2:
        return ONE_SPOT
    window = round(WINDOW * radius) | 1
    flat = [flatten_frame(values, weight, window) for values in (frame.values, prediction.values)]
    kernel = _kernel(flat[0], flat[1], round(REACH * radius))
    top = float(kernel.max())
    if top < LEAST_PEAK:
        return ONE_SPOT
    middle = len(kernel) // 2
    spots = (kernel == cv2.dilate(kernel, np.ones((3, 3), np.uint8))) & (kernel > SECOND * top)
    rows, cols = np.nonzero(spots)
    if len(rows) == 1:
        return _long_spot(kernel, radius)
    if len(rows) > 3:
        return ONE_SPOT
    height = kernel[rows, cols].astype(float)
    at = 100.0 * np.column_stack([cols - middle, rows - middle]) / radius
    first, second = np.argsort(-height)[:2]
    spread = float(np.sqrt((height * (at**2).sum(axis=1)).sum() / height.sum() / 2))
    return Smear(float(np.hypot(*(at[first] - at[second]))), spread)


def _long_spot(kernel: Float32Array, radius: float) -> Smear:
    """One spot, but long: two that the frame is too coarse to part, or a straight shake."""
    weight = np.where(kernel > SECOND * kernel.max(), kernel, 0.0)
    rows, cols = np.indices(weight.shape)
    points = np.stack([cols.ravel(), rows.ravel()]).astype(float)
    narrow, wide = np.linalg.eigvalsh(np.cov(points, aweights=weight.ravel())).tolist()
    if wide < LONG**2 * narrow or not LEAST_HALF_PX**2 < wide - narrow < MOST_HALF_PX**2:
        return ONE_SPOT
    # two equal spots, each as wide as the spot is narrow, stand a standard deviation to either side
    half = 100 * float(np.sqrt(wide - narrow)) / radius
    return Smear(2 * half, half / float(np.sqrt(2)))


def _kernel(picture: Float32Array, model: Float32Array, reach: int) -> Float32Array:
    """(2 reach + 1, 2 reach + 1) the kernel about no shift."""
    rows, cols = (cv2.getOptimalDFTSize(n + 2 * reach) for n in picture.shape)
    padded = (
        cv2.copyMakeBorder(a, 0, rows - a.shape[0], 0, cols - a.shape[1], cv2.BORDER_CONSTANT) for a in (picture, model)
    )
    p, m = (cv2.dft(a, flags=cv2.DFT_COMPLEX_OUTPUT) for a in padded)
    power = (m * m).sum(axis=2)
    cross = cv2.mulSpectrums(p, m, 0, conjB=True)
    fy, fx = np.fft.fftfreq(rows).astype(np.float32)[:, None], np.fft.fftfreq(cols).astype(np.float32)[None, :]
    soft = np.exp(-2 * (np.pi * SOFT_PX) ** 2 * (fx * fx + fy * fy)) / (power + HOLD * power.mean())
    back = cv2.idft(cross * soft[..., None], flags=cv2.DFT_SCALE | cv2.DFT_REAL_OUTPUT)
    around = np.roll(back, (reach, reach), axis=(0, 1))
    return np.ascontiguousarray(around[: 2 * reach + 1, : 2 * reach + 1], np.float32)
