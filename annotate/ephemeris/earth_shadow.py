"""The Earth's shadow and the Moon in it: where it lies on the ground, when it comes and goes, all eclipses of a span.

The shadow is a thing in space: whether a place on the Moon lies in it does not depend on who looks. So it is kept in the
Moon's own frame, and whoever draws it projects it like any feature; an observer's parallax comes with the projection.

Radii by Danjon's rule, as the eclipse catalogues of NASA and the French almanac have them: the Moon's parallax enlarged by
1/85 for the air and lessened by 1/594 for the Earth's shape, in all 1.01 (Espenak & Meeus, NASA/TP-2009-214173). The edge
is fuzzy: observers' timings scatter by 20 to 30 s (Herald & Sinnott 2014, J. Br. Astron. Assoc. 124, 247).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Literal

import numpy as np

from moondesk.ephemeris.aspect import MOON_LIGHT_DAYS, lunar_axes, moon_and_sun, unix_seconds_of, utc_of
from moondesk.ephemeris.phases import full_moon, principal_phases
from moondesk.ephemeris.timescales import tt_days
from moondesk.records import MOON_RADIUS_KM, FloatArray

EclipseState = Literal["none", "penumbral", "partial", "total"]

#: Whatever shows as a bite or as red.
UMBRAL: tuple[EclipseState, ...] = ("partial", "total")

_AU_KM, _EARTH_RADIUS_KM = 149_597_870.7, 6378.137
#: The Sun's semi-diameter at 1 au (Auwers 1891, the almanacs' value), degrees.
_SUN_SEMIDIAMETER_DEG = 959.63 / 3600.0
#: Danjon's enlargement of the Moon's parallax, see the module.
_DANJON = 1.01
#: Contacts lie within this of the full Moon: half the longest penumbral eclipse (some 6 h 20 min, from memory) and the
#: time by which its middle misses the opposition.
_REACH = timedelta(hours=4)
#: At full Moon the Moon is farther from the axis than at greatest eclipse by less than this and the penumbra together.
_FARTHEST_DEG = 1.8
#: Light in the umbra as a share of the full Moon's: at its edge, and at its middle (the eclipsed Moon is 10,000 to a
#: million times fainter, common practice).
EDGE_LIGHT, MIDDLE_LIGHT = 2e-3, 2e-5


@dataclass(frozen=True)
class Shadow:
    """Moon and Earth's shadow seen from the Earth's centre, degrees: the Moon's distance from the shadow's axis, the
    radii of umbra and penumbra at the Moon, and the Moon's semi-diameter."""

    separation_deg: float
    umbra_deg: float
    penumbra_deg: float
    semidiameter_deg: float

    @property
    def umbral_magnitude(self) -> float:
        """The share of the Moon's diameter that lies in the umbra; below 0 outside it, above 1 when all of it does."""
        return (self.umbra_deg + self.semidiameter_deg - self.separation_deg) / (2 * self.semidiameter_deg)

    @property
    def penumbral_magnitude(self) -> float:
        return (self.penumbra_deg + self.semidiameter_deg - self.separation_deg) / (2 * self.semidiameter_deg)

    @property
    def state(self) -> EclipseState:
        if self.umbral_magnitude >= 1.0:
            return "total"
        if self.umbral_magnitude > 0.0:
            return "partial"
        return "penumbral" if self.penumbral_magnitude > 0.0 else "none"


@dataclass(frozen=True, eq=False)
class ShadowCone:
    """The shadow in the Moon's mean-Earth frame, in lunar radii from the Moon's centre.

    middle: (3,) the point of its axis nearest to the Moon's centre; along: (3,) unit vector away from the Sun; umbra,
    penumbra: radii there (they change by 1 % over the Moon's depth, which is left out).
    """

    middle: FloatArray
    along: FloatArray
    umbra: float
    penumbra: float

    def distance(self, ground: FloatArray) -> FloatArray:
        """Distance (...) of points (..., 3) from the axis, lunar radii."""
        away = ground - self.middle
        gap: FloatArray = np.linalg.norm(away - (away @ self.along)[..., None] * self.along, axis=-1)
        return gap

    def light(self, ground: FloatArray) -> FloatArray:
        """Share of the full Moon's light (...) on points of the surface (..., 3), linear, 1 outside the shadow.

        Through the penumbra the part of the Sun's disc that the Earth's edge, taken as straight, leaves uncovered; within
        the umbra the air's red light falls from edge to middle in equal ratios. How dark an umbra is nobody knows
        beforehand: only that it falls inwards.
        """
        gap = self.distance(ground)
        # -1: the Sun just covered; 1: just free
        across = np.clip(2.0 * (gap - self.umbra) / (self.penumbra - self.umbra) - 1.0, -1.0, 1.0)
        free = 1.0 - (np.arccos(across) - across * np.sqrt(1.0 - across * across)) / np.pi
        inwards = np.clip(1.0 - gap / self.umbra, 0.0, 1.0)
        glow: FloatArray = EDGE_LIGHT * (MIDDLE_LIGHT / EDGE_LIGHT) ** inwards
        shade: FloatArray = free + (1.0 - free) * glow
        return shade


@dataclass(frozen=True, kw_only=True)
class LunarEclipse:
    """An eclipse of the Moon. Instants are UTC: P1 and P4 of the penumbra, U1 to U4 of the umbra, None where there is no
    such contact; greatest: the Moon nearest to the axis. Magnitudes are those of `Shadow` at greatest eclipse."""

    state: EclipseState
    p1: datetime
    u1: datetime | None
    u2: datetime | None
    greatest: datetime
    u3: datetime | None
    u4: datetime | None
    p4: datetime
    umbral_magnitude: float
    penumbral_magnitude: float


def shadow_at(when_utc: datetime) -> Shadow:
    """Moon and shadow at an instant, degrees seen from the Earth's centre; radii as the module says.

    >>> shadow = shadow_at(datetime(2025, 3, 14, 6, 59, tzinfo=UTC))  # greatest eclipse; its magnitude was 1.178
    >>> round(shadow.umbral_magnitude, 2)
    1.18
    """
    return shadows_at(np.array([unix_seconds_of(when_utc)]))[0]


def shadows_at(unix_seconds: FloatArray) -> tuple[Shadow, ...]:
    """`shadow_at` for many instants, Unix seconds (N,)."""
    bodies = moon_and_sun(tt_days(np.asarray(unix_seconds, float)) - MOON_LIGHT_DAYS)
    moon, sun = bodies.moon_km, bodies.sun_km
    moon_km, sun_km = np.linalg.norm(moon, axis=-1), np.linalg.norm(sun, axis=-1)
    separation = np.arctan2(np.linalg.norm(np.cross(moon, -sun), axis=-1), np.sum(moon * -sun, axis=-1))
    parallax = _DANJON * np.degrees(np.arcsin(_EARTH_RADIUS_KM / moon_km)) + np.degrees(_EARTH_RADIUS_KM / sun_km)
    sun_deg = _SUN_SEMIDIAMETER_DEG * _AU_KM / sun_km
    half = np.degrees(np.arcsin(MOON_RADIUS_KM / moon_km))
    rows = zip(np.degrees(separation), parallax - sun_deg, parallax + sun_deg, half, strict=True)
    return tuple(Shadow(*(float(k) for k in row)) for row in rows)


def eclipse_state(when_utc: datetime) -> EclipseState:
    """Which eclipse of the Moon is on at an instant, wherever the Moon is up. Its contacts are good to a minute, as the
    shadow's edge itself is; most of a penumbral phase shows in no picture.

    >>> str(eclipse_state(datetime(2025, 3, 14, 6, 59, tzinfo=UTC)))
    'total'
    """
    return shadow_at(when_utc).state


def cone_at(when_utc: datetime) -> ShadowCone:
    """The shadow in the Moon's frame at an instant."""
    seen = np.array([float(tt_days(np.array([unix_seconds_of(when_utc)]))[0]) - MOON_LIGHT_DAYS])
    bodies, (_, body) = moon_and_sun(seen), lunar_axes(seen)
    moon, sun = bodies.moon_km[0], bodies.sun_km[0]
    away = -sun / np.linalg.norm(sun)
    reach, shadow = float(moon @ away), shadow_at(when_utc)
    umbra, penumbra = (reach * np.tan(np.radians(a)) / MOON_RADIUS_KM for a in (shadow.umbra_deg, shadow.penumbra_deg))
    middle: FloatArray = body[0] @ (reach * away - moon) / MOON_RADIUS_KM
    along: FloatArray = body[0] @ away
    return ShadowCone(middle, along, float(umbra), float(penumbra))


def umbral_share(cone: ShadowCone) -> float:
    """Share of the disc's area that lies in the umbra, 0..1, the disc seen along the shadow's axis."""
    radius = float(np.linalg.norm(cone.middle - (cone.middle @ cone.along) * cone.along))
    big, small = cone.umbra, 1.0
    if radius >= big + small:
        return 0.0
    if radius <= abs(big - small):
        return min(big / small, 1.0) ** 2
    # two circles that cross: a part of each (Euclid)
    one = np.arccos((radius**2 + small**2 - big**2) / (2 * radius * small))
    two = np.arccos((radius**2 + big**2 - small**2) / (2 * radius * big))
    shared = small**2 * (one - np.sin(2 * one) / 2) + big**2 * (two - np.sin(2 * two) / 2)
    return float(shared / np.pi)


def eclipse_of(full_utc: datetime) -> LunarEclipse | None:
    """The eclipse of a full Moon, by its instant; None where the Moon misses the penumbra."""
    return _eclipse_of(unix_seconds_of(full_utc))


@lru_cache(maxsize=2048)
def _eclipse_of(full: float) -> LunarEclipse | None:
    if shadows_at(np.array([full]))[0].separation_deg > _FARTHEST_DEG:
        return None
    span = _REACH.total_seconds()
    grid = full + np.arange(-span, span + 1.0, 300.0)
    table = shadows_at(grid)
    apart = np.array([s.separation_deg for s in table])
    k = int(np.clip(np.argmin(apart), 1, len(grid) - 2))
    # the distance squared is a parabola in time to a few seconds
    a, b, c = apart[k - 1 : k + 2] ** 2
    greatest = float(grid[k] + 150.0 * (a - c) / (a - 2 * b + c))
    at = shadows_at(np.array([greatest]))[0]
    if at.state == "none":
        return None

    def crossings(edge: FloatArray) -> tuple[datetime | None, datetime | None]:
        """Where a distance that falls and rises passes 0, by straight lines of five minutes' length and one step more."""
        below = np.flatnonzero(edge < 0.0)
        if len(below) == 0:
            return None, None
        first, last = int(below[0]), int(below[-1])
        return _pass(grid, edge, first - 1), _pass(grid, edge, last)

    umbra = np.array([s.separation_deg - s.umbra_deg for s in table])
    half = np.array([s.semidiameter_deg for s in table])
    penumbra = np.array([s.separation_deg - s.penumbra_deg for s in table])
    p1, p4 = crossings(penumbra - half)
    u1, u4 = crossings(umbra - half)
    u2, u3 = crossings(umbra + half)
    return LunarEclipse(state=at.state, p1=p1 or utc_of(greatest), u1=u1, u2=u2, greatest=utc_of(greatest), u3=u3, u4=u4,
                        p4=p4 or utc_of(greatest), umbral_magnitude=at.umbral_magnitude,
                        penumbral_magnitude=at.penumbral_magnitude)  # fmt: skip


def _pass(grid: FloatArray, edge: FloatArray, k: int) -> datetime:
    """The instant of a sign's change between two instants of a grid, by a parabola through it and a neighbour."""
    k = int(np.clip(k, 1, len(grid) - 3))
    some = slice(k - 1, k + 3)
    roots = np.roots(np.polyfit(grid[some] - grid[k], edge[some], 2))
    real = roots[np.isreal(roots)].real
    near = real[np.argmin(np.abs(real - 150.0))] if len(real) else 150.0
    return utc_of(float(grid[k] + near))


@lru_cache(maxsize=1)
def umbral_eclipses() -> tuple[LunarEclipse, ...]:
    """All partial and total eclipses of 1990 to 2050."""
    # Meeus 1998, ch. 49 and 54: the Moon's argument of latitude at full Moon; no eclipse where its sine exceeds 0.36
    numbers = np.arange(-124, 631)
    latitude = np.radians(160.7108 + 390.67050284 * (numbers + 0.5))
    found = [eclipse_of(full_moon(int(k))) for k in numbers[np.abs(np.sin(latitude)) <= 0.36]]
    return tuple(e for e in found if e is not None and e.state in UMBRAL and 1990 <= e.greatest.year <= 2050)


def eclipses_between(start_utc: datetime, end_utc: datetime, umbral: bool = True) -> tuple[LunarEclipse, ...]:
    """Eclipses of the full Moons from start to end, in order; umbral False: penumbral ones too.

    >>> [f"{e.greatest:%Y-%m-%d} {e.state}" for e in eclipses_between(datetime(2026, 1, 1, tzinfo=UTC), datetime(2027, 1, 1, tzinfo=UTC))]
    ['2026-03-03 total', '2026-08-28 partial']
    """
    found = [eclipse_of(p.utc) for p in principal_phases(start_utc, end_utc) if p.kind == "full"]
    return tuple(e for e in found if e is not None and (e.state in UMBRAL or not umbral))
