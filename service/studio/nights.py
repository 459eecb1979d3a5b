"""Which pictures an evening has to give: surely placed, their time believed, and none that may not be shown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.store.archive import pictures_with_dates
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ListedPicture
from moondesk.service.studio import Studio

#: Evenings of a month: one more than the longest lunation has days.
EVENINGS = 30
UNNAMED = "a viewer who asks not to be named"


@dataclass(frozen=True)
class EditionNight:
    """An evening's pictures that may be shown, the first taken first; withheld: how many may not."""

    evening: date
    pictures: tuple[ListedPicture, ...]
    withheld: int


def by_evening(studio: Studio) -> dict[date, list[int]]:
    """Ids of pictures by evening, whether they may be shown or not."""
    found: dict[date, list[int]] = {}
    for one in pictures_with_dates(studio.storage):
        found.setdefault(studio.calendar.evening(one.taken_utc).date, []).append(one.picture_id)
    return found


def night_of(studio: Studio, evening: date) -> EditionNight:
    pictures = list_by_id(studio.storage, by_evening(studio).get(evening, []))
    may = tuple(p for p in pictures if not reasons_not_to_air(p, studio.config.entry_terms))
    return EditionNight(evening, may, len(pictures) - len(may))


def best_of_evenings(studio: Studio, first: date) -> dict[date, ListedPicture]:
    """Of each of the 30 evenings from the first on the picture that ranks best by what was measured."""
    evenings, found = by_evening(studio), {}
    for k in range(EVENINGS):
        day = first + timedelta(days=k)
        may = [
            p
            for p in list_by_id(studio.storage, evenings.get(day, []))
            if not reasons_not_to_air(p, studio.config.entry_terms)
        ]
        if may:
            found[day] = max(may, key=worth)
    return found


def worth(picture: ListedPicture) -> float:
    """0..1 by what was measured of it alone; 0 where nothing was."""
    from moondesk.quality.score import Facts, Score, score
    from moondesk.service.store.measured import measured_quality

    quality = measured_quality(picture.summary.quality) if picture.summary else None
    found = score(quality, Facts()) if quality else None
    return found.value if isinstance(found, Score) and found.value == found.value else 0.0


def credit_of_picture(picture: ListedPicture) -> str:
    """Exactly as the sender asks; who asks not to be named is not."""
    own = credit_of(picture.picture.submission.arrival)
    return UNNAMED if own.unnamed or not own.name else own.name
