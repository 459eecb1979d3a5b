"""The nights that an undated picture may be of, as choices on its page. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from moondesk.checks.evening import VAGUE_MINUTES
from moondesk.records import Annotation, Evening, EveningVerdict
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.words import date_words, hour_words

#: Nights offered on the page, and named in a question, the likeliest first.
NIGHTS_SHOWN, NIGHTS_ASKED = 6, 3
#: A sender is asked of no night longer ago than this, years: few could tell.
YEARS_ASKED = 10


@dataclass(frozen=True)
class NightChoice:
    """A choice: words on it, what is known of it, and what its form sends (see `correct_form.read_details`)."""

    words: str
    note: str
    taken: str
    sigma_minutes: str


@dataclass(frozen=True)
class Nights:
    """intro: what the choices are; more: how many further ones fit, in words."""

    intro: str
    choices: tuple[NightChoice, ...]
    more: str


def nights_of(a: Annotation, zone: str, calendar: Calendar, place_known: bool) -> Nights | None:
    """None where the evening is known, or where no night fits."""
    if not a.evenings or a.dated.verdict not in (EveningVerdict.UNKNOWN, EveningVerdict.UNSURE):
        return None
    shown = a.evenings[:NIGHTS_SHOWN]
    rest = len(a.evenings) - len(shown)
    more = "" if not rest else f"{rest} more fit." if rest > 1 else "One more fits."
    if sum(e.probability for e in a.evenings) < 0.995:  # more fit than are listed
        more = "Others fit too."
    wide = "" if place_known else " Where the sender’s place is known, fewer fit."
    return Nights(
        f"Nights on which the Moon had this light and tilt, the likeliest first.{wide} The picture cannot "
        "tell which of them it was: choose one only if somebody knows.",
        tuple(_night(e, zone, calendar) for e in shown),
        more,
    )


def _night(e: Evening, zone: str, calendar: Calendar) -> NightChoice:
    evening = calendar.evening(e.utc)
    day = "" if evening.day_number is None else f"day {evening.day_number} of the lunation, "
    sigma = min(60.0 * e.sigma_hours, VAGUE_MINUTES)
    about = f"{day}about {hour_words(e.utc, zone)}"  # without a ±: it is a guess as long as nobody chooses it
    return NightChoice(f"Evening of {date_words(evening.date)}", about, f"{e.utc:%Y-%m-%dT%H:%M}", f"{sigma:.0f}")


def nights_to_ask(a: Annotation, calendar: Calendar, came: date) -> tuple[date, ...]:
    """The evenings of the likeliest nights, for a question to the sender of a picture that came on a day."""
    evenings = dict.fromkeys(calendar.evening(e.utc).date for e in a.evenings)
    return tuple(day for day in evenings if day <= came and came.year - day.year <= YEARS_ASKED)[:NIGHTS_ASKED]
