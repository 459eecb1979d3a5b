"""A disc whose light falls off over a shadow's edge, made even: what is left are seas and craters.

In the Earth's shadow one part of the Moon is a thousand times as bright as another, and the edge between them leads
every comparison of brightness astray: the turn of the disc is then read from the shadow. The logarithm of the light,
less its local mean and over its local scatter, has the same seas on both sides (as in homomorphic filtering: Oppenheim,
Schafer, Stockham, Proc. IEEE 56, 1968).
"""

from __future__ import annotations

import cv2
import numpy as np

from moondesk.records import Float32Array, Limb

#: Linear light from which a pixel counts as burnt out, and how far about it none is gone by, px.
BURNT, ABOUT_BURNT = 0.95, 5
#: Over how much of the disc's radius mean and scatter are taken, and the least scatter of the logarithm.
SHARE, LEAST_SCATTER = 0.12, 0.05
#: Light so many times above the sky's grain is seen.
ABOVE_GRAIN = 2.0
#: The light varies so many times at least over the disc, 2nd to 90th percentile, that it is worth the trouble.
VARIES = 8.0
#: Level and scatter of what comes out, and what stands for burnt pixels.
LEVEL, SCATTER, WHITE = 0.25, 0.09, 0.999


def even_light(luminance: Float32Array, limb: Limb) -> Float32Array | None:
    """The disc within a limb at one level and scatter, black around it.

    Parameters: linear light (H, W), 0..1; the limb in its pixels.
    Returns: linear light of the same size, burnt pixels burnt; None where the disc's light is even enough as it is.
    """
    height, width = luminance.shape
    y, x = np.ogrid[:height, :width]
    away = np.hypot(x - limb.x, y - limb.y) / limb.radius_px
    disc, ring = away < 0.99, (away > 1.1) & (away < 1.4)
    sky = luminance[ring] if ring.any() else luminance
    dark = float(np.median(sky))
    grain = 1.4826 * float(np.median(np.abs(sky - dark)))
    soft = np.asarray(cv2.GaussianBlur(luminance, (0, 0), 2.0), np.float32)
    burnt = cv2.dilate((luminance > BURNT).astype(np.uint8), np.ones((ABOUT_BURNT, ABOUT_BURNT), np.uint8)) > 0
    use = (disc & ~burnt & (soft > dark + ABOVE_GRAIN * grain)).astype(np.float32)
    if use.sum() < 0.05 * disc.sum():
        return None
    low, high = np.percentile(soft[disc], (2, 90))
    if high < VARIES * max(low, 1e-4):
        return None

    def mean(values: Float32Array) -> Float32Array:
        return np.asarray(cv2.GaussianBlur(values, (0, 0), SHARE * limb.radius_px), np.float32)

    logarithm = np.log(np.maximum(luminance, 1e-4)).astype(np.float32)
    mass = np.maximum(mean(use), 1e-3)
    centred = np.asarray((logarithm - mean(logarithm * use) / mass) * use, np.float32)
    scatter = np.sqrt(mean(centred * centred) / mass)
    even = np.clip(LEVEL + SCATTER * centred / np.maximum(scatter, LEAST_SCATTER), 0.001, 0.9)
    return np.asarray(np.where(use > 0, even, np.where(disc & burnt, WHITE, 0.0)), np.float32)
