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

from annotate.records import Float32Array

ANGLES = 360
RINGS = 40
#: The disc is unrolled between these radii: the centre says nothing of turns, the very limb is spoilt by blur.
INNER, OUTER = 0.12, 0.97


@dataclass(frozen=True)
class Turn:
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


def _wrapped_blur(values: Float32Array, sigma: float) -> Float32Array:
    pad = int(4 * sigma) + 1
    wide = np.hstack([values[:, -pad:], values, values[:, :pad]])
    return np.asarray(cv2.GaussianBlur(wide, (0, 0), sigma, borderType=cv2.BORDER_REFLECT), np.float32)[:, pad:-pad]


def flatten(values: Float32Array, weight: Float32Array, sigma: float = 9.0) -> Float32Array:
    """Local mean out, local contrast evened, weighted; sigma in degrees along and in ring steps across."""
    mass = _wrapped_blur(weight, sigma) + 1e-4
    centred = (values - _wrapped_blur(values * weight, sigma) / mass) * weight
    spread = np.sqrt(_wrapped_blur(centred * centred, sigma) / mass)
    floor = 0.3 * float(np.sqrt((centred**2).sum() / max(float(weight.sum()), 1.0))) + 1e-6
    return (centred / (spread + floor)).astype(np.float32)


def turn_scores(picture: Float32Array, p_weight: Float32Array, model: Float32Array, m_weight: Float32Array,
                ) -> np.ndarray:
    """Correlation (ANGLES,) of the picture with the model turned left by 0, 1, ... degrees."""
    def spectrum(a: Float32Array) -> np.ndarray:
        return np.fft.rfft(a, axis=1)

    def product(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.fft.irfft((a * np.conj(b)).sum(axis=0), ANGLES)

    fp, fm = spectrum(picture * p_weight), spectrum(model * m_weight)
    wp, wm = spectrum(p_weight), spectrum(m_weight)
    p2, m2 = spectrum(picture**2 * p_weight), spectrum(model**2 * m_weight)
    common = np.maximum(product(wp, wm), 1.0)
    mean_p, mean_m = product(fp, wm) / common, product(wp, fm) / common
    covariance = product(fp, fm) / common - mean_p * mean_m
    var_p, var_m = product(p2, wm) / common - mean_p**2, product(wp, m2) / common - mean_m**2
    return np.asarray(covariance / np.sqrt(np.maximum(var_p * var_m, 1e-9)))


def best_turns(picture: Float32Array, p_weight: Float32Array, model: Float32Array, m_weight: Float32Array,
               per_hand: int = 2) -> list[Turn]:
    """The best turns of each hand, best first. Inputs as `unroll` gives them; the model is north up, not mirrored."""
    flat_p, flat_m = flatten(picture, p_weight), flatten(model, m_weight)
    found: list[Turn] = []
    for mirrored in (False, True):
        # a mirrored picture is the model seen with the angles running the other way
        flipped = np.roll(flat_m[:, ::-1], 1, axis=1) if mirrored else flat_m
        flipped_w = np.roll(m_weight[:, ::-1], 1, axis=1) if mirrored else m_weight
        scores = turn_scores(flat_p, p_weight, flipped, flipped_w)
        for _ in range(per_hand):
            k = int(np.argmax(scores))
            left, mid, right = scores[k - 1], scores[k], scores[(k + 1) % ANGLES]
            bend = left - 2 * mid + right
            shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
            found.append(Turn((k + float(np.clip(shift, -0.5, 0.5))) * 360.0 / ANGLES, mirrored, float(mid)))
            away = np.abs((np.arange(ANGLES) - k + ANGLES // 2) % ANGLES - ANGLES // 2)
            scores = np.where(away < 15, -1.0, scores)
    return sorted(found, key=lambda t: -t.correlation)
