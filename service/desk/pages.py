"""What each page shows: one frozen record a template, made here from the store's records without Flask or SQL."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from annotate.records import Annotation
from service.arrivals.suggest import consent_of
from service.config import Config, Programme
from service.desk.facts import (
    Fact,
    FactGroup,
    equipment_words,
    file_note,
    moon_facts,
    sender_facts,
    sender_of,
    time_facts,
)
from service.desk.layers import OverlayMarkup
from service.evenings import Calendar
from service.store.records import Arrival, Counts, Edition, ListedPicture, SentPicture, StoredAnnotation
from service.words import (
    best_seen,
    date_words,
    feature_name,
    hour_words,
    joined,
    light_words,
    seen_words,
    status_words,
    time_words,
)

PER_PAGE = 60
CONSENT_CAUTIONS = {
    "given": "", "none": "No consent recorded", "suggested": "Consent in the mail, not confirmed",
    "unclear": "Consent not clear", "refused": "Consent refused",
}
FEATURES_SHOWN = 12


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
class SeenRow:
    """A feature of the picture with its facts."""

    name: str
    meaning: str
    kind: str
    size: str
    light: str
    seen: str


@dataclass(frozen=True)
class PicturePage:
    """One picture with all that is known of it."""

    programme: Programme
    picture_id: int
    edition_number: int
    sender: str
    status: str
    tone: str
    #: What the tool is sure of and what not, and what to do about it.
    verdict: str
    advice: str
    #: None where there is nothing to draw on the picture.
    overlay: OverlayMarkup | None
    #: Centre and radius of the disc in the picture's pixels, for the view of the Moon alone.
    disc: tuple[float, float, float] | None
    derived_key: str | None
    #: Roles of the derived pictures that exist: "photo", "labelled", "upright".
    available: tuple[str, ...]
    #: Words for those who cannot see the picture.
    description: str
    groups: tuple[FactGroup, ...]
    seen: tuple[SeenRow, ...]
    remarks: tuple[str, ...]
    before_id: int | None
    after_id: int | None


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


def picture_page(config: Config, calendar: Calendar, edition_number: int, picture: SentPicture,
                 stored: StoredAnnotation | None, overlay: OverlayMarkup | None, available: tuple[str, ...],
                 neighbours: tuple[int | None, int | None]) -> PicturePage:
    """The page of one picture; stored None: refused or not placed yet."""
    arrival, enclosure = picture.submission.arrival, picture.enclosure
    annotation = stored.annotation if stored else None
    if enclosure.refused:
        status, tone, verdict, advice = "Cannot be used", "refused", enclosure.refused, ""
    elif annotation is None:
        status, tone = "Waiting", "waiting"
        verdict, advice = "This picture has not been placed yet.", "It is placed when its turn comes; look again then."
    else:
        status = status_words(annotation.status, annotation.sure)
        tone = tone_of(annotation.status, annotation.sure)
        verdict, advice = _verdict(annotation), annotation.advice
    groups = [FactGroup("Sender", sender_facts(picture, config))]
    if annotation and annotation.status != "unreadable":
        groups.insert(0, FactGroup("When and where", time_facts(annotation, arrival, config, calendar)))
    if annotation and (annotation.pose or annotation.terminator):
        groups.insert(1, FactGroup("The Moon in this picture", moon_facts(annotation, equipment_words(arrival))))
    record = [Fact("File", enclosure.given_name, file_note(picture, annotation))]
    if stored:
        made = time_words(stored.made_utc, config.programme.zone)
        record.append(Fact("Looked at", made, f"by core {stored.engine_version}"))
    groups.append(FactGroup("Record", tuple(record)))
    marks = best_seen(annotation, FEATURES_SHOWN) if annotation else ()
    rows = tuple(SeenRow(m.feature.name, m.feature.meaning or "", m.feature.kind, f"{_size(m.feature.size_km)} km",
                         light_words(m), seen_words(m.seen)) for m in marks)
    names = joined([feature_name(m) for m in marks[:5]])
    description = f"Photograph of the Moon by {sender_of(arrival)}" if annotation and annotation.pose else (
        f"Picture sent by {sender_of(arrival)}")
    if names:
        description += f", showing {names}"
    return PicturePage(
        config.programme, picture.id, edition_number, sender_of(arrival), status, tone, verdict, advice,
        overlay, _disc(annotation), stored.derived_key if stored else None, available, description,
        tuple(groups), rows, _remarks(arrival, annotation), *neighbours,
    )


def _remarks(arrival: Arrival, a: Annotation | None) -> tuple[str, ...]:
    return (*arrival.remarks, *a.taken.remarks, *a.flags) if a else arrival.remarks


def _disc(a: Annotation | None) -> tuple[float, float, float] | None:
    found = (a.pose or a.limb) if a and a.status in ("annotated", "disc_only", "eclipse") else None
    return (round(found.x, 1), round(found.y, 1), round(found.radius_px, 1)) if found else None


def _verdict(a: Annotation) -> str:
    if a.status == "annotated" and a.sure:
        return "Sure: the names are in the right places." + (f" {a.reason}" if a.reason else "")
    if a.status == "annotated":
        return f"Not sure: {a.reason}" if a.reason else "Not sure: have a look before it goes on air."
    return a.reason or "No names can be given for this picture."


def _size(km: float) -> str:
    return f"{km:.1f}" if km < 10 else f"{km:,.0f}".replace(",", "\u00a0")
