"""How much of a feature is in sunlight, and how much of that a picture shows: shares of its ground by area.

The mean sphere decides: a point counts as lit where the Sun's upper edge is above its horizon; of relief nothing is
known here. The ground of a crater is the circle of its listed size. A sea and its like is what `moondesk.drawing.seas`
holds for it (dark ground within the listed circle and nearer to it than to other seas), for the catalogue's circles are
far from the seas' own outlines: that of the Ocean of Storms holds half of the Sea of Rains. Its cells are a degree
wide, which leaves a share of a small sea uncertain by 5 percent. Ranges, rilles and the like have a length and no
ground; of them, and of mountains, the middle counts alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from moondesk.comparison.changed_light import SUN_HALF_DEG
from moondesk.drawing.seas import sea_map
from moondesk.drawing.style import AREA_KINDS
from moondesk.moon.geometry import disc_axes, disc_to_pixel, project, sun_altitude_deg, unit_vector
from moondesk.notes.records import Showing
from moondesk.records import MOON_RADIUS_KM, Annotation, Feature, FeatureMark, FloatArray

#: Less of a feature in the light and in the frame than this, and nothing is said of it.
LEAST_SHOWN = 0.05
#: A rim or peak of 4 km sees the Sun so much earlier than level ground: the dip of its horizon, sqrt(2 h / R).
RELIEF_DIP_DEG = 3.9
#: Points on a crater's circle, each standing for the same area; fewer cells of a sea than this, and its circle serves.
POINTS, LEAST_CELLS = 240, 12


def has_ground(feature: Feature) -> bool:
    """Whether a feature has an area of which shares can be told; of others the middle counts alone."""
    return feature.kind in AREA_KINDS or feature.kind == "crater"


@cache
def ground_of(feature: Feature) -> tuple[FloatArray, FloatArray]:
    """Unit vectors (n, 3) over a feature's ground and the share of its area (n,) that each stands for, in sum 1."""
    if feature.kind in AREA_KINDS:
        seas = sea_map()
        number = seas.number.get(feature.name)
        if number is not None and len(seas.cells[number]) >= LEAST_CELLS:
            return _finer(seas.cells[number])
    if not has_ground(feature):
        return unit_vector(feature.lat_deg, feature.lon_deg)[None, :], np.ones(1)
    return _circle(feature), np.full(POINTS, 1.0 / POINTS)


def _finer(cells: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Nine points for each cell of a degree: the terminator runs along meridians, and took whole columns at once."""
    lat, lon = np.degrees(np.arcsin(cells[:, 2])), np.degrees(np.arctan2(cells[:, 1], cells[:, 0]))
    step = np.array([-1.0, 0.0, 1.0]) / 3
    down, right = np.meshgrid(step, step)
    fine = (lat[:, None] + down.ravel()).ravel()
    weights = np.cos(np.radians(fine))  # cells shrink towards the poles
    return unit_vector(fine, (lon[:, None] + right.ravel()).ravel()), weights / weights.sum()


def _circle(feature: Feature) -> FloatArray:
    """Points over the cap, each for the same area: heights above its rim's plane at equal steps, turns at the golden
    angle (R. Swinbank & R. J. Purser, Q. J. R. Meteorol. Soc. 132, 2006)."""
    k = np.arange(POINTS) + 0.5
    radius = feature.size_km / 2 / MOON_RADIUS_KM
    rise = 1.0 - k / POINTS * (1.0 - np.cos(radius))
    turn = k * np.pi * (3.0 - np.sqrt(5.0))
    flat = np.sqrt(np.maximum(1.0 - rise * rise, 0.0))
    axes = disc_axes(feature.lat_deg, feature.lon_deg)
    return np.asarray(np.column_stack([flat * np.cos(turn), flat * np.sin(turn), rise]) @ axes)


def sunlit_share(feature: Feature, sun_lat_deg: float, sun_lon_deg: float, dip_deg: float = 0.0) -> float:
    """Share of a feature's ground in sunlight, 0..1, in the frame or not; with a dip, that from which the Sun would be
    seen over a horizon so much lower: `RELIEF_DIP_DEG` for what peaks and rims may catch."""
    points, weights = ground_of(feature)
    return float(weights[_is_sunlit(points, sun_lat_deg, sun_lon_deg, dip_deg)].sum())


def _is_sunlit(points: FloatArray, sun_lat_deg: float, sun_lon_deg: float, dip_deg: float = 0.0) -> np.ndarray:
    least = -np.sin(np.radians(SUN_HALF_DEG + dip_deg))
    return np.asarray(points @ unit_vector(sun_lat_deg, sun_lon_deg) > least)


def showing_of(
    annotation: Annotation, marks: Sequence[FeatureMark], sun_lat_deg: float, sun_lon_deg: float
) -> tuple[Showing, ...]:
    """How each of these features stands in a placed picture, in their order. ValueError for one without a pose."""
    pose = annotation.pose
    if pose is None:
        raise ValueError("only a placed picture shows what stands where")
    if not marks:
        return ()
    grounds = [ground_of(m.feature) for m in marks]
    points, weights = (np.concatenate([g[k] for g in grounds]) for k in (0, 1))
    owner = np.repeat(np.arange(len(marks)), [len(g[1]) for g in grounds])
    disc = project(points, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    framed = (disc.mu > 0) & (x >= -0.5) & (y >= -0.5) & (x < annotation.width - 0.5) & (y < annotation.height - 0.5)
    lit = _is_sunlit(points, sun_lat_deg, sun_lon_deg)
    lit_of, framed_of, shown_of = (np.minimum(np.bincount(owner, weights * mask, len(marks)), 1.0)
                                   for mask in (lit, framed, lit & framed))  # fmt: skip
    sun = sun_altitude_deg([m.feature.lat_deg for m in marks], [m.feature.lon_deg for m in marks], sun_lat_deg,
                           sun_lon_deg)  # fmt: skip
    return tuple(Showing(mark=m, lit=float(lit_of[k]), framed=float(framed_of[k]), shown=float(shown_of[k]), sun_deg=float(sun[k]))
                 for k, m in enumerate(marks))  # fmt: skip


def is_shown(one: Showing) -> bool:
    """Whether enough of a feature is in the light and in the frame for something to be said of it."""
    return one.shown >= LEAST_SHOWN
