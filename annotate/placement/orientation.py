"""Which way the disc is turned, and with which hand: correlation over all turns at once, on rings about its centre.

The picture's disc and the predicted disc are unrolled to (rings, angles); a turn becomes a shift along the angles, the
other hand a flip, so that one Fourier product scores every turn of both hands (Reddy & Chatterji 1996 use the same
step on spectra). Both are flattened first (local mean taken out, local contrast evened), so that neither exposure nor
tone curve counts; what is outside the frame carries no weight.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.records import Float32Array

ANGLES = 360
RINGS = 40
#: The disc is unrolled between these radii: the centre says nothing of turns, the very limb is spoilt by blur.
INNER, OUTER = 0.12, 0.97


@dataclass(frozen=True)
class TurnMatch:
    """One hypothesis: screen angle of the Moon's north, hand, correlation (-1..1)."""

    north_screen_deg: float
    mirrored: bool
    correlation: float


def ring_points(radius_px: float) -> tuple[Float32Array, Float32Array]:
    """Offsets (dx right, dy down), (RINGS, ANGLES), from the centre; angle k looks k degrees to the left of up."""
    radii = np.linspace(INNER, OUTER, RINGS, dtype=np.float32)[:, None] * np.float32(radius_px)
    angle = np.radians(np.arange(ANGLES, dtype=np.float32) * (360.0 / ANGLES))[None, :]
    return -radii * np.sin(angle), -radii * np.cos(angle)


def unroll(image: Float32Array, x: float, y: float, radius_px: float) -> tuple[Float32Array, Float32Array]:
    """(values, weight), both (RINGS, ANGLES), of a disc in a float32 image; weight 0 where outside the frame."""
    dx, dy = ring_points(radius_px)
    px, py = dx + np.float32(x), dy + np.float32(y)
    values = np.asarray(cv2.remap(image, px, py, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32)
    height, width = image.shape
    weight = ((px >= 1) & (py >= 1) & (px <= width - 2) & (py <= height - 2)).astype(np.float32)
    return values, weight


def _blur_around(values: Float32Array, sigma: float) -> Float32Array:
    pad = int(4 * sigma) + 1
    wide = np.hstack([values[:, -pad:], values, values[:, :pad]])
    return np.asarray(cv2.GaussianBlur(wide, (0, 0), sigma, borderType=cv2.BORDER_REFLECT), np.float32)[:, pad:-pad]


def flatten(values: Float32Array, weight: Float32Array, sigma: float = 9.0) -> Float32Array:
    """Local mean out, local contrast evened, weighted; sigma in degrees along and in ring steps across."""
    mass = _blur_around(weight, sigma) + 1e-4
    centred = (values - _blur_around(values * weight, sigma) / mass) * weight
    spread = np.sqrt(_blur_around(centred * centred, sigma) / mass)
    floor = 0.3 * float(np.sqrt((centred**2).sum() / max(float(weight.sum()), 1.0))) + 1e-6
    return (centred / (spread + floor)).astype(np.float32)


@dataclass(frozen=True, eq=False, kw_only=True)
class Rings:
    """An unrolled disc made ready for turning: spectra along the angles, (RINGS, ANGLES // 2 + 1) complex.

    values, squares, weights: of the flattened values, their squares and the weights. total: sum of the weights; mean,
    power: weighted means of the values and of their squares.
    """

    values: np.ndarray
    squares: np.ndarray
    weights: np.ndarray
    total: float
    mean: float
    power: float


def rings(values: Float32Array, weight: Float32Array) -> Rings:
    """From what `unroll` gives, both (RINGS, ANGLES)."""
    flat = flatten(values, weight)
    weighted, total = flat * weight, max(float(weight.sum()), 1.0)
    values_f, squares_f, weights_f = (np.fft.rfft(a, axis=1) for a in (weighted, flat * weighted, weight))
    return Rings(
        values=values_f,
        squares=squares_f,
        weights=weights_f,
        total=total,
        mean=float(weighted.sum()) / total,
        power=float((flat * weighted).sum()) / total,
    )


def turn_scores(picture: Rings, model: Rings, mirrored: bool) -> np.ndarray:
    """Correlation (ANGLES,) of the picture with the model turned left by 0, 1, ... degrees. model: wholly in its frame.

    A mirrored picture is the model seen with the angles running the other way, so its spectrum conjugated.
    """

    def along(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.fft.irfft(np.einsum("ra,ra->a", a, b if mirrored else np.conj(b)), ANGLES) / picture.total

    mean_m = along(picture.weights, model.values)
    var_m = along(picture.weights, model.squares) - mean_m**2
    var_p = picture.power - picture.mean**2
    covariance = along(picture.values, model.values) - picture.mean * mean_m
    return np.asarray(covariance / np.sqrt(np.maximum(var_p * var_m, 1e-9)))


def best_turns(picture: Rings, model: Rings, per_hand: int = 2) -> list[TurnMatch]:
    """The best turns of each hand, best first. The model is north up, not mirrored, and wholly in its frame."""
    found: list[TurnMatch] = []
    for mirrored in (False, True):
        scores = turn_scores(picture, model, mirrored)
        for _ in range(per_hand):
            k = int(np.argmax(scores))
            left, mid, right = scores[k - 1], scores[k], scores[(k + 1) % ANGLES]
            bend = left - 2 * mid + right
            shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
            found.append(TurnMatch((k + float(np.clip(shift, -0.5, 0.5))) * 360.0 / ANGLES, mirrored, float(mid)))
            away = np.abs((np.arange(ANGLES) - k + ANGLES // 2) % ANGLES - ANGLES // 2)
            scores = np.where(away < 15, -1.0, scores)
    return sorted(found, key=lambda t: -t.correlation)
