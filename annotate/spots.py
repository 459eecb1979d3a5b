"""The small bright disc of a hand-held wide shot: found as one compact bright spot, never as a place on the Moon."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from annotate.records import Float32Array


@dataclass(frozen=True)
class Spot:
    """Centre and radius (half the longest extent) of a bright spot, in pixels of the image."""

    x: float
    y: float
    radius: float


def brightest_spot(luminance: Float32Array, largest_px: float = 60.0) -> Spot | None:
    """The largest compact spot brighter than half the picture's peak above its sky, if no larger bright thing is there.

    None where the picture is filled, empty, or its brightest thing is larger than `largest_px` across.
    """
    sky = float(np.median(luminance))
    peak = float(cv2.GaussianBlur(luminance, (0, 0), 1.0).max())
    # grain is no disc: it must stand well above what most of the picture scatters by
    grain = 1.4826 * float(np.median(np.abs(luminance - sky)))
    if peak - sky < max(0.05, 12.0 * grain):
        return None
    bright = (luminance > sky + 0.5 * (peak - sky)).astype(np.uint8)
    _, _, stats, centres = cv2.connectedComponentsWithStats(bright, connectivity=8)
    extent = stats[1:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1, initial=0)
    if not len(extent) or extent.max() > largest_px:
        return None
    k = int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    if stats[k + 1, cv2.CC_STAT_AREA] < 12:
        return None
    return Spot(float(centres[k + 1][0]), float(centres[k + 1][1]), float(extent[k]) / 2)
