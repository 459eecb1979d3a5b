"""What stands about the disc and over it: a screen's frame or pixels, a second Moon, the Earth's shadow."""

from __future__ import annotations

import cv2
import numpy as np

from moondesk.placement.limb import Circle, fit_limb
from moondesk.records import Float32Array, Limb, NotFound

#: Median (red - blue) / (red + green + blue) of linear light above which a placed disc is an eclipsed Moon. The
#: reddest uneclipsed one seen was 0.43 (low and yellow), the palest totally eclipsed one 0.75.
ECLIPSE_REDNESS = 0.58

#: Side of the window in which a screen's pixel grid is looked for, px; peaks counted, and the highest wanted, in
#: natural logarithms of power above their surroundings. Seen: at most 2.8 in 120 pictures of the Moon, 4.7 or more in
#: 32 rendered photographs of screens.
GRID_WINDOW, GRID_PEAK, GRID_PEAKS, GRID_HIGHEST = 512, 3.0, 3, 3.8


#: Discs whose radii differ by no more than this share are taken for the same thing shown twice, here and as circles.
SAME_SIZE, SAME_CIRCLE = 0.17, 0.22


def repeats(luminance: Float32Array, circles: tuple[Circle, ...], placed: Limb | None) -> int:
    """How many separate discs of about the placed one's size there are among the circles, itself counted.

    placed None (a close-up without a limb): 1, for the rings found there are craters.
    """
    if placed is None:
        return 1
    first = placed
    apart = [first]
    alike = [
        c
        for c in circles
        if abs(c.radius / first.radius_px - 1) < SAME_CIRCLE
        and np.hypot(c.x - first.x, c.y - first.y) > first.radius_px
    ]
    for limb in (fit_limb(luminance, circle) for circle in alike):
        if isinstance(limb, NotFound):
            continue
        same_size = abs(limb.radius_px / first.radius_px - 1) < SAME_SIZE and limb.arc_deg >= 90
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


def has_frame_of_lines(luminance: Float32Array, x: float, y: float, radius: float) -> bool:
    """True where long straight edges stand on three or four sides of the disc, as about a screen or a print.

    Roofs, masts and wires stand on one or two sides; the picture's own border is left out.
    """
    height, width = luminance.shape
    scale = min(1.0, 700.0 / max(height, width))
    small = cv2.resize(luminance, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1 else luminance
    grey = cv2.convertScaleAbs(np.sqrt(np.clip(small, 0, 1)), alpha=255.0)
    edges = cv2.Canny(cv2.GaussianBlur(grey, (0, 0), 1.2), 15, 40)
    short = min(grey.shape)
    cx, cy, r = (x + 0.5) * scale, (y + 0.5) * scale, radius * scale
    cv2.circle(edges, (round(cx), round(cy)), round(1.05 * r), 0, cv2.FILLED)  # no line of interest crosses the disc
    lines = cv2.HoughLinesP(edges, 1, np.pi / 360, 45, minLineLength=0.2 * short, maxLineGap=6)
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


def has_pixel_grid(luminance: Float32Array, x: float, y: float, shrink: float) -> bool:
    """True where a fine regular pattern lies over the picture about (x, y), as a screen's pixels or their moire make.

    Such a pattern is a few narrow peaks in the spectrum, far above what surrounds them; the Moon's own spectrum has
    none, nor have grain and edges. Peaks on the lattices of JPEG's blocks and of enlarged pixels, and on the axes,
    where the frame's and a mosaic's edges lie, are left out: a hand-held camera is always a little turned.
    luminance, x, y: working pixels, `shrink` full ones wide.
    """
    height, width = luminance.shape
    n = min(GRID_WINDOW, height, width)
    if n < 128:
        return False
    x0, y0 = (int(np.clip(c - n / 2, 0, size - n)) for c, size in ((x, width), (y, height)))
    shown = np.sqrt(np.maximum(luminance[y0 : y0 + n, x0 : x0 + n], 0)).astype(np.float32)
    # edges no stronger than texture
    fine = np.clip(shown - cv2.GaussianBlur(shown, (0, 0), 4.0), -0.08, 0.08)
    taper = np.hanning(n).astype(np.float32)
    spectrum = cv2.dft(np.asarray(fine * taper[:, None] * taper[None, :], np.float32), flags=cv2.DFT_COMPLEX_OUTPUT)
    power = np.fft.fftshift((spectrum[:, : n // 2 + 1] ** 2).sum(axis=2), axes=0)
    level = np.log(cv2.blur(power.astype(np.float32), (3, 3)) + 1e-12).astype(np.float32)
    around = cv2.resize(level, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    for _ in range(4):
        around = cv2.medianBlur(around, 5)
    above = level - cv2.resize(around, (level.shape[1], level.shape[0]))
    fy, fx = np.fft.fftshift(np.fft.fftfreq(n))[:, None], np.fft.rfftfreq(n)[None, :]
    near = 2.5 / n
    left_out = (np.hypot(fx, fy) < 0.06) | (np.abs(fx) < near) | (np.abs(fy) < near)
    for cells in (8, 6, 5):
        on = [np.abs(f / shrink * cells - np.round(f / shrink * cells)) * shrink / cells < near for f in (fx, fy)]
        left_out |= on[0] & on[1]
    above[left_out] = 0.0
    peaks = cv2.connectedComponents((above > GRID_PEAK).astype(np.uint8), connectivity=8)[0] - 1
    return bool(peaks >= GRID_PEAKS and above.max() > GRID_HIGHEST)
