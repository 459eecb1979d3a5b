"""One picture's page: what it shows, as a frozen record made from the store's records without Flask or SQL."""

from __future__ import annotations

from dataclasses import dataclass

from annotate.records import Annotation
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
from service.desk.pages import tone_of
from service.evenings import Calendar
from service.store.records import Arrival, SentPicture, StoredAnnotation
from service.words import best_seen, feature_name, joined, light_words, seen_words, status_words, time_words

FEATURES_SHOWN = 12


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
