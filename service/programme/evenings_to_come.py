"""Which evenings are to come, when the programme is on air, and how the Moon stands then at its place. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.rise_and_set import best_shown
from moondesk.records import Aspect, Place
from moondesk.service.programme.evenings import Calendar
from moondesk.service.store.records import Edition

#: The ephemeris covers 1900 to 2099; phases are looked for some weeks beyond a day.
FIRST, LAST = date(1900, 3, 1), date(2099, 10, 31)


@dataclass(frozen=True)
class Air:
    """When the programme is on air, by the clock of its zone, and where that is known from."""

    clock: time
    source: str
    #: Instants of editions that are planned, by the evening they are about.
    planned: tuple[tuple[date, datetime, int], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Coming:
    """One evening. on_air: the sky at air time; shown: as drawn, the same instant unless the Moon is down then."""

    evening: date
    air_utc: datetime
    edition: int | None
    on_air: Aspect
    shown: Aspect

    @property
    def is_down(self) -> bool:
        return self.on_air.altitude_deg is not None and self.on_air.altitude_deg <= 0


def air_of(editions: Sequence[Edition], calendar: Calendar) -> Air:
    """The air time: that of the newest edition that has one, else the hour by which days are counted."""
    zone = ZoneInfo(calendar.zone)
    timed = [(e.plan.number, e.plan.air_utc) for e in editions if e.plan.air_utc is not None]
    planned = tuple((calendar.evening(air).date, air, number) for number, air in timed)
    if timed:
        number, air = max(timed)
        return Air(air.astimezone(zone).time().replace(second=0, microsecond=0), f"as edition {number}", planned)
    minutes = round(calendar.rule.hour * 60)
    return Air(
        time(minutes // 60, minutes % 60), "no edition has an air time yet; the hour by which days are counted", planned
    )


def evening_air(evening: date, air: Air, zone: str) -> tuple[datetime, int | None]:
    """The instant on air of an evening (after midnight it is the next date's), and the edition if one is planned."""
    for day, when, number in air.planned:
        if day == evening:
            return when, number
    day = evening + timedelta(days=1) if air.clock.hour < 12 else evening
    return datetime.combine(day, air.clock, ZoneInfo(zone)).astimezone(ZoneInfo("UTC")), None


def first_evening(now: datetime, air: Air, calendar: Calendar) -> date:
    """This evening, or the next one once this one's programme is six hours past."""
    evening = calendar.evening(now).date
    while evening_air(evening, air, calendar.zone)[0] + timedelta(hours=6) < now:
        evening += timedelta(days=1)
    return evening


@lru_cache(maxsize=64)  # a week is asked for again with each of its drawings and evenings
def evening_to_come(evening: date, air: Air, zone: str, place: Place | None) -> Coming:
    """An evening's sky. Raises ValueError outside 1900-2099."""
    air_utc, edition = evening_air(evening, air, zone)
    on_air = aspect_at(air_utc, place)
    shown_utc = best_shown(air_utc, place) if place else air_utc
    return Coming(
        evening=evening,
        air_utc=air_utc,
        edition=edition,
        on_air=on_air,
        shown=on_air if shown_utc == air_utc else aspect_at(shown_utc, place),
    )


def is_waxing(aspect: Aspect) -> bool:
    """Whether the Sun is rising over the middle of the disc: the terminator there is the morning's."""
    return (aspect.sub_solar_lon_deg - aspect.libration_lon_deg) % 360.0 < 180.0
