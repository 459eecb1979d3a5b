"""The picture's brightness along the Sun's direction over the ground: lines side by side through a point."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.moon.geometry import disc_axes, disc_to_pixel, project, unit_vector
from moondesk.records import MOON_RADIUS_KM, Float32Array, FloatArray, Pose

#: Cosine of the view below which the ground is too slanting.
LEAST_VIEW = 0.2


@dataclass(frozen=True, eq=False, kw_only=True)
class SunLine:
    """A line over the mean sphere away from the Sun, through a point at 0. km: (N,) along it; light: (M, N) linear
    brightness of M lines side by side; flat: (N,) what bare level ground would show; sun_deg: (N,) height of the Sun;
    km_per_px: along the line where it passes the point; vectors: (N, 3) of the middle line."""

    km: FloatArray
    light: FloatArray
    flat: FloatArray
    sun_deg: FloatArray
    km_per_px: float
    vectors: FloatArray


def sun_line(
    luminance: Float32Array, pose: Pose, point: tuple[float, float], reach_km: tuple[float, float], aside_km: FloatArray
) -> SunLine | None:
    """luminance: (H, W) linear; pose: in its pixels; point: latitude and longitude, degrees; reach_km: how far towards and
    away from the Sun; aside_km: where the lines run, right and left of the point. None where part of it is off the picture or the near side."""
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    sun = unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    here = unit_vector(*point)
    away = here * float(here @ sun) - sun
    size = float(np.linalg.norm(away))
    if size < 1e-3:
        return None
    away /= size
    side = np.cross(here, away)
    step_km = 0.25 * _km_per_px(pose, axes, here, away)
    km = np.arange(-reach_km[0], reach_km[1] + step_km, step_km)
    theta = km / MOON_RADIUS_KM
    middle = np.cos(theta)[:, None] * here + np.sin(theta)[:, None] * away
    points = middle[None] + (np.asarray(aside_km, float) / MOON_RADIUS_KM)[:, None, None] * side
    points /= np.linalg.norm(points, axis=-1, keepdims=True)
    disc = project(points, axes, pose.distance_radii)
    if disc.mu.min() < LEAST_VIEW:
        return None
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    height, width = luminance.shape
    if x.min() < 1 or y.min() < 1 or x.max() > width - 2 or y.max() > height - 2:
        return None
    light = cv2.remap(luminance, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR).astype(float)
    sine = middle @ sun
    mu0, mu = np.maximum(sine, 0.01), disc.mu[len(aside_km) // 2]
    return SunLine(
        km=km,
        light=light,
        flat=mu0 / (mu0 + mu),
        sun_deg=np.degrees(np.arcsin(np.clip(sine, -1, 1))),
        km_per_px=4.0 * step_km,
        vectors=middle,
    )


def _km_per_px(pose: Pose, axes: FloatArray, here: FloatArray, away: FloatArray) -> float:
    step = 1.0 / MOON_RADIUS_KM
    both = np.stack([here, np.cos(step) * here + np.sin(step) * away])
    disc = project(both, axes, pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    return 1.0 / max(float(np.hypot(x[1] - x[0], y[1] - y[0])), 1e-6)
