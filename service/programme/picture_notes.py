"""The notes of a stored picture: what the store knows of its evening and of the last edition goes into the core."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from moondesk.notes.picture_notes import notes_of
from moondesk.notes.records import Night, Notes
from moondesk.quality.measurement import Quality
from moondesk.quality.resolution import Resolution
from moondesk.records import Annotation, NotFound
from moondesk.service.jobs.shadow_heights import heights_of
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.evenings_to_come import air_of, evening_air
from moondesk.service.settings.config import Config
from moondesk.service.store.measured import quality_of
from moondesk.service.store.media import Media
from moondesk.service.store.records import Edition, StoredAnnotation
from moondesk.service.store.storage import Storage
from moondesk.shadows.heights import ShadowHeight

#: How a function of the core is run in a child.
Run = Callable[..., Any]


def notes_for(
    storage: Storage,
    config: Config,
    calendar: Calendar,
    picture_id: int,
    edition: int | None = None,
    run: Run | None = None,
) -> Notes | NotFound:
    """The notes to speak from for a picture; NotFound where it cannot be said what it shows.

    edition: number of the one it is shown in (None: the one it came in for); what has newly come into the light is
    counted from the last evening of the edition before. run: `Workshop.run`, by which shadows are measured that were
    not yet (a second or two); None: only heights that are known are told. Raises NotStoredError for a picture that
    there is none of.
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
    heights: Mapping[str, ShadowHeight] = {}
    if picture.enclosure.sha256 is not None:
        heights = heights_of(
            Media(config.data_dir),
            picture.enclosure.sha256,
            stored.derived_key,
            stored.annotation,
            _blur_km(stored),
            run,
        )
    return notes_of(stored.annotation, when, _last(number, editions, config, calendar), following, heights=heights)


def _blur_km(stored: StoredAnnotation) -> float | None:
    """Of the picture, as it was measured; None where it was not."""
    try:
        quality = quality_of(stored.quality) if stored.quality else None
    except (ValueError, KeyError, TypeError):  # written by another release
        return None
    resolution = quality.resolution if isinstance(quality, Quality) else None
    return resolution.blur_km if isinstance(resolution, Resolution) else None


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
