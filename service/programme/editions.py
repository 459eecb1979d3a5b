"""Editions: which is next to air (the desk opens with it, and what comes in goes to it), and one in words. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.words import date_words, join_names, time_words
from moondesk.service.store.records import Edition


def not_aired(editions: Sequence[Edition], now: datetime) -> list[Edition]:
    """Those that are not aired yet, the lowest number first."""
    left = [e for e in editions if e.plan.air_utc is None or e.plan.air_utc > now]
    return sorted(left, key=lambda e: e.plan.number)


def next_to_air(editions: Sequence[Edition], chosen: int | None, now: datetime) -> Edition | None:
    """The chosen number's while it is not aired; else the lowest not aired; else the newest. None: there are none."""
    left = not_aired(editions, now)
    picked = [e for e in left if e.plan.number == chosen] or left
    return picked[0] if picked else max(editions, key=lambda e: e.plan.number, default=None)


@dataclass(frozen=True)
class EditionView:
    """An edition in words. lines: (label, text)."""

    number: int
    kind: str
    lines: tuple[tuple[str, str], ...]


def edition_view(edition: Edition, calendar: Calendar) -> EditionView:
    plan, zone = edition.plan, calendar.zone
    lines = []
    if plan.evenings:
        label = "Evening" if len(plan.evenings) == 1 else "Evenings"
        days = [f"{date_words(e)}{_day(calendar.day_of_date(e))}" for e in plan.evenings]
        lines.append((label, join_names(days)))
    if plan.recording_utc:
        lines.append(("Recorded", time_words(plan.recording_utc, zone)))
    lines.append(("On air", time_words(plan.air_utc, zone) if plan.air_utc else "not settled"))
    return EditionView(plan.number, plan.kind, tuple(lines))


def _day(number: int | None) -> str:
    return "" if number is None else f", day {number}"
