"""What several pages share: an edition in words, a picture's tone, the page of an error. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from service.config import Config, Programme
from service.evenings import Calendar
from service.store.records import Edition
from service.words import date_words, joined, time_words


@dataclass(frozen=True)
class EditionView:
    """An edition in words. lines: (label, text)."""

    number: int
    kind: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ErrorPage:
    programme: Programme
    code: int
    title: str
    sentence: str
    advice: str


def edition_view(edition: Edition, config: Config, calendar: Calendar) -> EditionView:
    plan, zone = edition.plan, config.programme.zone
    lines = []
    if plan.evenings:
        label = "Evening" if len(plan.evenings) == 1 else "Evenings"
        days = [f"{date_words(e)}{_day(calendar.day_of_date(e))}" for e in plan.evenings]
        lines.append((label, joined(days)))
    if plan.recording_utc:
        lines.append(("Recorded", time_words(plan.recording_utc, zone)))
    lines.append(("On air", time_words(plan.air_utc, zone) if plan.air_utc else "not settled"))
    return EditionView(plan.number, plan.kind, tuple(lines))


def _day(number: int | None) -> str:
    return "" if number is None else f", day {number}"


def tone_of(status: str, sure: bool) -> str:
    if status == "annotated":
        return "sure" if sure else "unsure"
    return "unplaced"
