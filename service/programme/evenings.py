"""Evenings and day numbers by the programme's rule: the one place where the shell asks the Moon's calendar."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from moondesk.ephemeris.phases import DayRule, day_number, evening_of
from moondesk.service.errors import BadInputError
from moondesk.service.settings.config import Config
from moondesk.service.store.records import EditionPlan


@dataclass(frozen=True)
class Evening:
    """An evening in the programme's zone and its day of the lunation; None outside the years the calendar covers."""

    date: date
    day_number: int | None


@dataclass(frozen=True)
class Calendar:
    zone: str
    rule: DayRule

    def evening(self, when: datetime) -> Evening:
        """The evening that an instant belongs to."""
        zone = ZoneInfo(self.zone)
        try:
            return Evening(day := evening_of(when, zone), _day_number(day, self.zone, self.rule))
        except ValueError:  # outside 1900-2099
            local = when.astimezone(zone)
            return Evening(local.date() - timedelta(days=local.hour < 12), None)

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
