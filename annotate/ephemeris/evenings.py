"""On which evenings the Moon looked as it does in a picture without any date: light and libration over many years.

    Sun's longitude on the Moon -> one instant a lunation -> libration there against the picture's -> those that fit

The sub-solar longitude falls by 360 degrees in a mean synodic month of 29.530589 days (Chapront 2002), so that the
light ties the time to one instant in each lunation, some 371 in 30 years. The libration at that instant, whose
two periods are others, tells them apart: to the parallax of an unknown place, up to a degree, or to a tenth of one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from moondesk.ephemeris.aspect import AspectTable, aspects_at, unix_seconds_of, utc_of
from moondesk.records import Annotation, Evening, FloatArray, Place

SYNODIC_DAYS = 29.530589
#: Fall of the sub-solar longitude, degrees an hour, on the average.
SUN_DEG_HOUR = 360.0 / (SYNODIC_DAYS * 24.0)
#: Libration for a known place, one sigma per axis, besides the picture's own: what maps and solver share (assumed).
KNOWN_PLACE_SIGMA_DEG = 0.1
#: The same for an unknown place: within the reach of the parallax, where a hard limit takes over (`_beyond_parallax`),
#: every libration is nearly as likely. A viewer sees the Moon low as often as high; 0.6 degree would favour those who
#: have it overhead (150 invented observers, tried with 5 degrees: the true evening listed 99 against 98 times in 100,
#: and likelier).
UNKNOWN_PLACE_SIGMA_DEG = 2.0
#: Chi square below which an evening fits (three degrees of freedom less one: 99 %), and how many are listed.
FITS, MOST = 9.0, 12
#: Chi square above which a picture is said not to belong to the days before it came: 4e-6 by chance.
FOREIGN = 25.0
EARTH_RADIUS_KM = 6378.137  # WGS 84, equatorial
#: Floors of what a picture can tell: the light boundary (1.2 h, see `sun_search`) and the libration; a libration
#: worse than the last tells no evening.
LEAST_SIGMA_SUN_DEG, LEAST_SIGMA_LIBRATION_DEG, MOST_SIGMA_LIBRATION_DEG = 0.6, 0.15, 1.0
#: Nor does a Sun worse than this: uneven light (see `time_of_picture.one_sun`) can be wrong by days.
MOST_SIGMA_SUN_DEG = 3.0


@dataclass(frozen=True, kw_only=True)
class MeasuredSky:
    """What a picture shows: sub-observer and sub-solar point in degrees, one sigma per axis of each.

    sub_solar_lat_deg counts only where sigma_sun_lat_deg is given.
    """

    libration_lat_deg: float
    libration_lon_deg: float
    sub_solar_lat_deg: float
    sub_solar_lon_deg: float
    sigma_libration_deg: float
    sigma_sun_deg: float
    sigma_sun_lat_deg: float | None = None

    def __post_init__(self) -> None:
        sigmas = (self.sigma_libration_deg, self.sigma_sun_deg, self.sigma_sun_lat_deg or 1.0)
        if not all(np.isfinite(s) and s > 0 for s in sigmas):
            raise ValueError(f"sigmas must be above 0 and finite, not {sigmas}")


@dataclass(frozen=True, eq=False)
class _Fits:
    """Best instant of each lunation: unix_seconds, chi square, sigma in hours, each (N,)."""

    unix_seconds: FloatArray
    misfit: FloatArray
    sigma_hours: FloatArray


def evenings_that_fit(
    measured: MeasuredSky, place: Place | None, latest_utc: datetime, years: float = 30.0
) -> tuple[Evening, ...]:
    """Up to MOST instants of the `years` before latest_utc at which light and libration were as measured, best first.

    place None: anywhere on Earth. The sub-solar latitude is compared only where its own sigma is given. Each probability is among all that fit, so that the listed add up to less than 1
    where more fit than are listed. Raises ValueError for a naive time, years not above 0, or a year before 1900.
    """
    if not years > 0:
        raise ValueError(f"years must be above 0, not {years}")
    last = unix_seconds_of(latest_utc)
    fits = _lunations(measured, place, last - years * 365.25 * 86400.0, last)
    keep = np.flatnonzero(fits.misfit < FITS)
    order = keep[np.argsort(fits.misfit[keep], kind="stable")]
    weight = np.exp(-0.5 * fits.misfit[order])
    share = weight / weight.sum() if len(weight) else weight
    return tuple(
        Evening(utc_of(float(fits.unix_seconds[k])), float(fits.misfit[k]), float(fits.sigma_hours[k]), float(p))
        for k, p in zip(order[:MOST], share[:MOST], strict=True)
    )


def measure_of(annotation: Annotation) -> MeasuredSky | None:
    """What an annotation's pose shows, its sigmas held above their floors; None where that tells no evening: without a
    pose, or where its libration is not settled to a degree or its light is uneven."""
    pose = annotation.pose
    if pose is None or annotation.terminator is None or annotation.terminator.sigma_deg > MOST_SIGMA_SUN_DEG:
        return None
    own = max(pose.sigma("libration_lat_deg") or 9.0, pose.sigma("libration_lon_deg") or 9.0)
    if own > MOST_SIGMA_LIBRATION_DEG:
        return None
    return MeasuredSky(
        libration_lat_deg=pose.libration_lat_deg,
        libration_lon_deg=pose.libration_lon_deg,
        sub_solar_lat_deg=pose.sub_solar_lat_deg,
        sub_solar_lon_deg=pose.sub_solar_lon_deg,
        sigma_libration_deg=max(own, LEAST_SIGMA_LIBRATION_DEG),
        sigma_sun_deg=max(annotation.terminator.sigma_deg, LEAST_SIGMA_SUN_DEG),
    )


def with_evenings(annotation: Annotation, place: Place | None, now_utc: datetime | None) -> Annotation:
    """The annotation with the evenings that fit, where no time at all is tied to the picture; else as it is.

    Only for a sure pose whose libration is settled to a degree. now_utc: no picture can be later; None: no search.
    """
    taken, measured = annotation.taken, measure_of(annotation)
    if now_utc is None or measured is None or not annotation.sure:
        return annotation
    if taken.candidates or taken.latest_utc is not None or annotation.time is not None:
        return annotation
    return replace(annotation, evenings=evenings_that_fit(measured, place, now_utc))


def misfit_in_window(measured: MeasuredSky, place: Place | None, earliest_utc: datetime, latest_utc: datetime) -> float:
    """Chi square of the best instant between two times; infinite where the light itself fits none of them."""
    fits = _lunations(measured, place, unix_seconds_of(earliest_utc), unix_seconds_of(latest_utc))
    return float(fits.misfit.min()) if len(fits.misfit) else float("inf")


def _lunations(m: MeasuredSky, place: Place | None, first: float, last: float) -> _Fits:
    """The best instant of each lunation between two times (Unix seconds), within three sigmas of the light of them."""
    slack = 3.0 * 3600.0 * m.sigma_sun_deg / SUN_DEG_HOUR
    times = _instants(m.sub_solar_lon_deg, first - slack, last + slack)
    if not len(times):
        return _Fits(times, times, times)
    hours = 1.0
    step = hours * 3600.0
    table = aspects_at(np.concatenate([times - step, times, times + step]), place)
    n = len(times)
    seen = [table.libration_lat_deg, table.libration_lon_deg, table.sub_solar_lon_deg]
    told = [m.libration_lat_deg, m.libration_lon_deg, m.sub_solar_lon_deg]
    own = UNKNOWN_PLACE_SIGMA_DEG if place is None else KNOWN_PLACE_SIGMA_DEG
    sigma = [float(np.hypot(m.sigma_libration_deg, own))] * 2 + [m.sigma_sun_deg]
    if m.sigma_sun_lat_deg is not None:
        seen, told = [*seen, table.sub_solar_lat_deg], [*told, m.sub_solar_lat_deg]
        sigma = [*sigma, m.sigma_sun_lat_deg]
    # one unknown, the time within the lunation: what is seen runs straight over the hours in question
    gap = np.stack([_turn(value - s[n : 2 * n]) for value, s in zip(told, seen, strict=True)])
    rate = np.stack([_turn(s[2 * n :] - s[:n]) / (2 * hours) for s in seen])
    weight = 1.0 / np.array(sigma)[:, None] ** 2
    information = (weight * rate * rate).sum(axis=0)
    shift = (weight * rate * gap).sum(axis=0) / information
    left = gap - rate * shift
    misfit = (weight * left * left).sum(axis=0)
    if place is None:
        misfit = misfit + _beyond_parallax(left, table, n, m.sigma_libration_deg) ** 2
    best = times + shift * 3600.0
    if place is not None:
        near = np.flatnonzero(misfit < FOREIGN)
        down = near[~_is_above_horizon(best[near], 1.0 / np.sqrt(information[near]), place)]
        misfit[down] = np.inf
    inside = (best >= first - slack) & (best <= last + slack)
    return _Fits(np.clip(best, first, last)[inside], misfit[inside], (1.0 / np.sqrt(information))[inside])


def _instants(sun_lon_deg: float, first: float, last: float) -> FloatArray:
    """Every time between two (Unix seconds) at which the Sun stood over a longitude of the Moon, latest first."""
    now = float(aspects_at(np.array([last]), None).sub_solar_lon_deg[0])
    since = (sun_lon_deg - now) % 360.0
    month = SYNODIC_DAYS * 86400.0
    count = int((last - first) / month) + 3
    # one more at either end: the true Sun is up to two degrees off the mean one
    times = last - month * (since / 360.0 + np.arange(-1, count))
    for _ in range(2):  # what is left, below 0.01 degree, the straight line below takes up
        off = _turn(aspects_at(times, None).sub_solar_lon_deg - sun_lon_deg)
        times = times + off / SUN_DEG_HOUR * 3600.0
    return np.asarray(times[(times >= first) & (times <= last)], np.float64)


def _beyond_parallax(left: FloatArray, table: AspectTable, n: int, sigma_deg: float) -> FloatArray:
    """How many sigmas the libration lies farther from the Earth's centre's than any place on Earth could see it."""
    allowed = np.degrees(np.arcsin(EARTH_RADIUS_KM / table.distance_km[n : 2 * n]))
    away = np.hypot(left[0], left[1] * np.cos(np.radians(table.libration_lat_deg[n : 2 * n])))
    return np.asarray(np.maximum(away - allowed, 0.0) / sigma_deg, np.float64)


def _is_above_horizon(times: FloatArray, sigma_hours: FloatArray, place: Place) -> np.ndarray:
    """Whether the Moon stood above the horizon (refraction and its radius: one degree) within two sigmas."""
    late = 2.0 * 3600.0 * sigma_hours
    table = aspects_at(np.concatenate([times - late, times, times + late]), place)
    assert table.altitude_deg is not None
    return np.asarray(table.altitude_deg.reshape(3, -1).max(axis=0) > -1.0)


def _turn(degrees: FloatArray) -> FloatArray:
    return np.asarray((degrees + 180.0) % 360.0 - 180.0)
