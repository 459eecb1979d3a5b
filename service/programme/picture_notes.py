"""What a picture's notes need to know beside it: its evening and the next at the programme's hour, and the last edition's.
Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta

from moondesk.notes.picture_notes import notes_of
from moondesk.notes.records import Notes, NotesNight
from moondesk.quality.resolution import Resolution
from moondesk.records import Annotation, NotFound
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.evenings_to_come import air_of, evening_air
from moondesk.service.store.measured import measured_quality
from moondesk.service.store.records import Edition, StoredAnnotation
from moondesk.shadows.heights import ShadowHeight


def notes_around(
    annotation: Annotation,
    number: int,
    editions: Sequence[Edition],
    calendar: Calendar,
    heights: Mapping[str, ShadowHeight],
) -> Notes | NotFound:
    """number: of the edition in which it is shown. heights: from its shadows, by the crater's name."""
    when, following = time_taken(annotation), None
    if when is not None:
        following = _at_air(calendar.evening(when).date + timedelta(days=1), editions, calendar)
    return notes_of(annotation, when, _last(number, editions, calendar), following, heights=heights)


def time_taken(annotation: Annotation) -> datetime | None:
    """When it was taken; None where nobody knows. (How well it is known goes into the notes.)"""
    return annotation.time.utc if annotation.time is not None else None


def blur_km(stored: StoredAnnotation) -> float | None:
    """Of the picture, as it was measured; None where it was not."""
    quality = measured_quality(stored.quality)
    resolution = quality.resolution if quality else None
    return resolution.blur_km if isinstance(resolution, Resolution) else None


def _at_air(day: date, editions: Sequence[Edition], calendar: Calendar) -> NotesNight:
    """An evening at the programme's hour."""
    return NotesNight(day, evening_air(day, air_of(editions, calendar), calendar.zone)[0])


def _last(number: int, editions: Sequence[Edition], calendar: Calendar) -> NotesNight | None:
    """The last evening of the edition before."""
    before = [e for e in editions if e.plan.number < number and e.plan.evenings]
    if not before:
        return None
    return _at_air(max(max(before, key=lambda e: e.plan.number).plan.evenings), editions, calendar)
