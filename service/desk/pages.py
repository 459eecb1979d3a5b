"""What each page shows: one frozen record a template, made here from the store's records without Flask or SQL."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from service.arrivals.suggest import consent_of
from service.config import Config, Programme
from service.desk.facts import sender_of
from service.evenings import Calendar
from service.store.records import Counts, Edition, ListedPicture
from service.words import date_words, hour_words, joined, status_words, time_words

PER_PAGE = 60
CONSENT_CAUTIONS = {
    "given": "", "none": "No consent recorded", "suggested": "Consent in the mail, not confirmed",
    "unclear": "Consent not clear", "refused": "Consent refused",
}


@dataclass(frozen=True)
class EditionView:
    """An edition in words. lines: (label, text)."""

    number: int
    kind: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Card:
    """A picture in the list. tone: "sure", "unsure", "unplaced", "refused" or "waiting"; it names the mark's look."""

    picture_id: int
    sender: str
    given_name: str
    when: str
    #: "Day 7", the day of the lunation of the picture's own evening, and that evening; empty while no time is known.
    day: str
    evening: str
    status: str
    tone: str
    detail: str
    place_name: str
    #: Version mark of the derived pictures; None where there is no thumbnail.
    derived_key: str | None
    #: What is missing for it to go on air; empty where consent is given.
    consent_caution: str


@dataclass(frozen=True)
class ListPage:
    """The list of an edition's submissions. edition None: nothing has come in yet."""

    programme: Programme
    edition: EditionView | None
    other_editions: tuple[int, ...]
    counts: Counts
    cards: tuple[Card, ...]
    page: int
    pages: int


@dataclass(frozen=True)
class ErrorPage:
    programme: Programme
    code: int
    title: str
    sentence: str
    advice: str


def list_page(config: Config, calendar: Calendar, edition: Edition | None, editions: tuple[Edition, ...],
              counts: Counts, pictures: tuple[ListedPicture, ...], page: int) -> ListPage:
    """The list's page; `pictures` are those of this page, `page` counts from 1."""
    return ListPage(
        config.programme,
        edition_view(edition, config, calendar) if edition else None,
        tuple(e.plan.number for e in editions if edition is None or e.id != edition.id),
        counts,
        tuple(_card(p, config, calendar) for p in pictures),
        page,
        max(1, -(-counts.total // PER_PAGE)),
    )


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


def _card(listed: ListedPicture, config: Config, calendar: Calendar) -> Card:
    arrival, enclosure, summary = listed.picture.submission.arrival, listed.picture.enclosure, listed.summary
    when = day = evening_words = ""
    key = None
    if enclosure.refused:
        status, tone, detail = "Cannot be used", "refused", enclosure.refused
    elif summary is None:
        status, tone, detail = "Waiting", "waiting", "Not placed yet; it waits for its turn."
    else:
        status, tone = status_words(summary.status, summary.sure), tone_of(summary.status, summary.sure)
        detail = summary.reason or (f"Best seen: {joined(summary.best_seen[:3])}." if summary.best_seen else "")
        if summary.taken_utc:
            evening = calendar.evening(summary.taken_utc)
            when = time_words(summary.taken_utc, config.programme.zone)
            day = "" if evening.day_number is None else f"Day {evening.day_number}"
            evening_words = f"Evening of {date_words(evening.date)}"
            if summary.taken_utc.astimezone(ZoneInfo(config.programme.zone)).date() == evening.date:
                when = hour_words(summary.taken_utc, config.programme.zone)  # its date stands above it
        key = summary.derived_key if summary.status != "unreadable" else None
    return Card(listed.picture.id, sender_of(arrival), enclosure.given_name, when, day, evening_words, status, tone,
                detail, arrival.place_name, key, CONSENT_CAUTIONS[consent_of(arrival).state])
