"""How far red and blue lie apart: low air disperses, a lens has its colours, a camera joins three exposures.

The Moon is nearly grey, so what red has beyond blue is, where they are shifted, the slope of the light along the shift.
"""

from __future__ import annotations

import cv2
import numpy as np

from moondesk.records import Float32Array, Picture, Pose

#: Radius to which the disc is reduced, px; blur of both sides, px; window of the local mean, radii.
REDUCED_PX, SOFT_PX, WINDOW = 130.0, 1.0, 0.1
#: Share of the colour's variance that a shift must explain; without one it is 0.02, with one 0.9.
EXPLAINED = 0.3
#: Only light between these (linear) tells.
DARK, BRIGHT = 0.02, 0.85


def colours_apart(picture: Picture, pose: Pose) -> float:
    """Distance from blue to red, %R; 0 where no shift explains the colours. pose: in working pixels."""
    if picture.redness is None:
        return 0.0
    reach = 1.1 * pose.radius_px
    height, width = picture.luminance.shape
    x0, x1 = (int(np.clip(v, 0, width)) for v in (pose.x - reach, pose.x + reach + 1))
    y0, y1 = (int(np.clip(v, 0, height)) for v in (pose.y - reach, pose.y + reach + 1))
    if min(x1 - x0, y1 - y0) < 32:
        return 0.0
    scale = min(1.0, REDUCED_PX / pose.radius_px)
    size = (max(round((x1 - x0) * scale), 1), max(round((y1 - y0) * scale), 1))
    light, red = (
        cv2.resize(a[y0:y1, x0:x1], size, interpolation=cv2.INTER_AREA) for a in (picture.luminance, picture.redness)
    )
    # (red - blue) / (red + green + blue) of something nearly grey, times three times its light
    excess = cv2.GaussianBlur(3 * red * light, (0, 0), SOFT_PX)
    light = cv2.GaussianBlur(light, (0, 0), SOFT_PX)
    xx = (np.arange(size[0]) + 0.5) * (x1 - x0) / size[0] + x0 - 0.5 - pose.x
    yy = (np.arange(size[1]) + 0.5) * (y1 - y0) / size[1] + y0 - 0.5 - pose.y
    burnt = cv2.dilate((light > BRIGHT).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    use = (xx[None, :] ** 2 + yy[:, None] ** 2 < 0.9 * pose.radius_px**2) & (light > DARK) & ~burnt
    if use.sum() < 500:
        return 0.0
    slopes = (cv2.Sobel(light, cv2.CV_32F, *way, ksize=1, scale=0.5) for way in ((1, 0), (0, 1)))
    window = 2 * int(WINDOW / 2 * pose.radius_px * scale) + 1
    even = 1.0 / (0.02 + light[use])
    terms = np.column_stack([_fine(np.asarray(a, np.float32), window)[use] * even for a in (light, *slopes)])
    wanted = _fine(np.asarray(excess, np.float32), window)[use] * even
    found, *_ = np.linalg.lstsq(terms, wanted, rcond=None)
    left = float(((wanted - terms @ found) ** 2).sum() / max(float((wanted**2).sum()), 1e-12))
    if 1.0 - left < EXPLAINED:
        return 0.0
    return float(100 * np.hypot(found[1], found[2]) / (scale * pose.radius_px))


def _fine(values: Float32Array, window: int) -> Float32Array:
    size = (window, window)
    return np.asarray(values - cv2.blur(cv2.blur(values, size), size), np.float32)
