"""After the pose: is the surface where the pose has it, all over the disc? Looked for wider than the solver did.

A solver's patches are those it agrees with: a part of the disc on another scale, a stitched half, what a lens or a wave
of a rolling shutter has moved, is left out as noise. So every lit patch is looked for once more, far about its place,
and what is found elsewhere than stated is kept with its place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from moondesk.moon.geometry import disc_axes, project
from moondesk.placement.matching import Matches, NorthUpFrame, PatchSearch, Prediction, match_patches
from moondesk.placement.solver import predict_pixels
from moondesk.records import Float32Array, FloatArray, Pose

#: Half width of a patch, how far it is looked for, and the distance between patches, px of the fine frame (140 to the
#: radius); patches looked for at most.
HALF_PX, REACH_PX, SPACING_PX, MOST = 8, 12, 8, 180
#: A patch found with less than this correlation may lie anywhere.
FOUND = 0.5
#: So many neighbours, no further than this (radii), tell what is smooth; fewer than the third tell nothing.
NEIGHBOURS, NEAR, LEAST_NEIGHBOURS = 9, 0.35, 5


@dataclass(frozen=True, eq=False)
class SecondLook:
    """Of the N patches that were found: matches; uv (N, 2), their disc coordinates; off (N, 2), the picture's place
    less the pose's, %R, in pixel directions; smooth (N, 2), the median of it over the neighbourhood."""

    matches: Matches
    uv: FloatArray
    off: FloatArray
    smooth: FloatArray

    @property
    def scatter_pct(self) -> float:
        """One standard deviation per axis of a patch about its neighbourhood, %R."""
        if not len(self.off):
            return 0.0
        return float(np.median(np.hypot(*(self.off - self.smooth).T)) / 1.1774)

    def at(self, uv: FloatArray) -> tuple[FloatArray, FloatArray]:
        """At disc points (M, 2): (M, 2) the smooth part of what is off, %R; (M,) radii to the nearest patch found."""
        if not len(self.uv):
            return np.zeros((len(uv), 2)), np.full(len(uv), np.inf)
        away = _apart(uv.astype(np.float32), self.uv.astype(np.float32))
        nearest = away.min(axis=1)
        # the nearest patches weigh most; beyond the last patch its own holds
        weight = np.square(1.0 / np.square(np.float32(0.05) + away - nearest[:, None]))
        smooth = (weight @ self.smooth.astype(np.float32)) / weight.sum(axis=1, keepdims=True)
        return smooth.astype(float), nearest.astype(float)


def look_again(frame: NorthUpFrame, prediction: Prediction, pose: Pose) -> SecondLook:
    """pose: that of the frame."""
    matches = match_patches(frame, prediction, pose, PatchSearch(HALF_PX, REACH_PX, SPACING_PX, MOST))
    return second_look(matches, pose)


def second_look(matches: Matches, pose: Pose) -> SecondLook:
    """What the pose leaves of patches that were looked for."""
    found = matches.correlation > FOUND
    kept = Matches(
        surface=matches.surface[found],
        xy=matches.xy[found],
        correlation=matches.correlation[found],
        sharpness=matches.sharpness[found],
        tried=matches.tried,
        frame_px=matches.frame_px,
    )
    disc = project(kept.surface, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
    uv = np.column_stack([disc.u, disc.v])
    off = 100 * (kept.xy - predict_pixels(pose, kept.surface)) / pose.radius_px
    return SecondLook(kept, uv, off, _smooth(uv, off))


def _apart(a: Float32Array, b: Float32Array) -> Float32Array:
    """(M, N) distances of points (M, 2) from points (N, 2)."""
    return np.asarray(np.sqrt(np.maximum((a * a).sum(1)[:, None] + (b * b).sum(1) - 2 * a @ b.T, 0.0)), np.float32)


def _smooth(uv: FloatArray, off: FloatArray) -> FloatArray:
    if len(uv) < LEAST_NEIGHBOURS:
        return np.zeros_like(off)
    apart = _apart(uv.astype(np.float32), uv.astype(np.float32))
    order = np.argpartition(apart, min(NEIGHBOURS, len(uv) - 1), axis=1)[:, :NEIGHBOURS]
    near = np.take_along_axis(apart, order, axis=1) < NEAR
    # the patch itself stands in for neighbours that are too far
    values = np.where(near[..., None], off[order], off[:, None])
    few = near.sum(axis=1) < LEAST_NEIGHBOURS
    values[few] = 0.0
    return np.asarray(np.median(values, axis=1))
