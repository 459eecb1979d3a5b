"""A part of the disc that lies elsewhere than the pose has it, and where that is, in words.

A stitched half, a lens at an eyepiece, a print taken askew: most patches agree, and the names of one side are wrong.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from moondesk.moon.geometry import disc_to_pixel
from moondesk.placement.second_look import SecondLook
from moondesk.records import FloatArray, Pose

#: A quarter of the disc is off where the median of its patches is (%R); a smaller part where as large a share of all
#: patches, and as many, have their neighbourhood off by it. Right placements: below 0.5 and none.
OFF_PCT, LEAST_IN_QUARTER, PART, LEAST_IN_PART = 1.0, 12, 0.02, 5
#: Patches of a blurred picture scatter: their neighbourhood is off by this many standard deviations of one patch.
CHANCE = 2.0
#: A part whose middle is nearer than this (radii) to the disc's has no side.
MIDDLE = 0.25

SIDES = ("right", "upper right", "top", "upper left", "left", "lower left", "bottom", "lower right")


@dataclass(frozen=True)
class Astray:
    """side: words for where; off_pct: how far its surface lies from where the pose has it, %R."""

    side: str
    off_pct: float


def astray(look: SecondLook, pose: Pose) -> Astray | None:
    """The part of the disc that lies elsewhere, None where there is none."""
    if not len(look.off):
        return None
    at = from_middle(pose, look.uv)
    worst = max((_quarter(look.off, at, turn) for turn in range(8)), key=lambda part: part.off_pct)
    if worst.off_pct > OFF_PCT:
        return worst
    size = np.hypot(*look.smooth.T)
    apart = size > max(OFF_PCT, CHANCE * look.scatter_pct)
    if apart.sum() >= LEAST_IN_PART and apart.mean() >= PART:
        return Astray(side_of(at[apart].mean(axis=0)), float(np.median(size[apart])))
    return None


def from_middle(pose: Pose, uv: FloatArray) -> FloatArray:
    """(N, 2) pixel directions of disc points from the disc's middle, radii."""
    x, y = disc_to_pixel(pose, uv[:, 0], uv[:, 1])
    x0, y0 = disc_to_pixel(pose, 0.0, 0.0)
    return np.column_stack([x - x0, y - y0]) / pose.radius_px


def side_of(way: FloatArray) -> str:
    """Words for a direction (x right, y down) from the disc's middle, radii."""
    if np.hypot(*way) < MIDDLE:
        return "middle"
    return SIDES[round(float(np.degrees(np.arctan2(-way[1], way[0]))) / 45) % 8]


def _quarter(off: FloatArray, at: FloatArray, turn: int) -> Astray:
    """The quarter of the disc about the turn-th of eight directions."""
    angle = np.degrees(np.arctan2(-at[:, 1], at[:, 0])) - 45 * turn
    inside = np.abs((angle + 180) % 360 - 180) <= 45
    if inside.sum() < LEAST_IN_QUARTER:
        return Astray(SIDES[turn], 0.0)
    return Astray(SIDES[turn], float(np.hypot(*np.median(off[inside], axis=0))))
