"""The notes of a stored picture: what the store knows of its evening and of the last edition goes into the core."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from annotate.notes.records import Night, Notes
from annotate.notes.speaking import notes_of
from annotate.records import Annotation, NotFound
from service.config import Config
from service.desk.planning.coming_sky import air_of, evening_air
from service.evenings import Calendar
from service.store.records import Edition
from service.store.storage import Storage


def notes_for(storage: Storage, config: Config, calendar: Calendar, picture_id: int, edition: int | None = None,
              ) -> Notes | NotFound:
    """The notes to speak from for a picture; NotFound where it cannot be said what it shows.

    edition: number of the one it is shown in (None: the one it came in for); what has newly come into the light is
    counted from the last evening of the edition before. Raises NotStoredError for a picture that there is none of.
    """
    picture, stored = storage.picture(picture_id), storage.annotation(picture_id)
    if stored is None:
        return NotFound("notes", "This picture has not been placed yet.", "Look again in a moment.")
    editions = storage.editions()
    number = edition
    if number is None:
        number = next(e.plan.number for e in editions if e.id == picture.submission.edition_id)
    when = taken_at(stored.annotation)
    following = None
    if when is not None:
        following = night_of(calendar.evening(when).date + timedelta(days=1), editions, config, calendar)
    return notes_of(stored.annotation, when, _last(number, editions, config, calendar), following)


def taken_at(annotation: Annotation) -> datetime | None:
    """When it was taken; None where nobody knows. (How well it is known goes into the notes.)"""
    return annotation.time.utc if annotation.time is not None else None


def night_of(day: date, editions: tuple[Edition, ...], config: Config, calendar: Calendar) -> Night:
    """An evening at the programme's hour."""
    return Night(day, evening_air(day, air_of(editions, config, calendar), calendar.zone)[0])


def _last(number: int, editions: tuple[Edition, ...], config: Config, calendar: Calendar) -> Night | None:
    before = [e for e in editions if e.plan.number < number and e.plan.evenings]
    if not before:
        return None
    return night_of(max(max(before, key=lambda e: e.plan.number).plan.evenings), editions, config, calendar)
