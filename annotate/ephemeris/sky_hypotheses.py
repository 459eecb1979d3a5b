"""How the Moon may have stood: hypotheses of libration and Sun from what is known of the time, the likeliest first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

import numpy as np

from moondesk.ephemeris.aspect import AspectTable, aspect_at, aspects_at, unix_seconds_of
from moondesk.records import Aspect, FloatArray, Place, TimeReadings

#: Libration's parallax, one sigma per axis, where the observer's place is unknown: at most 57' (Meeus, ch. 40).
PARALLAX_SIGMA_DEG = 0.6
#: Two suns nearer than this on the Moon need not both be tried.
SUN_STEP_DEG = 2.0
#: A clock before the received window is searched so many days to either side.
CLOCK_DAYS = 4.0
#: A free light (every 12 degrees one is tried) further than this from all Suns of the window is none of them.
FAR_DEG = 10.0


@dataclass(frozen=True, kw_only=True)
class SkyHypothesis:
    """One hypothesis (degrees, mean-Earth frame). utc None: tied to no time. sigma_deg: of the libration per axis."""

    utc: datetime | None
    libration_lat_deg: float
    libration_lon_deg: float
    sub_solar_lat_deg: float
    sub_solar_lon_deg: float
    distance_radii: float
    sigma_deg: float


def _sky(aspect: Aspect, sigma_deg: float) -> SkyHypothesis:
    return SkyHypothesis(
        utc=aspect.when_utc,
        libration_lat_deg=aspect.libration_lat_deg,
        libration_lon_deg=aspect.libration_lon_deg,
        sub_solar_lat_deg=aspect.sub_solar_lat_deg,
        sub_solar_lon_deg=aspect.sub_solar_lon_deg,
        distance_radii=aspect.distance_km / 1737.4,
        sigma_deg=sigma_deg,
    )


def _turn(a: float, b: float) -> float:
    return abs((a - b + 180.0) % 360.0 - 180.0)


def by_clock(taken: TimeReadings, place: Place | None) -> tuple[SkyHypothesis, ...]:
    """From the readings of the clock, thinned to those that differ in light. Empty without a clock.

    The clock may be wrong by a day and the libration by 1.4 degrees with it (the mean by DE421), so that even a known place
    does not make the prior narrow here.
    """
    sigma = 0.3 if place is not None else PARALLAX_SIGMA_DEG
    kept: list[SkyHypothesis] = []
    for candidate in taken.candidates:
        sky = _sky(aspect_at(candidate.utc, place), sigma)
        if all(_turn(sky.sub_solar_lon_deg, k.sub_solar_lon_deg) > SUN_STEP_DEG for k in kept):
            kept.append(sky)
    return tuple(kept)


def by_window(taken: TimeReadings, place: Place | None, step_hours: float = 12.0) -> tuple[SkyHypothesis, ...]:
    """Over the window that the received date allows, latest first (a viewer mails what is fresh). Empty without one."""
    if taken.earliest_utc is None or taken.latest_utc is None:
        return ()
    hours = (taken.latest_utc - taken.earliest_utc).total_seconds() / 3600.0
    count = max(int(np.ceil(hours / step_hours)), 1)
    sigma = PARALLAX_SIGMA_DEG + 0.05 * step_hours / 2
    late = unix_seconds_of(taken.latest_utc)
    table = aspects_at(late - 3600.0 * hours * (np.arange(count) + 0.5) / count, place)
    return tuple(_sky(table[k], sigma) for k in range(count))


def any_time(step_deg: float = 12.0, slim_step_deg: float = 6.0) -> tuple[SkyHypothesis, ...]:
    """Every light that the visible face can have, libration at its mean: where nothing is known of the time.

    In steps of `step_deg` of the Sun's longitude, and finer ones for crescents, whose width a few degrees double.
    """
    gibbous, slim = np.arange(0.0, 108.1, step_deg), np.arange(108.0 + slim_step_deg, 163.0, slim_step_deg)
    lon = np.concatenate([-slim, -gibbous[1:], gibbous, slim])
    return tuple(
        SkyHypothesis(
            utc=None,
            libration_lat_deg=0.0,
            libration_lon_deg=0.0,
            sub_solar_lat_deg=0.0,
            sub_solar_lon_deg=float(k),
            distance_radii=221.3,
            sigma_deg=4.5,
        )
        for k in lon
    )


@dataclass(frozen=True, eq=False)
class SunTrack:
    """The sub-solar point along a stretch of time: unix_seconds (empty where no time is tied to it), lat, lon (N,)."""

    unix_seconds: FloatArray
    lat_deg: FloatArray
    lon_deg: FloatArray


def sun_track(taken: TimeReadings, around: SkyHypothesis) -> SunTrack:
    """Suns to be compared with the picture: the received window, or eight days about a clock that lies before it; free
    lights where neither is known, or where the sky's own Sun is none of theirs (an old picture)."""
    first = last = None
    middle = None if around.utc is None else unix_seconds_of(around.utc)
    if taken.earliest_utc is not None and taken.latest_utc is not None:
        # half a day more at either end, so that a picture of the last hour has its best Sun inside the track
        first, last = unix_seconds_of(taken.earliest_utc) - 43200.0, unix_seconds_of(taken.latest_utc) + 43200.0
    if middle is not None and not (first is not None and last is not None and first <= middle <= last):
        first, last = middle - CLOCK_DAYS * 86400.0, middle + CLOCK_DAYS * 86400.0
    if first is None or last is None:
        return free_track(around.sub_solar_lon_deg)
    table = hourly(first, last)
    if middle is None and min(_turn(around.sub_solar_lon_deg, float(k)) for k in table.sub_solar_lon_deg) > FAR_DEG:
        return free_track(around.sub_solar_lon_deg)
    return SunTrack(table.unix_seconds, table.sub_solar_lat_deg, table.sub_solar_lon_deg)


@lru_cache(maxsize=4)
def hourly(first: float, last: float) -> AspectTable:
    """Geocentric aspects from one Unix second to another, an hour apart; kept, for light and time ask in turn."""
    return aspects_at(np.arange(first, last + 1.0, 3600.0), None)


def free_track(lon_deg: float) -> SunTrack:
    """Lights within 16 degrees of a sub-solar longitude, tied to no time; latitude, within 1.6 of 0, is taken as 0."""
    lon = lon_deg + np.arange(16.0, -16.5, -0.5)
    return SunTrack(np.zeros(0), np.zeros(len(lon)), lon)
