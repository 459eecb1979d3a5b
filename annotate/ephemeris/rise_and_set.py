"""When Moon and Sun are up at a place, and how far the Sun must be kept in mind: times and heights, no picture."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import erfa
import numpy as np
from numpy.typing import ArrayLike

from moondesk.ephemeris.aspect import MOON_LIGHT_DAYS, aspect_at, aspects_at, moon_and_sun, unix_seconds_of, utc_of
from moondesk.ephemeris.timescales import tt_days, ut1_days
from moondesk.records import FloatArray, Place

_J2000_JD = 2451545.0
#: Height of the centre at rise and set: 34' of refraction at the horizon and 16' of the body's half (the almanacs'
#: convention; the Moon's own parallax is in its height already).
RISEN_DEG = -50.0 / 60.0
STEP_S = 600.0
#: Below this angle from the Sun the Moon is not to be looked for at all; below the second one the Sun must be wholly
#: below the horizon first. A margin for people, no physical limit (common practice).
LOST_DEG, NEAR_DEG = 12.0, 45.0

#: A Moon lower than this stands behind houses and trees (common practice), degrees.
LEAST_MOON_DEG = 5.0
SHOWN_STEP_S = 1200.0

SunCaution = Literal["none", "near", "lost"]
Span = tuple[datetime, datetime]


@dataclass(frozen=True)
class NightWindow:
    """Spans in which the Moon, and the Sun, are above the horizon between two instants, in order.

    A span that begins or ends with the window is cut there.
    """

    start_utc: datetime
    end_utc: datetime
    moon: tuple[Span, ...]
    sun: tuple[Span, ...]


def sun_altitude_deg(unix_seconds: ArrayLike, place: Place) -> FloatArray:
    """Height of the Sun's centre over a place, degrees, at Unix seconds (N,).

    Without refraction and without its parallax of 9 arcsec.

    >>> noon = datetime(2026, 3, 20, 12, 7, tzinfo=UTC).timestamp()  # on the equator, some hours before the equinox
    >>> sun_altitude_deg([noon], Place(0.0, 0.0)).round().tolist()
    [90.0]
    """
    unix = np.asarray(unix_seconds, float)
    tt = tt_days(unix)
    to_date = erfa.pnm00b(_J2000_JD, tt)
    sun = np.einsum("...ij,...j->...i", to_date, moon_and_sun(tt - MOON_LIGHT_DAYS).sun_km)
    sun /= np.linalg.norm(sun, axis=-1, keepdims=True)
    local = erfa.gst06(_J2000_JD, ut1_days(unix), _J2000_JD, tt, to_date) + np.radians(place.longitude_deg)
    lat = np.radians(place.latitude_deg)
    zenith = np.stack([np.cos(lat) * np.cos(local), np.cos(lat) * np.sin(local), np.full_like(local, np.sin(lat))], -1)
    return np.asarray(np.degrees(np.arcsin(np.clip(np.einsum("...i,...i->...", zenith, sun), -1.0, 1.0))))


def night(start_utc: datetime, end_utc: datetime, place: Place) -> NightWindow:
    """The spans from start to end (at most some days); each time to a quarter of a minute over a level horizon.

    >>> day = datetime(2026, 10, 17, 12, tzinfo=UTC)
    >>> moon = night(day, datetime(2026, 10, 18, 12, tzinfo=UTC), Place(48.2, 16.4)).moon
    >>> [f"{rise:%H:%M}-{fall:%H:%M}" for rise, fall in moon]
    ['12:18-20:04']
    """
    first, last = unix_seconds_of(start_utc), unix_seconds_of(end_utc)
    if not 0 < last - first <= 4 * 86400:
        raise ValueError(f"a night runs forward for up to four days, not from {start_utc} to {end_utc}")
    at = np.linspace(first, last, int(np.ceil((last - first) / STEP_S)) + 1)
    moon = aspects_at(at, place).altitude_deg
    if moon is None:
        raise AssertionError("an aspect with a place has a height")
    return NightWindow(start_utc, end_utc, _spans(at, moon), _spans(at, sun_altitude_deg(at, place)))


def _spans(at: FloatArray, altitude: FloatArray) -> tuple[Span, ...]:
    above = altitude - RISEN_DEG
    up = above > 0
    found = []
    start = float(at[0]) if up[0] else None
    for k in np.flatnonzero(up[1:] != up[:-1]):
        cross = float(at[k] + (at[k + 1] - at[k]) * above[k] / (above[k] - above[k + 1]))
        if start is None:
            start = cross
        else:
            found.append((utc_of(start), utc_of(cross)))
            start = None
    if start is not None:
        found.append((utc_of(start), utc_of(float(at[-1]))))
    return tuple(found)


def best_shown(air_utc: datetime, place: Place) -> datetime:
    """When that evening's Moon is best looked at: on air where it is up then; else the nearest time within half a day
    at which it stands LEAST_MOON_DEG high with the Sun down, or failing that with the Sun up; else on air all the same.
    """
    if (aspect_at(air_utc, place).altitude_deg or 0.0) > 0:
        return air_utc
    at = unix_seconds_of(air_utc) + np.arange(-36, 37) * SHOWN_STEP_S
    moon = aspects_at(at, place).altitude_deg
    if moon is None:
        raise AssertionError("an aspect with a place has a height")
    up, dark = moon >= LEAST_MOON_DEG, sun_altitude_deg(at, place) < RISEN_DEG
    for good in (up & dark, up):
        if good.any():
            index = np.flatnonzero(good)
            return utc_of(float(at[index[np.argmin(np.abs(index - 36))]]))
    return air_utc


def sun_caution(elongation_deg: float) -> SunCaution:
    """How near the Moon stands to the Sun: "lost" in its glare, "near" enough that the Sun must be down first.

    >>> [str(sun_caution(elongation_deg)) for elongation_deg in (5, 30, 90)]
    ['lost', 'near', 'none']
    """
    return "lost" if elongation_deg < LOST_DEG else "near" if elongation_deg < NEAR_DEG else "none"
