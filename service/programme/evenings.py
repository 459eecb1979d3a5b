"""Evenings and day numbers by the programme's rule: the one place where the shell asks the Moon's calendar; and how old
a picture's evening was when it came in, which the ranking counts and a card says. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from moondesk.ephemeris.phases import DayRule, day_number, evening_of
from moondesk.quality.score import span_of_days
from moondesk.records import ClockVerdict, EveningVerdict
from moondesk.service.errors import BadInputError
from moondesk.service.settings.config import Config
from moondesk.service.store.records import EditionPlan, ListedPicture


@dataclass(frozen=True)
class ProgrammeEvening:
    """An evening in the programme's zone and its day of the lunation; None outside the years the calendar covers."""

    date: date
    day_number: int | None


@dataclass(frozen=True)
class Calendar:
    zone: str
    rule: DayRule

    def evening(self, when: datetime) -> ProgrammeEvening:
        """The evening that an instant belongs to."""
        zone = ZoneInfo(self.zone)
        try:
            return ProgrammeEvening(day := evening_of(when, zone), _day_number(day, self.zone, self.rule))
        except ValueError:  # outside 1900-2099
            local = when.astimezone(zone)
            return ProgrammeEvening(local.date() - timedelta(days=local.hour < 12), None)

    def day_of_date(self, evening: date) -> int | None:
        """Day number of an evening given by its date."""
        hour = datetime(evening.year, evening.month, evening.day, 20, tzinfo=ZoneInfo(self.zone))
        return self.evening(hour).day_number

    def day_of_plan(self, plan: EditionPlan) -> int | None:
        """Day number of an edition's first evening; None while it has none."""
        return self.day_of_date(min(plan.evenings)) if plan.evenings else None


@lru_cache(4_000)
def _day_number(evening: date, zone: str, rule: DayRule) -> int:
    """Kept, as all instants of an evening have one number: a list of 1,000 pictures asks 1,000 times for a few."""
    at = ZoneInfo(zone)
    return day_number(datetime(evening.year, evening.month, evening.day, 20, tzinfo=at), at, rule)


def load_calendar(config: Config) -> Calendar:
    """The calendar by the programme's settings. Raises BadInputError for a day rule that is none."""
    try:
        return Calendar(config.programme.zone, DayRule(**config.days))
    except (ValueError, TypeError) as error:
        raise BadInputError(f"[days] in the settings: {error}", "Correct the value, or delete its line.") from error


#: A picture that was taken so many days before it came is called older, on its card and in the rundown.
OLDER_DAYS = 14.0


def days_old(listed: ListedPicture) -> float | None:
    """From its evening to its arrival; infinite where it is surely placed and of none of the days before it came; None
    where it cannot be told."""
    summary, came = listed.summary, listed.picture.submission.arrival.received_utc
    if summary is None or came is None:
        return None
    if (
        summary.evening in (EveningVerdict.SURE, EveningVerdict.TOLD)
        and summary.taken_utc is not None
        and summary.clock_verdict != ClockVerdict.DISAGREES
    ):
        return max((came - summary.taken_utc).total_seconds() / 86400.0, 0.0)
    of_none = (
        summary.sure
        and summary.evening == EveningVerdict.UNKNOWN
        and summary.clock_verdict in (ClockVerdict.DISAGREES, ClockVerdict.NO_CLOCK)
    )
    return math.inf if of_none else None


def older_words(listed: ListedPicture) -> str:
    """Said of a picture that is not of these days, empty of others."""
    days = days_old(listed)
    if days is None or days <= OLDER_DAYS:
        return ""
    if math.isinf(days):
        if listed.summary is not None and listed.summary.clock_verdict == ClockVerdict.DISAGREES:
            return "Not of the day given with it: the Moon’s light and tilt do not fit that. An older picture?"
        return "An older picture: the Moon’s light and tilt fit none of the days before it came."
    return f"An older picture: taken {span_of_days(days)} before it came."
