"""Every named feature at its pixel: how well fixed, how high the Sun, how much of it lit, how well seen here."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache

import numpy as np

from moondesk.moon.catalogue import FeatureArrays, all_features, feature_arrays
from moondesk.moon.geometry import disc_axes, disc_to_pixel, project, unit_vector
from moondesk.placement.solver import pixel_sigma
from moondesk.records import MOON_RADIUS_KM, Annotation, Feature, FeatureMark, Float32Array, FloatArray, Pose
from moondesk.visibility.discernible import WITHIN, extents, probability_discernible, resolution_factor
from moondesk.visibility.prominence import prominence

LEAST_KM = 15.0
#: Fixes the zero of longitude, so it is always carried.
ALWAYS = "Mösting A"
#: The reference maps' own registration and the sphere that they are drawn on, percent of the radius, per axis.
FLOOR_PCT_RADIUS = 0.006
#: What must be told apart of a long feature is its width, km, or this share of its length (common practice).
WIDTH_KM = {"rille": 3.0, "ridge": 10.0, "scarp": 6.0, "valley": 12.0, "crater chain": 8.0, "cape": 40.0}
RANGE_WIDTH = 0.2


def _width_km(feature: Feature) -> float:
    if feature.kind == "mountain range":
        return RANGE_WIDTH * feature.size_km
    return min(feature.size_km, WIDTH_KM.get(feature.kind, feature.size_km))


@dataclass(frozen=True, eq=False, kw_only=True)
class _NamedFeatures:
    """What does not change from picture to picture of the features that are marked, (N,) each."""

    records: tuple[Feature, ...]
    table: FeatureArrays
    surface: FloatArray
    radius_rad: FloatArray
    width_rad: FloatArray
    #: Half the size of those large enough to be marked with their centre outside the frame, radii; else 0.
    reach: FloatArray
    long: np.ndarray


@cache
def _named_features() -> _NamedFeatures:
    every, names = feature_arrays(), all_features()
    wanted = (~every.lettered & (every.size_km >= LEAST_KM)) | np.array([f.name == ALWAYS for f in names])
    index = np.flatnonzero(wanted)
    table, records = every.take(index), tuple(names[k] for k in index)
    radius = table.size_km / 2 / MOON_RADIUS_KM
    width = np.array([_width_km(f) for f in records]) / MOON_RADIUS_KM
    return _NamedFeatures(
        records=records,
        table=table,
        surface=unit_vector(table.lat_deg, table.lon_deg),
        radius_rad=radius,
        width_rad=width,
        reach=np.where(table.size_km > 150.0, radius, 0.0),
        long=width < 2 * radius,
    )


def mark_features(
    pose: Pose, working: Pose, luminance: Float32Array, width: int, height: int, blur_px: float
) -> tuple[FeatureMark, ...]:
    """Marks of the named features of 15 km or more (and Mösting A) on the visible side and inside the frame.

    pose: in full-resolution pixels; working: the same in those of the working picture; luminance: that picture, where
    what can be made out is measured; width, height: of the full picture; blur_px: width of its edges. Time: 9 ms.
    """
    named = _named_features()
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    disc = project(named.surface, axes, pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    # a large sea may reach into the frame with its centre outside: it can be named on the part that shows
    reach = named.reach * pose.radius_px
    framed = (disc.mu > 0.02) & (x >= -reach) & (y >= -reach) & (x <= width - 1 + reach) & (y <= height - 1 + reach)
    index = np.flatnonzero(framed)
    x, y, mu, surface = x[index], y[index], disc.mu[index], named.surface[index]
    radius_rad, table = named.radius_rad[index], named.table.take(index)
    sine = surface @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    altitude = np.degrees(np.arcsin(np.clip(sine, -1, 1)))
    # where the Sun is further below the horizon than the feature reaches, nothing of it is lit
    some = np.flatnonzero(altitude > -np.degrees(radius_rad) - 1.0)
    points = extents(surface[some], radius_rad[some])
    lit, seen = np.zeros(len(index)), np.zeros(len(index))
    lit[some] = _sunlit_share(points, pose)
    view = np.sqrt(np.maximum(mu, 0.02))
    across = view * pose.radius_px / max(blur_px, 1.0)
    seen[some] = probability_discernible(luminance, working, points, (2 * radius_rad * across)[some])
    seen *= np.where(named.long[index], resolution_factor(named.width_rad[index] * across), 1.0) * (lit > 0)
    floor = FLOOR_PCT_RADIUS / 100 * pose.radius_px
    sigma = np.hypot(pixel_sigma(pose, surface), floor)
    rank = prominence(table, altitude, lit, mu)
    columns = (x, y, sigma, radius_rad * pose.radius_px, altitude, mu, lit, seen, rank)
    names = [field.name for field in fields(FeatureMark)][1 : 1 + len(columns)]
    rows = zip(*(c.tolist() for c in columns), strict=True)
    return tuple(
        FeatureMark(feature=named.records[k], **dict(zip(names, row, strict=True)))
        for k, row in zip(index.tolist(), rows, strict=True)
    )


def is_listed(mark: FeatureMark, annotation: Annotation) -> bool:
    """True for what lists of a picture tell: named features of 15 km or more, on the visible hemisphere, in the frame;
    and the crater that defines the coordinates."""
    if mark.feature.name == ALWAYS:
        return True
    inside = -0.5 <= mark.x < annotation.width - 0.5 and -0.5 <= mark.y < annotation.height - 0.5
    named = mark.feature.parent is None and mark.feature.size_km >= LEAST_KM
    return named and inside and mark.cos_view > 0


def lit_fraction(surface: FloatArray, radius_rad: FloatArray, pose: Pose) -> FloatArray:
    """(N,) share of the circle of angular radius `radius_rad` about each surface vector (N, 3) that has the Sun up."""
    return _sunlit_share(extents(surface, radius_rad), pose)


def _sunlit_share(points: Float32Array, pose: Pose) -> FloatArray:
    sun = unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg).astype(np.float32)
    # the Sun's upper edge counts: a quarter of a degree below the horizon of its centre
    return np.asarray((points[:, :WITHIN] @ sun > np.sin(np.radians(-0.27))).mean(axis=1, dtype=np.float64))
