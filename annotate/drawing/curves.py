"""Curves on the Moon as they lie in the picture: great circles and rims, the visible side alone. Numbers only."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from moondesk.moon.geometry import disc_axes, disc_to_pixel, project, unit_vector
from moondesk.records import MOON_RADIUS_KM, Feature, FloatArray, Pose

Points = tuple[tuple[float, float], ...]


def circle_about(lat_deg: float, lon_deg: float, radius_deg: float, n: int) -> FloatArray:
    """n unit vectors (n, 3) of the circle at an angular distance from a centre, from its north point eastwards."""
    centre = unit_vector(lat_deg, lon_deg)
    lon = np.radians(lon_deg)
    east = np.array([-np.sin(lon), np.cos(lon), 0.0])
    north = np.cross(centre, east)
    t = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)[:, None]
    r = np.radians(radius_deg)
    return np.asarray(np.cos(r) * centre + np.sin(r) * (np.cos(t) * north + np.sin(t) * east))


def stretches(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Where a row of truths begins and ends, for each."""
    flank = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int))).tolist()
    return list(zip(flank[::2], flank[1::2], strict=True))


def visible_runs(pose: Pose, vectors: FloatArray, closed: bool) -> tuple[Points, ...]:
    """The visible pieces of a curve of unit vectors (n, 3) in pixels. A piece that reaches the limb ends on it."""
    if closed:
        vectors = np.concatenate([vectors, vectors[:1]])
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    mu = project(vectors, axes, pose.distance_radii).mu
    seen = mu > 0
    if closed and not seen.all() and seen.any():  # start where the curve is hidden, so that no piece is torn
        first = int(np.argmin(seen[:-1]))
        vectors = np.concatenate([vectors[:-1][first:], vectors[: first + 1]])
        mu = project(vectors, axes, pose.distance_radii).mu
        seen = mu > 0
    runs = []
    for a, b in stretches(seen):
        pieces = [vectors[a:b]]
        if a > 0:
            pieces.insert(0, _crossing(vectors[a - 1], vectors[a], mu[a - 1], mu[a]))
        if b < len(vectors):
            pieces.append(_crossing(vectors[b], vectors[b - 1], mu[b], mu[b - 1]))
        run = np.concatenate(pieces)
        disc = project(run, axes, pose.distance_radii)
        x, y = disc_to_pixel(pose, disc.u, disc.v)
        if len(x) > 1:
            runs.append(tuple(zip(x.tolist(), y.tolist(), strict=True)))
    return tuple(runs)


def _crossing(hidden: FloatArray, seen: FloatArray, mu_hidden: float, mu_seen: float) -> FloatArray:
    s = mu_seen / (mu_seen - mu_hidden)
    point = seen + s * (hidden - seen)
    return np.asarray(point / np.linalg.norm(point))[None, :]


def terminator(pose: Pose, n: int = 720) -> tuple[Points, ...]:
    """The line on the visible side where the Sun's centre stands on the mean horizon."""
    return visible_runs(pose, circle_about(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg, 90.0, n), True)


def equator(pose: Pose, n: int = 720) -> tuple[Points, ...]:
    """Latitude 0."""
    return visible_runs(pose, circle_about(90.0, 0.0, 90.0, n), True)


def zero_meridian(pose: Pose, n: int = 361) -> tuple[Points, ...]:
    """Longitude 0 from the south pole to the north pole."""
    return visible_runs(pose, unit_vector(np.linspace(-90.0, 90.0, n), np.zeros(n)), False)


def limb(pose: Pose, n: int = 720) -> Points:
    """The whole limb, a closed curve (first point not repeated)."""
    t = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
    x, y = disc_to_pixel(pose, np.cos(t), np.sin(t))
    return tuple(zip(x.tolist(), y.tolist(), strict=True))


def rim(pose: Pose, lat_deg: float, lon_deg: float, diameter_km: float, n: int = 72) -> tuple[Points, ...]:
    """A circle on the sphere: closed where all of it is visible, else its visible pieces."""
    radius_deg = float(np.degrees(diameter_km / 2.0 / MOON_RADIUS_KM))
    return visible_runs(pose, circle_about(lat_deg, lon_deg, radius_deg, n), True)


def rings(pose: Pose, feature: Feature, diameter_km: float | None = None) -> Iterator[tuple[Points, bool]]:
    """A feature's circle, or another about its centre: its visible pieces, and whether one is all of it and closed."""
    for run in rim(pose, feature.lat_deg, feature.lon_deg, diameter_km or feature.size_km):
        whole = bool(np.hypot(run[0][0] - run[-1][0], run[0][1] - run[-1][1]) < 1e-6)
        yield (run[:-1] if whole else run), whole


def clip_to_frame(points: Points, width: int, height: int, margin: float) -> tuple[Points, ...]:
    """The pieces of a curve whose points lie in the frame, grown by margin pixels (whole steps: not cut exactly)."""
    p = np.asarray(points)
    near = (np.abs(p[:, 0] - (width - 1) / 2) <= (width - 1) / 2 + margin) & (
        np.abs(p[:, 1] - (height - 1) / 2) <= (height - 1) / 2 + margin
    )
    near |= np.append(near[1:], False) | np.insert(near[:-1], 0, False)  # keep the steps that cross the edge
    return tuple(points[a:b] for a, b in stretches(near) if b - a > 1)
