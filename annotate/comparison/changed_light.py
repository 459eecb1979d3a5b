"""What the light has done between two skies, and does now: features that came into it, left it, lie near its edge.

The mean sphere decides: the Sun's height at a feature's centre, and the share of its circle on which the Sun's upper
edge is up. Claims are made with a margin: a point counts as newly lit only where it was dark with the Sun a margin
higher than stated, and has the Sun's centre up with the Sun a margin lower. Of relief nothing is known here: a crater
whose rim has just come into the light keeps its floor in shadow for hours or a day more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

import numpy as np

from moondesk.drawing.style import AREA_KINDS
from moondesk.moon.catalogue import FeatureArrays, all_features, feature_arrays
from moondesk.moon.geometry import disc_axes, disc_to_pixel, project, unit_vector
from moondesk.records import MOON_RADIUS_KM, Feature, FeatureMark, FloatArray, Pose
from moondesk.visibility.discernible import WITHIN, extents
from moondesk.visibility.prominence import prominence

Amount = Literal["whole", "partly"]

#: Named features of this size and more are told.
LEAST_KM = 15.0
#: The Sun's upper edge stands this much above its centre, degrees.
SUN_HALF_DEG = 0.27
#: Share of a feature's circle in sunlight: dark up to, partly lit from, wholly lit from; the least gain that counts.
DARK, SOME, WHOLE, GAIN = 0.03, 0.1, 0.97, 0.15
#: Nearer to the limb than this cosine of the view nothing is told.
LEAST_VIEW = 0.12
#: Where a low Sun brings out forms, degrees from the terminator.
NEAR_DEG = 8.0


@dataclass(frozen=True)
class LightAtPlace:
    """Where the Sun stands in the Moon's zenith, degrees. margin_deg: what the claims must hold for, on either side."""

    lat_deg: float
    lon_deg: float
    margin_deg: float = 0.5


@dataclass(frozen=True, kw_only=True)
class LightChange:
    """A feature that the light has reached, or left, between two skies.

    amount: "whole" where all of it was dark and all is lit (or the other way round), else "partly". Heights of the Sun
    at its centre in degrees; shares of its circle in sunlight, 0..1. prominence: in the sky in which it is lit.
    """

    feature: Feature
    amount: Amount
    sun_before_deg: float
    sun_after_deg: float
    lit_before: float
    lit_after: float
    prominence: float


@dataclass(frozen=True, eq=False, kw_only=True)
class _NamedFeatures:
    records: tuple[Feature, ...]
    table: FeatureArrays
    surface: FloatArray
    radius_rad: FloatArray
    points: np.ndarray
    area: np.ndarray


@cache
def _named_features() -> _NamedFeatures:
    every = feature_arrays()
    index = np.flatnonzero(~every.lettered & (every.size_km >= LEAST_KM))
    records, table = tuple(all_features()[k] for k in index), every.take(index)
    surface, radius = unit_vector(table.lat_deg, table.lon_deg), table.size_km / 2 / MOON_RADIUS_KM
    return _NamedFeatures(
        records=records,
        table=table,
        surface=surface,
        radius_rad=radius,
        points=extents(surface, radius)[:, :WITHIN],
        area=np.array([f.kind in AREA_KINDS for f in records]),
    )


def changes(
    before: LightAtPlace, after: LightAtPlace, pose: Pose
) -> tuple[tuple[LightChange, ...], tuple[LightChange, ...]]:
    """(come into the light, gone into the dark) of the features on the side that the pose shows, most prominent first.

    Of the pose only the libration and the distance count.
    """
    named = _named_features()
    view = _view(named, pose)
    gained = _find_gained(named, before, after, view)
    lost = _find_gained(named, after, before, view)
    back = (
        replace(
            c,
            sun_before_deg=c.sun_after_deg,
            sun_after_deg=c.sun_before_deg,
            lit_before=c.lit_after,
            lit_after=c.lit_before,
        )
        for c in lost
    )
    return gained, tuple(back)


def _find_gained(
    named: _NamedFeatures, before: LightAtPlace, after: LightAtPlace, view: FloatArray
) -> tuple[LightChange, ...]:
    then = _sunlit_share(named, before, -SUN_HALF_DEG - before.margin_deg)
    now = _sunlit_share(named, after, after.margin_deg)
    plain_then, plain_now = _sunlit_share(named, before), _sunlit_share(named, after)
    sun_then, sun_now = _height(named, before), _height(named, after)
    rank = prominence(named.table, sun_now, plain_now, view)
    fresh = (then <= DARK) & (now >= SOME)
    grown = (then > DARK) & (now - then >= GAIN) & (then < 0.6)
    found = []
    for k in np.flatnonzero((view >= LEAST_VIEW) & (fresh | grown)):
        amount: Amount = "whole" if fresh[k] and now[k] >= WHOLE else "partly"
        found.append(
            LightChange(
                feature=named.records[k],
                amount=amount,
                sun_before_deg=float(sun_then[k]),
                sun_after_deg=float(sun_now[k]),
                lit_before=float(plain_then[k]),
                lit_after=float(plain_now[k]),
                prominence=float(rank[k]),
            )
        )
    return tuple(sorted(found, key=lambda c: (-c.prominence, c.feature.name)))


def near_terminator(pose: Pose, within_deg: float = NEAR_DEG) -> tuple[FeatureMark, ...]:
    """The features whose Sun stands within `within_deg` of the horizon, and seas that the terminator crosses.

    In the pose's pixels, most prominent first; also those still in the dark (lit_fraction 0). Of a Moon that nobody has
    photographed yet, `seen` is 1 where anything is lit and says nothing of any telescope.

    >>> marks = near_terminator(pose, 2.0)
    >>> max(abs(mark.sun_altitude_deg) for mark in marks if mark.feature.kind == "crater") <= 2.0
    True
    """
    named = _named_features()
    light = LightAtPlace(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    sun, lit, view = _height(named, light), _sunlit_share(named, light), _view(named, pose)
    crossed = named.area & (lit > SOME) & (lit < WHOLE)
    index = np.flatnonzero((view >= LEAST_VIEW) & ((np.abs(sun) <= within_deg) | crossed))
    return _marks(named, index, pose, sun, lit, view)


def marks_of(wanted: Sequence[Feature], pose: Pose) -> tuple[FeatureMark, ...]:
    """The same marks for certain features of the list, in its order; those beyond the limb are left out.

    >>> [mark.feature.name for mark in marks_of([f for f in all_features() if f.name in ("Plato", "Apollo")], pose)]
    ['Plato']
    """
    named = _named_features()
    light = LightAtPlace(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    sun, lit, view = _height(named, light), _sunlit_share(named, light), _view(named, pose)
    place = {f.name: k for k, f in enumerate(named.records)}
    index = np.array([place[f.name] for f in wanted if f.name in place and view[place[f.name]] > 0], np.intp)
    marks = {m.feature.name: m for m in _marks(named, index, pose, sun, lit, view)}
    return tuple(marks[f.name] for f in wanted if f.name in marks)


def _marks(
    named: _NamedFeatures, index: np.ndarray, pose: Pose, sun: FloatArray, lit: FloatArray, view: FloatArray
) -> tuple[FeatureMark, ...]:
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    disc = project(named.surface[index], axes, pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    rank = prominence(named.table, sun, lit, view)
    marks = [
        FeatureMark(
            feature=named.records[k],
            x=float(x[i]),
            y=float(y[i]),
            sigma_px=0.0,
            radius_px=float(named.radius_rad[k] * pose.radius_px),
            sun_altitude_deg=float(sun[k]),
            cos_view=float(view[k]),
            lit_fraction=float(lit[k]),
            seen=float(lit[k] > 0),
            prominence=float(rank[k]),
        )
        for i, k in enumerate(index)
    ]
    return tuple(sorted(marks, key=lambda m: (-m.prominence, m.feature.name)))


def _view(named: _NamedFeatures, pose: Pose) -> FloatArray:
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    return project(named.surface, axes, pose.distance_radii).mu


def _height(named: _NamedFeatures, light: LightAtPlace) -> FloatArray:
    sine = named.surface @ unit_vector(light.lat_deg, light.lon_deg)
    return np.asarray(np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))))


def _sunlit_share(named: _NamedFeatures, light: LightAtPlace, above_deg: float = -SUN_HALF_DEG) -> FloatArray:
    """Share of each circle on which the Sun's centre stands higher than that; as it is: its upper edge is up."""
    sun = unit_vector(light.lat_deg, light.lon_deg).astype(np.float32)
    least = np.sin(np.radians(above_deg))
    return np.asarray((named.points @ sun > least).mean(axis=1, dtype=np.float64))
