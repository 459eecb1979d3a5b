"""One picture's page: what it shows, as a frozen record made from the store's records without Flask or SQL."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from moondesk.checks.evening import time_to_state
from moondesk.files.time_taken import LETTER
from moondesk.records import Annotation, FeatureMark, Place
from moondesk.service.programme.certainty_words import Statement, certainty
from moondesk.service.programme.credit import sender_of, teller_of
from moondesk.service.programme.equipment import optics_words
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.permission import Permission
from moondesk.service.programme.ranking import Rating
from moondesk.service.programme.words import (
    best_seen,
    dated_words,
    evening_tone,
    feature_name,
    join_names,
    light_words,
    sigma_words,
    source_words,
    status_words,
    time_words,
    tone_of,
    visibility_words,
)
from moondesk.service.settings.config import Programme
from moondesk.service.store.decided import Decision, standing_changes
from moondesk.service.store.decisions import revision_of
from moondesk.service.store.records import Arrival, Enclosure, SentPicture, StoredAnnotation
from moondesk.service.web.desk.inbox.questions_page import AskForm, QuestionRow
from moondesk.service.web.desk.picture.correct_form import Details, details_of
from moondesk.service.web.desk.picture.decision_words import DecisionRow, decision_rows
from moondesk.service.web.desk.picture.facts import Fact, FactGroup, file_note, moon_facts, sender_facts, time_facts
from moondesk.service.web.desk.picture.layers import OverlayMarkup
from moondesk.service.web.desk.picture.letter_facts_page import LetterView
from moondesk.service.web.desk.picture.nights import Nights, nights_of
from moondesk.service.web.desk.picture.pairs import PairView
from moondesk.service.web.desk.placing_words import Standing

FEATURES_SHOWN = 12
READINGS_SHOWN = 5


@dataclass(frozen=True, kw_only=True)
class SeenRow:
    """A feature of the picture with its facts."""

    name: str
    meaning: str
    kind: str
    size: str
    light: str
    seen: str


@dataclass(frozen=True, kw_only=True)
class PicturePage:
    """One picture with all that is known of it."""

    programme: Programme
    picture_id: int
    #: For the page's forms.
    token: str
    edition_number: int
    sender: str
    status: str
    tone: str
    #: How well its evening is known, and its mark; both empty where it is not placed.
    dated: str
    dated_tone: str
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
    #: What the tool is sure of and what not.
    certain: tuple[Statement, ...]
    #: (name in an address, title) of the views beside the picture as it was sent.
    views: tuple[tuple[str, str], ...]
    #: x, y, width, height of the picture in its own pixels; None where there is none.
    frame: tuple[float, float, float, float] | None
    mirrored: bool | None
    #: What people have decided, the newest first; the mark of all that, so that two do not overwrite each other; what
    #: of it is drawn on the picture, as JSON.
    decisions: tuple[DecisionRow, ...]
    revision: str
    marks: str
    details: Details
    zones: tuple[tuple[str, str], ...]
    before_id: int | None
    after_id: int | None
    #: Other pictures that are, or may be, the same; how it ranks, None where nothing could be measured.
    pairs: tuple[PairView, ...] = ()
    rated: Rating | None = None
    #: The edition that it can be picked for: its own, or the next on air where that is over; whether it stands in that
    #: rundown, None where it cannot be picked.
    picks_for: int = 0
    picked: bool | None = None
    #: How the placing stands; None where it is placed or never will be.
    standing: Standing | None = None
    #: Why it may not go on air, sentences; letters of its sender that wait to be read.
    stops: tuple[str, ...] = ()
    held_by: tuple[int, ...] = ()
    #: The text of the mail that it came in; None: it came otherwise.
    letter: LetterView | None = None
    #: The nights it may be of, where its evening is not known; that it is not of these days, empty where it is.
    nights: Nights | None = None
    older: str = ""
    #: What its sender was asked by a link, and what can be; None: nothing can of what is no picture.
    questions: tuple[QuestionRow, ...] = ()
    ask: AskForm | None = None


@dataclass(frozen=True, kw_only=True)
class HeldValue:
    """A picture as the store has it. stored None: refused or not placed yet. decisions: those of `decisions_of`; may:
    by `permission_of`; available, overlay: see `PicturePage`."""

    picture: SentPicture
    stored: StoredAnnotation | None
    edition_number: int
    neighbours: tuple[int | None, int | None]
    decisions: tuple[Decision, ...]
    may: Permission
    available: tuple[str, ...]
    overlay: OverlayMarkup | None


def picture_page(held: HeldValue, programme: Programme, calendar: Calendar, token: str) -> PicturePage:
    picture, decisions = held.picture, held.decisions
    arrival = picture.submission.arrival
    annotation = held.stored.annotation if held.stored else None
    verdict, advice = _verdict(annotation, picture.enclosure)
    status, tone = _status(annotation, picture.enclosure)
    dated, dated_mark = _evening_words(annotation, arrival)
    marks = best_seen(annotation, FEATURES_SHOWN) if annotation else ()
    return PicturePage(
        programme=programme,
        picture_id=picture.id,
        token=token,
        edition_number=held.edition_number,
        sender=sender_of(arrival),
        status=status,
        tone=tone,
        dated=dated,
        dated_tone=dated_mark,
        verdict=verdict,
        advice=advice,
        overlay=held.overlay,
        disc=_disc(annotation),
        derived_key=held.stored.derived_key if held.stored else None,
        available=held.available,
        description=_description(annotation, arrival, marks),
        groups=_groups(held, calendar),
        seen=tuple(_visibility_row(m) for m in marks),
        remarks=_remarks(arrival, annotation),
        certain=certainty(annotation, teller_of(arrival), programme.zone) if annotation else (),
        views=views_of(annotation, programme.place),
        frame=_frame(annotation),
        mirrored=annotation.pose.mirrored if annotation and annotation.pose else None,
        decisions=decision_rows(decisions, programme.zone),
        revision=revision_of(decisions),
        marks=_marks(decisions),
        details=details_of(arrival, programme.zone),
        zones=_zones(programme.zone),
        before_id=held.neighbours[0],
        after_id=held.neighbours[1],
        stops=held.may.stops,
        held_by=held.may.held_by,
        nights=nights_of(annotation, programme.zone, calendar, bool(arrival.place or annotation.taken.place))
        if annotation
        else None,
    )


def _status(a: Annotation | None, enclosure: Enclosure) -> tuple[str, str]:
    """In words, and the mark's tone."""
    if enclosure.refused:
        return "Cannot be used", "refused"
    return (status_words(a.status, a.sure), tone_of(a.status, a.sure)) if a else ("Waiting", "waiting")


def _evening_words(a: Annotation | None, arrival: Arrival) -> tuple[str, str]:
    if a is None or not a.status.facts.is_named:
        return "", ""
    source = a.time.source if a.time else ""
    return dated_words(a.dated.verdict, source, teller_of(arrival)), evening_tone(a.dated.verdict, source)


def _groups(held: HeldValue, calendar: Calendar) -> tuple[FactGroup, ...]:
    """The facts by what they are about."""
    picture, zone = held.picture, calendar.zone
    arrival, enclosure = picture.submission.arrival, picture.enclosure
    annotation = held.stored.annotation if held.stored else None
    groups = [FactGroup("Sender", sender_facts(picture, held.may, zone))]
    if annotation and annotation.status.facts.opens:
        read = readings(annotation, zone, teller_of(arrival))
        groups.insert(
            0,
            FactGroup(
                "When and where",
                time_facts(annotation, arrival, calendar),
                read,
                f"{len(read)} readings of the time" if len(read) > 1 else "The file's own time",
            ),
        )
    if annotation and (annotation.pose or annotation.terminator):
        groups.insert(1, FactGroup("The Moon in this picture", moon_facts(annotation, optics_words(arrival))))
    record = [Fact("File", enclosure.given_name, file_note(picture, annotation))]
    if held.stored:
        made = time_words(held.stored.made_utc, zone)
        record.append(Fact("Looked at", made, f"by core {held.stored.engine_version}"))
    groups.append(FactGroup("Record", tuple(record)))
    return tuple(groups)


def _visibility_row(m: FeatureMark) -> SeenRow:
    return SeenRow(
        name=m.feature.name,
        meaning=m.feature.meaning or "",
        kind=m.feature.kind,
        size=f"{_size(m.feature.size_km)} km",
        light=light_words(m),
        seen=visibility_words(m.seen),
    )


def _description(a: Annotation | None, arrival: Arrival, marks: Sequence[FeatureMark]) -> str:
    what = "Photograph of the Moon" if a and a.pose else "Picture sent"
    names = join_names([feature_name(m) for m in marks[:5]])
    return f"{what} by {sender_of(arrival)}" + (f", showing {names}" if names else "")


def readings(a: Annotation, zone: str, teller: str = "") -> tuple[Fact, ...]:
    """Every time that was told or read, likeliest first, beside what the picture itself says; none where one alone is
    known and it is shown already."""
    if len(a.taken.candidates) < 2 and not (a.taken.candidates and a.time and a.time.source == "picture"):
        return ()
    facts = []
    shown, rest = a.taken.candidates[:READINGS_SHOWN], a.taken.candidates[READINGS_SHOWN:]
    for k, candidate in enumerate((*shown, *(c for c in rest if c.source == LETTER))):
        source = f"told by {teller}" if candidate.source == "told" and teller else source_words(candidate.source)
        notes = [f"{source}, {sigma_words(candidate.sigma_minutes)}"]
        if a.time is not None and candidate.utc == a.time.utc and candidate.source == a.time.source:
            notes.append("taken as right")
        if a.clock.picture_utc is not None:
            off = (candidate.utc - a.clock.picture_utc).total_seconds() / 3600
            if abs(off) >= 0.1:
                notes.append(f"{apart_words(abs(off))} {'after' if off > 0 else 'before'} what the picture shows")
        facts.append(Fact(f"{k + 1}", time_words(candidate.utc, zone), "; ".join(notes)))
    return tuple(facts)


def apart_words(hours: float) -> str:
    """A span of time, to two digits or so."""
    if hours < 1.5:
        return f"{hours * 60:.0f} min"
    return f"{hours:.1f} h" if hours < 48 else f"{hours / 24:.0f} days"


def views_of(a: Annotation | None, place: Place | None) -> tuple[tuple[str, str], ...]:
    """Views beside the picture as sent. As the eye sees it: where time and the programme's place are known."""
    if a is None or a.pose is None or not a.status.facts.is_named:
        return ()
    found = [("upright", "Upright")]
    if place is not None and time_to_state(a) is not None:
        found.append(("eye", "As the eye sees it"))
    if place is not None and place.latitude_deg < 0:
        found.append(("south", "South up"))
    return tuple(found)


def _frame(a: Annotation | None) -> tuple[float, float, float, float] | None:
    return (-0.5, -0.5, float(a.width), float(a.height)) if a and a.width and a.height else None


def _marks(decisions: tuple[Decision, ...]) -> str:
    return json.dumps(
        {c.kind: c.what for c in standing_changes(decisions) if c.kind in ("circle", "pins")}, ensure_ascii=False
    )


def _zones(zone: str) -> tuple[tuple[str, str], ...]:
    return tuple({zone: f"by the clock in {zone.rpartition('/')[2].replace('_', ' ')}", "UTC": "UTC"}.items())


def _remarks(arrival: Arrival, a: Annotation | None) -> tuple[str, ...]:
    said = tuple(map(str, arrival.remarks))
    return (*said, *a.taken.remarks, *a.flags) if a else said


def _disc(a: Annotation | None) -> tuple[float, float, float] | None:
    found = (a.pose or a.limb) if a and a.status.facts.shows_disc else None
    return (round(found.x, 1), round(found.y, 1), round(found.radius_px, 1)) if found else None


def _verdict(a: Annotation | None, enclosure: Enclosure) -> tuple[str, str]:
    """What the tool is sure of and what not, and what to do about it."""
    if enclosure.refused:
        return enclosure.refused, ""
    if a is None:
        return "This picture has not been placed yet.", ""
    if a.status.facts.is_named and a.sure:
        words = "Sure: the names are in the right places." + (f" {a.reason}" if a.reason else "")
    elif a.status.facts.is_named:
        words = f"Not sure: {a.reason}" if a.reason else "Not sure: have a look before it goes on air."
    else:
        words = a.reason or "No names can be given for this picture."
    return words, a.advice


def _size(km: float) -> str:
    return f"{km:.1f}" if km < 10 else f"{km:,.0f}".replace(",", "\u00a0")
