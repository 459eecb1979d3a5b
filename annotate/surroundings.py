"""What stands about the disc, and what it is not: a screen's frame, a second Moon, the Earth's shadow."""

from __future__ import annotations

import cv2
import numpy as np

from annotate.limb import Circle, fit_limb
from annotate.records import Float32Array, Limb, NotFound

#: Median (red - blue) / (red + green + blue) of linear light above which a placed disc is an eclipsed Moon. The
#: reddest uneclipsed one seen was 0.43 (low and yellow), the palest totally eclipsed one 0.75.
ECLIPSE_REDNESS = 0.58


def repeats(luminance: Float32Array, circles: tuple[Circle, ...], placed: Limb | None) -> int:
    """How many separate discs of the placed one's size (within 6 %) there are among the circles, itself counted.

    placed None (a close-up without a limb): 1, for the rings found there are craters.
    """
    if placed is None:
        return 1
    first = placed
    apart = [first]
    alike = [c for c in circles if abs(c.radius / first.radius_px - 1) < 0.12
             and np.hypot(c.x - first.x, c.y - first.y) > first.radius_px]
    for limb in (fit_limb(luminance, circle) for circle in alike):
        if isinstance(limb, NotFound):
            continue
        same_size = abs(limb.radius_px / first.radius_px - 1) < 0.06 and limb.arc_deg >= 90
        if same_size and all(np.hypot(limb.x - k.x, limb.y - k.y) > 1.2 * first.radius_px for k in apart):
            apart.append(limb)
    return len(apart)


def redness_of(luminance: Float32Array, redness: Float32Array | None, x: float, y: float, radius: float) -> float:
    """Median redness of the brighter part of a disc, working pixels; 0 for a grey picture."""
    if redness is None:
        return 0.0
    x0, x1, y0, y1 = (max(int(k), 0) for k in (x - radius, x + radius + 2, y - radius, y + radius + 2))
    step = max(int(radius / 100), 1)  # a median of some ten thousand pixels is as good as one of all
    luminance, redness = luminance[y0:y1:step, x0:x1:step], redness[y0:y1:step, x0:x1:step]
    yy, xx = np.ogrid[: luminance.shape[0], : luminance.shape[1]]
    disc = (step * xx + x0 - x) ** 2 + (step * yy + y0 - y) ** 2 < (0.9 * radius) ** 2
    if not disc.any():
        return 0.0
    bright = disc & (luminance > 0.3 * np.percentile(luminance[disc], 90)) & (luminance < 0.95)
    return float(np.median(redness[bright])) if bright.any() else 0.0


def framed_by_lines(luminance: Float32Array, x: float, y: float, radius: float) -> bool:
    """True where long straight edges stand on three or four sides of the disc, as about a screen or a print.

    Roofs, masts and wires stand on one or two sides; the picture's own border is left out.
    """
    height, width = luminance.shape
    scale = min(1.0, 1000.0 / max(height, width))
    small = cv2.resize(luminance, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1 else luminance
    grey = cv2.convertScaleAbs(np.sqrt(np.clip(small, 0, 1)), alpha=255.0)
    edges = cv2.Canny(cv2.GaussianBlur(grey, (0, 0), 1.2), 15, 40)
    short = min(grey.shape)
    cx, cy, r = (x + 0.5) * scale, (y + 0.5) * scale, radius * scale
    cv2.circle(edges, (round(cx), round(cy)), round(1.05 * r), 0, cv2.FILLED)  # no line of interest crosses the disc
    lines = cv2.HoughLinesP(edges, 1, np.pi / 360, 60, minLineLength=0.2 * short, maxLineGap=8)
    if lines is None:
        return False
    sides: set[int] = set()
    for x0, y0, x1, y1 in lines.reshape(-1, 4).astype(float):
        length = np.hypot(x1 - x0, y1 - y0)
        nx, ny = (y1 - y0) / length, -(x1 - x0) / length
        offset = (x0 - cx) * nx + (y0 - cy) * ny
        if abs(offset) < 1.1 * r:
            continue  # it crosses the disc: an edge on the Moon itself
        if (min(x0, x1) < 4 and max(x0, x1) < 4) or (min(y0, y1) < 4 and max(y0, y1) < 4):
            continue
        angle = np.degrees(np.arctan2(ny * np.sign(offset), nx * np.sign(offset))) % 360
        sides.add(int(((angle + 45) % 360) // 90))
    return len(sides) >= 3
