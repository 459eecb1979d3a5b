"""Every named feature at its pixel: how well fixed, how high the Sun, how much of it lit, how well seen here."""

from __future__ import annotations

import cv2
import numpy as np

from annotate.catalogue import feature_arrays, features
from annotate.geometry import disc_axes, project, sun_altitude_deg, surface_to_pixel, unit_vector
from annotate.prominence import prominence
from annotate.records import MOON_RADIUS_KM, Feature, FeatureMark, FloatArray, Pose
from annotate.refining import Placed
from annotate.solver import pixel_sigma

LEAST_KM = 15.0
#: Fixes the zero of longitude, so it is always carried.
ALWAYS = "Mösting A"
#: The reference maps' own registration and the sphere that they are drawn on, percent of the radius, per axis.
FLOOR_PCT_RADIUS = 0.011
#: Blur shifts what lies between light and dark alike for all patches: share of the edge's width, per axis.
BLUR_SHARE = 0.008
#: Points over a feature's extent on which its light is sampled: the centre and three rings.
_RINGS = ((0.0, 1), (0.35, 6), (0.65, 10), (0.92, 14))


#: What must be told apart of a long feature is its width, km, or this share of its length (common practice).
WIDTH_KM = {"rille": 3.0, "ridge": 10.0, "scarp": 6.0, "valley": 12.0, "crater chain": 8.0, "cape": 40.0}
RANGE_WIDTH = 0.2


def _width_km(feature: Feature) -> float:
    if feature.kind == "mountain range":
        return RANGE_WIDTH * feature.size_km
    return min(feature.size_km, WIDTH_KM.get(feature.kind, feature.size_km))


def _extent() -> FloatArray:
    turns = [(r, 2 * np.pi * k / n) for r, n in _RINGS for k in range(n)]
    return np.array([(r * np.cos(t), r * np.sin(t)) for r, t in turns])


def mark_features(pose: Pose, placed: Placed, width: int, height: int, blur_px: float) -> tuple[FeatureMark, ...]:
    """Marks of the named features of 15 km or more (and Mösting A) on the visible side and inside the frame.

    pose: in full-resolution pixels; placed: for the evidence; blur_px: width of the picture's edge, full resolution.
    """
    table, names = feature_arrays(), features()
    wanted = (~table.lettered & (table.size_km >= LEAST_KM)) | np.array([f.name == ALWAYS for f in names])
    index = np.flatnonzero(wanted)
    points = surface_to_pixel(pose, table.lat_deg[index], table.lon_deg[index])
    # a large sea may reach into the frame with its centre outside: it can be named on the part that shows
    reach = np.where(table.size_km[index] > 150.0, table.size_km[index] / 2 / MOON_RADIUS_KM * pose.radius_px, 0.0)
    framed = (points.mu > 0.02) & (points.x >= -reach) & (points.y >= -reach)
    framed &= (points.x <= width - 1 + reach) & (points.y <= height - 1 + reach)
    index, x, y, mu = index[framed], points.x[framed], points.y[framed], points.mu[framed]
    lat, lon, size = table.lat_deg[index], table.lon_deg[index], table.size_km[index]
    surface = unit_vector(lat, lon)
    altitude = sun_altitude_deg(lat, lon, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    lit = lit_fraction(surface, size / 2 / MOON_RADIUS_KM, pose)
    floor = np.hypot(FLOOR_PCT_RADIUS / 100 * pose.radius_px, BLUR_SHARE * blur_px)
    sigma = np.hypot(pixel_sigma(pose, surface), floor)
    radius = size / 2 / MOON_RADIUS_KM * pose.radius_px
    across_px = np.array([_width_km(names[k]) for k in index]) / MOON_RADIUS_KM * pose.radius_px
    seen = _seen(surface, across_px, mu, lit, altitude, placed, blur_px)
    rank = prominence(table.take(index), altitude, lit, mu)
    return tuple(
        FeatureMark(names[k], *(float(c[n]) for c in (x, y, sigma, radius, altitude, mu, lit, seen, rank)))
        for n, k in enumerate(index)
    )


def lit_fraction(surface: FloatArray, radius_rad: FloatArray, pose: Pose) -> FloatArray:
    """(N,) share of the circle of angular radius `radius_rad` about each surface vector (N, 3) that has the Sun up."""
    up = np.array([0.0, 0.0, 1.0])
    east = np.cross(up, surface)
    east /= np.maximum(np.linalg.norm(east, axis=1, keepdims=True), 1e-9)
    north = np.cross(surface, east)
    offsets = _extent()
    spread = radius_rad[:, None, None] * (
        offsets[None, :, 0, None] * east[:, None, :] + offsets[None, :, 1, None] * north[:, None, :]
    )
    points = surface[:, None, :] + spread
    points /= np.linalg.norm(points, axis=2, keepdims=True)
    sun = unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    # the Sun's upper edge counts: a quarter of a degree below the horizon of its centre
    return np.asarray((points @ sun > np.sin(np.radians(-0.27))).mean(axis=1))


def _seen(surface: FloatArray, width_px: FloatArray, mu: FloatArray, lit: FloatArray, altitude: FloatArray,
          placed: Placed, blur_px: float) -> FloatArray:
    """(N,) probability that a feature can be made out: lit, larger than the blur as foreshortened, and agreed with.

    Five resolution elements across make a ring, two a spot (common practice); the local correlation between picture
    and prediction says whether anything of it is really there.
    """
    axes = disc_axes(placed.pose.libration_lat_deg, placed.pose.libration_lon_deg)
    disc = project(surface, axes, placed.pose.distance_radii)
    middle = (placed.evidence.shape[0] - 1) / 2
    px = (middle + disc.u * placed.evidence_px).astype(np.float32)
    py = (middle - disc.v * placed.evidence_px).astype(np.float32)
    agreed = cv2.remap(placed.evidence, px[:, None], py[:, None], cv2.INTER_LINEAR).ravel() if len(px) else np.zeros(0)
    across = width_px * np.sqrt(np.maximum(mu, 0.02)) / max(blur_px, 1.2)
    resolved = 1 / (1 + np.exp(-(across - 2.5) / 0.8))
    shown = np.clip(lit / 0.3, 0, 1) * np.clip((altitude + 6.0) / 4.0, 0.25, 1)
    there = np.clip((agreed - 0.1) / 0.5, 0.05, 1)
    return np.asarray(np.where(lit > 0, resolved * shown * there, 0.0))
