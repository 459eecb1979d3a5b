"""The Moon's calendar: principal phases, age, the programme's day number.

A principal phase is the instant at which the apparent geocentric longitudes of Moon and Sun, on the ecliptic of date,
differ by 0, 90, 180 or 270 degrees: the definition of the almanac offices. The instants are good to half a minute
(tests/core/test_phases.py); those of future years also carry the leap seconds that nobody has announced yet.

The age is the true one, days since the last new Moon. Age / 29.53 is not the phase: lunations differ by up to 7 h from
their mean and quarters by more, so nothing here or elsewhere turns one into the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from functools import lru_cache
from typing import Literal

import erfa
import numpy as np

from moondesk.ephemeris.aspect import MOON_LIGHT_DAYS, moon_and_sun, unix_seconds_of, utc_of
from moondesk.ephemeris.timescales import tt_days, unix_of_tt_days

PhaseKind = Literal["new", "first quarter", "full", "last quarter"]
Rule = Literal["first evening after new Moon", "evening of the date of new Moon"]

_KINDS: tuple[PhaseKind, ...] = ("new", "first quarter", "full", "last quarter")
# Mean new Moon of 2000 Jan 6, TT days since J2000, and mean quarter of a lunation: Meeus 1998, eq. 49.1.
_MEAN_NEW_MOON, _MEAN_QUARTER = 5.09766, 29.530588861 / 4.0
_MEAN_RATE_DEG_DAY = 90.0 / _MEAN_QUARTER


@dataclass(frozen=True)
class PrincipalPhase:
    """One principal phase and its instant."""

    kind: PhaseKind
    utc: datetime


@dataclass(frozen=True)
class PhasesAround:
    """The principal phases before and after an instant, and its age in days since `new_moon_utc`."""

    last: PrincipalPhase
    next: PrincipalPhase
    new_moon_utc: datetime
    age_days: float


@dataclass(frozen=True)
class DayRule:
    """How a programme counts the days of a lunation.

    Day `first_number` is, by `rule`,
    "first evening after new Moon": the first evening whose `hour` comes at or after the instant of new Moon, or
    "evening of the date of new Moon": the evening of the local date on which new Moon falls, be it before or after.
    hour: local clock time, 12 <= hour < 24, fractions allowed (20.5 is 20:30). Raises ValueError.
    """

    first_number: int = 1
    hour: float = 20.0
    rule: Rule = "first evening after new Moon"

    def __post_init__(self) -> None:
        if not 12 <= self.hour < 24:
            raise ValueError(f"an evening's hour lies from 12 to below 24, not at {self.hour}")
        if self.rule not in ("first evening after new Moon", "evening of the date of new Moon"):
            raise ValueError(f"unknown day rule {self.rule!r}")


def principal_phases(start_utc: datetime, end_utc: datetime) -> tuple[PrincipalPhase, ...]:
    """The principal phases from start (included) to end (excluded), in order, to some seconds.

    Raises: ValueError for a naive time or outside 1900-2099.

    >>> for phase in principal_phases(datetime(2026, 10, 5, tzinfo=UTC), datetime(2026, 10, 20, tzinfo=UTC)):
    ...     print(phase.kind, f"{phase.utc:%d %H:%M}")
    new 10 15:50
    first quarter 18 16:12
    """
    start, end = _tt(start_utc), _tt(end_utc)
    found = []
    quarter = _quarter_before(start)
    if _quarter_tt(quarter) < start:
        quarter += 1
    while _quarter_tt(quarter) < end:
        found.append(_phase(quarter))
        quarter += 1
    return tuple(found)


def full_moon(lunation: int) -> datetime:
    """The full Moon of a lunation, counted from the one that began on 2000 Jan 6, UTC.

    >>> f"{full_moon(0):%Y-%m-%d}"
    '2000-01-21'
    """
    return _phase(4 * lunation + 2).utc


def phases_around(when_utc: datetime) -> PhasesAround:
    """The last principal phase at or before an instant, the next after it, and the age. Raises as `aspect_at` does.

    >>> around = phases_around(datetime(2026, 10, 17, 19, 14, 35, tzinfo=UTC))
    >>> str(around.next.kind), round(around.age_days, 2)
    ('first quarter', 7.14)
    """
    at = _tt(when_utc)
    quarter = _quarter_before(at)
    new_moon = quarter - quarter % 4
    return PhasesAround(
        _phase(quarter), _phase(quarter + 1), _phase(new_moon).utc, max(0.0, at - _quarter_tt(new_moon))
    )


def lunation_number(when_utc: datetime) -> int:
    """The number of the lunation by E. W. Brown's count: 1 began with the new Moon of 17 January 1923 (from memory; the
    new Moon of 6 January 2000, 28113 days later, then begins number 953).

    >>> lunation_number(datetime(2000, 1, 7, tzinfo=UTC)), lunation_number(datetime(1923, 1, 20, tzinfo=UTC))
    (953, 1)
    """
    return _quarter_before(_tt(when_utc)) // 4 + 953


def evening_of(when_utc: datetime, zone: tzinfo) -> date:
    """The local date at which the evening of an instant began: before local noon that is the day before.

    So a picture of 01:30, or of the waning Moon at breakfast, belongs to the evening before, as one night's pictures
    should; noon as the border is common practice of observers.

    >>> evening_of(datetime(2026, 10, 18, 1, 30, tzinfo=UTC), UTC).isoformat()
    '2026-10-17'
    """
    unix_seconds_of(when_utc)  # raises for a naive time
    local = when_utc.astimezone(zone)
    return local.date() if local.hour >= 12 else local.date() - timedelta(days=1)


def day_number(when_utc: datetime, zone: tzinfo, rule: DayRule | None = None) -> int:
    """The programme's number of the evening to which an instant belongs (`evening_of`), by default `DayRule()`.

    All instants of one evening have one number, also when new Moon falls within it. The number runs to 29 or 30 above
    the first one less one, then starts anew. Raises ValueError for a naive time or outside 1900-2099.

    >>> day_number(datetime(2026, 10, 17, 19, 14, tzinfo=UTC), UTC)
    8
    """
    rule = rule or DayRule()
    evening = evening_of(when_utc, zone)
    # a new Moon after this evening's midnight can only open a later evening, under either rule
    latest = _local(evening, 0.0, zone) + timedelta(days=2)
    quarter = _quarter_before(_tt(latest))
    new_moon = quarter - quarter % 4
    while (first := _first_evening(_phase(new_moon).utc, zone, rule)) > evening:
        new_moon -= 4
    return rule.first_number + (evening - first).days


def _tt(when_utc: datetime) -> float:
    return float(tt_days(np.array([unix_seconds_of(when_utc)]))[0])


def _phase(quarter: int) -> PrincipalPhase:
    unix = float(unix_of_tt_days(np.array([_quarter_tt(quarter)]))[0])
    return PrincipalPhase(_KINDS[quarter % 4], utc_of(unix))


def _quarter_before(at_tt: float) -> int:
    """Number of the last principal phase at or before a TT day; 0 is the new Moon of 2000 Jan 6."""
    quarter = int(np.floor((at_tt - _MEAN_NEW_MOON) / _MEAN_QUARTER)) + 1  # true and mean differ by a day at most
    while _quarter_tt(quarter) > at_tt:
        quarter -= 1
    return quarter


@lru_cache(maxsize=8192)
def _quarter_tt(quarter: int) -> float:
    """TT day of a principal phase. Each step with the mean rate leaves at most a fifth of the error (the true rate is
    10.9 to 13.8 degrees a day), so it ends after some eight."""
    at = _MEAN_NEW_MOON + _MEAN_QUARTER * quarter
    for _ in range(20):
        step = (_longitude_difference_deg(at) - 90.0 * (quarter % 4) + 180.0) % 360.0 - 180.0
        at -= step / _MEAN_RATE_DEG_DAY
        if abs(step) < 1e-6:
            break
    return at


def _longitude_difference_deg(at_tt: float) -> float:
    """Apparent geocentric longitude of the Moon less that of the Sun, degrees. Nutation is common to both and drops."""
    bodies = moon_and_sun(np.array([at_tt - MOON_LIGHT_DAYS]))
    to_ecliptic = erfa.ecm06(2451545.0, at_tt)
    moon, sun = to_ecliptic @ bodies.moon_km[0], to_ecliptic @ bodies.sun_km[0]
    return float(np.degrees(np.arctan2(moon[1], moon[0]) - np.arctan2(sun[1], sun[0])))


def _first_evening(new_moon_utc: datetime, zone: tzinfo, rule: DayRule) -> date:
    day = new_moon_utc.astimezone(zone).date()
    if rule.rule == "first evening after new Moon" and _local(day, rule.hour, zone) < new_moon_utc:
        day += timedelta(days=1)
    return day


def _local(day: date, hour: float, zone: tzinfo) -> datetime:
    minutes = round(hour * 60.0)
    return datetime(day.year, day.month, day.day, minutes // 60, minutes % 60, tzinfo=zone)
