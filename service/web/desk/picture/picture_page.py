"""One picture's page: what it shows, as a frozen record made from the store's records without Flask or SQL."""

from __future__ import annotations

import json
from dataclasses import dataclass

from moondesk.checks.evening import time_to_state
from moondesk.records import Annotation
from moondesk.service.programme.certainty import Said, certainty
from moondesk.service.programme.credit import sender_of, teller_of
from moondesk.service.programme.equipment import equipment_words
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.permission import Permission
from moondesk.service.programme.ranking import Rated
from moondesk.service.programme.words import (
    best_seen,
    dated_tone,
    dated_words,
    feature_name,
    joined,
    light_words,
    seen_words,
    sigma_words,
    source_words,
    status_words,
    time_words,
    tone_of,
)
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.decided import Decision, standing
from moondesk.service.store.decisions import revision_of
from moondesk.service.store.records import Arrival, SentPicture, StoredAnnotation
from moondesk.service.web.desk.inbox.letters_page import Text
from moondesk.service.web.desk.pages import Standing
from moondesk.service.web.desk.picture.correct_form import Details, details_of
from moondesk.service.web.desk.picture.decision_words import DecisionRow, decision_rows
from moondesk.service.web.desk.picture.facts import Fact, FactGroup, file_note, moon_facts, sender_facts, time_facts
from moondesk.service.web.desk.picture.layers import OverlayMarkup
from moondesk.service.web.desk.picture.nights import Nights, nights_of
from moondesk.service.web.desk.picture.pairs_view import PairView

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
    certain: tuple[Said, ...]
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
    rated: Rated | None = None
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
    letter: Text | None = None
    #: The nights it may be of, where its evening is not known; that it is not of these days, empty where it is.
    nights: Nights | None = None
    older: str = ""


def picture_page(
    config: Config,
    calendar: Calendar,
    edition_number: int,
    picture: SentPicture,
    stored: StoredAnnotation | None,
    overlay: OverlayMarkup | None,
    available: tuple[str, ...],
    neighbours: tuple[int | None, int | None],
    decisions: tuple[Decision, ...],
    token: str,
    may: Permission,
) -> PicturePage:
    """The page of one picture; stored None: refused or not placed yet. decisions: those of `decisions_of`; may: by
    `permission_of`."""
    arrival, enclosure = picture.submission.arrival, picture.enclosure
    annotation = stored.annotation if stored else None
    dated = dated_mark = ""
    if enclosure.refused:
        status, tone, verdict, advice = "Cannot be used", "refused", enclosure.refused, ""
    elif annotation is None:
        status, tone = "Waiting", "waiting"
        verdict, advice = "This picture has not been placed yet.", ""
    else:
        status = status_words(annotation.status, annotation.sure)
        tone = tone_of(annotation.status, annotation.sure)
        verdict, advice = _verdict(annotation), annotation.advice
        if annotation.status.facts.is_named:
            source = annotation.time.source if annotation.time else ""
            dated = dated_words(annotation.dated.verdict, source, teller_of(arrival))
            dated_mark = dated_tone(annotation.dated.verdict, source)
    groups = [FactGroup("Sender", sender_facts(picture, may, config))]
    if annotation and annotation.status.facts.opens:
        read = readings(annotation, config.programme.zone, teller_of(arrival))
        groups.insert(
            0,
            FactGroup(
                "When and where",
                time_facts(annotation, arrival, config, calendar),
                read,
                f"{len(read)} readings of the time" if len(read) > 1 else "The file's own time",
            ),
        )
    if annotation and (annotation.pose or annotation.terminator):
        groups.insert(1, FactGroup("The Moon in this picture", moon_facts(annotation, equipment_words(arrival))))
    record = [Fact("File", enclosure.given_name, file_note(picture, annotation))]
    if stored:
        made = time_words(stored.made_utc, config.programme.zone)
        record.append(Fact("Looked at", made, f"by core {stored.engine_version}"))
    groups.append(FactGroup("Record", tuple(record)))
    marks = best_seen(annotation, FEATURES_SHOWN) if annotation else ()
    rows = tuple(
        SeenRow(
            name=m.feature.name,
            meaning=m.feature.meaning or "",
            kind=m.feature.kind,
            size=f"{_size(m.feature.size_km)} km",
            light=light_words(m),
            seen=seen_words(m.seen),
        )
        for m in marks
    )
    names = joined([feature_name(m) for m in marks[:5]])
    description = (
        f"Photograph of the Moon by {sender_of(arrival)}"
        if annotation and annotation.pose
        else (f"Picture sent by {sender_of(arrival)}")
    )
    if names:
        description += f", showing {names}"
    return PicturePage(
        programme=config.programme,
        picture_id=picture.id,
        token=token,
        edition_number=edition_number,
        sender=sender_of(arrival),
        status=status,
        tone=tone,
        dated=dated,
        dated_tone=dated_mark,
        verdict=verdict,
        advice=advice,
        overlay=overlay,
        disc=_disc(annotation),
        derived_key=stored.derived_key if stored else None,
        available=available,
        description=description,
        groups=tuple(groups),
        seen=rows,
        remarks=_remarks(arrival, annotation),
        certain=certainty(annotation, teller_of(arrival), config.programme.zone) if annotation else (),
        views=views_of(annotation, config),
        frame=_frame(annotation),
        mirrored=annotation.pose.mirrored if annotation and annotation.pose else None,
        decisions=decision_rows(decisions, config.programme.zone),
        revision=revision_of(decisions),
        marks=_marks(decisions),
        details=details_of(arrival, config.programme.zone),
        zones=_zones(config.programme.zone),
        before_id=neighbours[0],
        after_id=neighbours[1],
        stops=may.stops,
        held_by=may.held_by,
        nights=nights_of(annotation, config.programme.zone, calendar, bool(arrival.place or annotation.taken.place))
        if annotation
        else None,
    )


def readings(a: Annotation, zone: str, teller: str = "") -> tuple[Fact, ...]:
    """Every time that was told or read, likeliest first, beside what the picture itself says; none where one alone is
    known and it is shown already."""
    if len(a.taken.candidates) < 2 and not (a.taken.candidates and a.time and a.time.source == "picture"):
        return ()
    facts = []
    for k, candidate in enumerate(a.taken.candidates[:READINGS_SHOWN]):
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


def views_of(a: Annotation | None, config: Config) -> tuple[tuple[str, str], ...]:
    """Views beside the picture as sent. As the eye sees it: where time and the programme's place are known."""
    if a is None or a.pose is None or not a.status.facts.is_named:
        return ()
    place = config.programme.place
    found = [("upright", "Upright")]
    if place is not None and time_to_state(a) is not None:
        found.append(("eye", "As the eye sees it"))
    if place is not None and place.latitude_deg < 0:
        found.append(("south", "South up"))
    return tuple(found)


def _frame(a: Annotation | None) -> tuple[float, float, float, float] | None:
    return (-0.5, -0.5, float(a.width), float(a.height)) if a and a.width and a.height else None


def _marks(decisions: tuple[Decision, ...]) -> str:
    return json.dumps({c.kind: c.what for c in standing(decisions) if c.kind in ("circle", "pins")}, ensure_ascii=False)


def _zones(zone: str) -> tuple[tuple[str, str], ...]:
    return tuple({zone: f"by the clock in {zone.rpartition('/')[2].replace('_', ' ')}", "UTC": "UTC"}.items())


def _remarks(arrival: Arrival, a: Annotation | None) -> tuple[str, ...]:
    return (*arrival.remarks, *a.taken.remarks, *a.flags) if a else arrival.remarks


def _disc(a: Annotation | None) -> tuple[float, float, float] | None:
    found = (a.pose or a.limb) if a and a.status.facts.shows_disc else None
    return (round(found.x, 1), round(found.y, 1), round(found.radius_px, 1)) if found else None


def _verdict(a: Annotation) -> str:
    if a.status.facts.is_named and a.sure:
        return "Sure: the names are in the right places." + (f" {a.reason}" if a.reason else "")
    if a.status.facts.is_named:
        return f"Not sure: {a.reason}" if a.reason else "Not sure: have a look before it goes on air."
    return a.reason or "No names can be given for this picture."


def _size(km: float) -> str:
    return f"{km:.1f}" if km < 10 else f"{km:,.0f}".replace(",", "\u00a0")
