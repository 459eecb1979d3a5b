"""The picture's own sunlit limb beside the one that the pose puts there: a second witness, for where no patch stands.

Alone it accuses too many right placements: glow, branches, a double exposure and a field's edge all move an outline. So
it only asks for a second look at that side: where patches of the surface lie right there, they are believed.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.checks.shifted_parts import from_middle, side_of
from moondesk.moon.geometry import disc_axes, disc_to_pixel, in_field, lift, unit_vector
from moondesk.placement.second_look import SecondLook
from moondesk.records import FieldStop, Float32Array, FloatArray, Pose

#: Rays round the disc, and the radii that each is looked at.
RAYS, INNER, OUTER, STEPS = 180, 0.90, 1.12, 56
#: Sine of the Sun's height from which the limb counts as sunlit; fewer rays with an edge tell nothing.
SUNLIT, LEAST_RAYS = 0.1, 20
#: What the outline may depart from its own median, %R: one standard deviation, and outwards in a twentieth of it.
SPREAD_PCT, OUTWARD_PCT = 1.5, 2.0
#: A side is believed where so many patches lie right (%R) within this angle of it, in the outer part of the disc.
BELIEVED, RIGHT_PCT, ABOUT_DEG, OUTER_PART = 5, 1.0, 40.0, 0.75


@dataclass(frozen=True)
class Outline:
    """off_pct: how far the outline stands out (or in) at its worst side, %R; way: pixel direction of that side."""

    off_pct: float
    way: tuple[float, float]

    @property
    def side(self) -> str:
        return side_of(np.array(self.way))


def outline_off(luminance: Float32Array, pose: Pose, field: FieldStop | None) -> Outline | None:
    """Where the sunlit limb of a linear-light picture departs from the pose's; None where it does not."""
    turn = np.arange(RAYS) * (2 * np.pi / RAYS)
    radii = np.linspace(INNER, OUTER, STEPS)
    u, v = np.outer(np.cos(turn), radii), np.outer(np.sin(turn), radii)
    x, y = disc_to_pixel(pose, u, v)
    height, width = luminance.shape
    inside = (x > 0) & (y > 0) & (x < width - 1) & (y < height - 1)
    if field is not None:
        inside &= in_field(field, x, y)
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    near = lift(0.97 * np.cos(turn), 0.97 * np.sin(turn), axes, pose.distance_radii)
    sun = near @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    rays = np.flatnonzero(inside.all(axis=1) & (sun > SUNLIT))
    if len(rays) < LEAST_RAYS:
        return None
    shown = cv2.remap(luminance, x[rays].astype(np.float32), y[rays].astype(np.float32), cv2.INTER_LINEAR)
    off = _crossings(np.asarray(shown, float), radii)
    there = np.isfinite(off)
    if there.sum() < LEAST_RAYS:
        return None
    rays, off = rays[there], off[there]
    off = off - np.median(off)
    spread = float(np.percentile(off, 84) - np.percentile(off, 16)) / 2
    if spread < SPREAD_PCT and np.percentile(off, 95) < OUTWARD_PCT:
        return None
    far = np.abs(off) >= np.percentile(np.abs(off), 85)
    at = from_middle(pose, np.column_stack([np.cos(turn[rays[far]]), np.sin(turn[rays[far]])]))
    way = at.mean(axis=0)
    return Outline(float(np.median(np.abs(off[far]))), (float(way[0]), float(way[1])))


def _crossings(shown: FloatArray, radii: FloatArray) -> FloatArray:
    """(n,) where each ray falls to half of its step for the last time, %R beyond the limb; nan without a step."""
    inner, outer = shown[:, :10].mean(axis=1), shown[:, -8:].mean(axis=1)
    step = inner - outer
    clear = step > 0.3 * np.median(step)
    above = shown > (inner + outer)[:, None] / 2
    last = shown.shape[1] - 1 - np.argmax(above[:, ::-1], axis=1)
    return np.where(clear & above.any(axis=1), 100 * (radii[last] - 1.0), np.nan)


def side_confirmed(look: SecondLook, pose: Pose, outline: Outline) -> bool:
    """Patches of the surface lie right on that side."""
    if not len(look.uv):
        return False
    at = from_middle(pose, look.uv)
    turn = np.degrees(np.arctan2(at[:, 1], at[:, 0]) - np.arctan2(outline.way[1], outline.way[0]))
    beside = (np.abs((turn + 180) % 360 - 180) < ABOUT_DEG) & (np.hypot(*at.T) > OUTER_PART)
    return bool((np.hypot(*look.smooth[beside].T) < RIGHT_PCT).sum() >= BELIEVED)
