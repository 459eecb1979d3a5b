"""The small bright disc of a hand-held wide shot: found as one compact bright spot, never as a place on the Moon.

What tells it from a planet in a telescope or from a star in a field of stars is the exposure and the company: a phone
held at the sky burns a small Moon out to white, over a lit sky, roofs and lamps; a planet hangs grey and soft, alone
in black, or with its moons in a line. Where neither shows, nobody can tell, and nothing here pretends to.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.placement.discs import BURNT
from moondesk.records import Float32Array

#: Of the spots at least this share as large as the largest, the least coloured is taken: lamps are warm.
COMPARABLE = 0.25
#: Smaller spots (px) are stars: a phone's Moon is 7 px across even in a picture reduced by a messenger.
LEAST_AREA = 30
#: Share of the peak's light from which on spots are counted.
CROWD_LIGHT = 0.1
#: Display value (root of linear light) of the sky, above which the exposure was for a landscape.
LIT_SKY = 0.06


@dataclass(frozen=True, kw_only=True)
class BrightSpot:
    """Centre and radius (half the longest extent) of a bright spot, in pixels of the image."""

    x: float
    y: float
    radius: float
    #: Its light is clipped: the exposure was for something darker.
    burnt: bool = True
    #: Median (red - blue) / (red + green + blue) of linear light.
    redness: float = 0.0
    #: Spots in the picture of a tenth of its light or more, itself included.
    crowd: int = 1
    #: Other things stand in the light: a lit sky, lamps, clouds. False for a spot alone in black.
    company: bool = True
    #: Half the longest extent of any spot.
    largest: float = 0.0
    #: Small dots that lie in one line with the spot, as a planet's moons do (0 where other dots lie elsewhere).
    in_line: int = 0


def brightest_spot(
    luminance: Float32Array, largest_px: float = 60.0, redness: Float32Array | None = None
) -> BrightSpot | None:
    """The largest compact spot brighter than half the picture's peak above its sky; the least coloured of several.

    None where the picture is filled, empty, or its brightest thing is larger than `largest_px` across or part of a
    larger one.
    """
    sky = float(np.median(luminance[::3, ::3]))
    if _large_things(luminance, sky, largest_px):
        return None
    smooth = np.asarray(cv2.GaussianBlur(luminance, (0, 0), 1.0), np.float32)
    peak = float(smooth.max())
    # grain is no disc: it must stand well above what most of the picture scatters by
    grain = 1.4826 * float(np.median(np.abs(luminance[::3, ::3] - sky)))
    if peak - sky < max(0.05, 12.0 * grain):
        return None
    bright = (luminance > sky + 0.5 * (peak - sky)).astype(np.uint8)
    _, labels, stats, centres = cv2.connectedComponentsWithStats(bright, connectivity=8)
    extent = stats[1:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1, initial=0)
    if not len(extent) or extent.max() > largest_px:
        return None
    area = stats[1:, cv2.CC_STAT_AREA]
    if area.max() < LEAST_AREA:
        return None
    alike = np.flatnonzero(area >= max(COMPARABLE * area.max(), LEAST_AREA))
    colours = np.array([_redness(redness, labels, int(k)) for k in alike])
    chosen = int(np.argmin(np.round(colours, 1) - 1e-6 * area[alike]))
    k = int(alike[chosen])
    x, y = float(centres[k + 1][0]), float(centres[k + 1][1])
    radius = float(extent[k]) / 2
    if _part_of_more(smooth, sky, peak, x, y, radius):
        return None
    burnt = bool(np.percentile(luminance[labels == k + 1], 75) > BURNT)
    company, in_line = _surroundings(smooth, sky, peak, x, y, radius)
    dim = (smooth > sky + CROWD_LIGHT * (peak - sky)).astype(np.uint8)
    *_, dim_stats, _ = cv2.connectedComponentsWithStats(dim, connectivity=8)
    crowd = int(np.sum(dim_stats[1:, cv2.CC_STAT_AREA] >= 4))
    return BrightSpot(
        x=x,
        y=y,
        radius=radius,
        burnt=burnt,
        redness=float(colours[chosen]),
        crowd=crowd,
        company=company,
        largest=float(extent.max()) / 2,
        in_line=in_line,
    )


def _large_things(luminance: Float32Array, sky: float, largest_px: float) -> bool:
    """A bright thing larger than a spot shows even at a quarter of the size: most pictures end here, cheaply."""
    quarter = cv2.resize(luminance, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    bright = (quarter > sky + 0.5 * (float(luminance.max()) - sky)).astype(np.uint8)
    stats = cv2.connectedComponentsWithStats(bright, connectivity=8)[2]
    extent = stats[1:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(initial=0)
    return bool(4 * (extent - 2) > largest_px)


def _redness(redness: Float32Array | None, labels: np.ndarray, k: int) -> float:
    return 0.0 if redness is None else float(np.median(redness[labels == k + 1]))


def _part_of_more(smooth: Float32Array, sky: float, peak: float, x: float, y: float, radius: float) -> bool:
    """The spot is the bright part of something larger, not a disc in the sky; its own halo is narrower than this."""
    reach = int(5 * radius) + 1
    x0, y0 = max(int(x) - reach, 0), max(int(y) - reach, 0)
    near = smooth[y0 : int(y) + reach + 1, x0 : int(x) + reach + 1]
    jj, ii = np.ogrid[: near.shape[0], : near.shape[1]]
    gap = np.hypot(ii + x0 - x, jj + y0 - y)
    ring = (gap > 2.5 * radius) & (gap < 5.0 * radius)
    return bool(ring.any() and np.mean(near[ring] > sky + 0.04 * (peak - sky)) > 0.35)


def _surroundings(smooth: Float32Array, sky: float, peak: float, x: float, y: float, radius: float) -> tuple[bool, int]:
    """Whether other things are lit, and how many dots stand in line with the spot where all of them do."""
    if np.sqrt(max(sky, 0.0)) > LIT_SKY:
        return True, 0
    jj, ii = np.ogrid[: smooth.shape[0], : smooth.shape[1]]
    # within four radii all light may be the spot's own glow, ring or blur
    away = (ii - x) ** 2 + (jj - y) ** 2 > (4.0 * radius) ** 2
    lit = ((smooth > sky + 0.02 * (peak - sky)) & away).astype(np.uint8)
    n, _, stats, centres = cv2.connectedComponentsWithStats(lit, connectivity=8)
    if n <= 1:
        return False, 0
    if stats[1:, cv2.CC_STAT_AREA].max() > 0.5 * np.pi * radius**2 or n > 60:
        return True, 0  # as large as half the spot: no star and no satellite
    gaps = centres[1:] - (x, y)
    if 2 <= n - 1 <= 8:
        axis = np.linalg.svd(gaps, full_matrices=False)[2][0]
        aside = np.abs(gaps @ np.array([-axis[1], axis[0]]))
        if (aside < 0.6 * radius + 2.0).all():
            return False, n - 1
    return False, 0
