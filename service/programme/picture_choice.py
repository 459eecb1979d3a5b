"""Which pictures stand for this evening and for the last: the best of each, surely placed, whole discs first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from moondesk.records import Annotation, NotFound
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.words import date_words
from moondesk.service.store.records import Edition, ListedPicture

#: Of an evening so many are looked at closely, the highest ranked first; unpacking one takes 20 ms.
LOOKED_AT = 2


@dataclass(frozen=True)
class Evenings:
    """Candidates of the two evenings, the best ranked first."""

    last: tuple[ListedPicture, ...]
    this: tuple[ListedPicture, ...]


def two_evenings(
    edition: Edition, listed: Sequence[ListedPicture], calendar: Calendar, rank: Callable[[ListedPicture], float]
) -> Evenings | NotFound:
    """listed: pictures of the edition and of those before it. This evening is the edition's own, or where none is
    planned, or no picture of it surely placed, the latest of its pictures; the last is the latest one before it."""
    sure = [
        (calendar.evening(p.summary.taken_utc).date, p)
        for p in listed
        if p.summary and p.summary.sure and p.summary.taken_utc
    ]
    mine = [(day, p) for day, p in sure if p.picture.submission.edition_id == edition.id]
    if not mine:
        return NotFound(
            "compare",
            f"No picture of edition {edition.plan.number} is surely placed with a known time.",
            "Choose pictures yourself, or come back when more are placed.",
        )
    this = _this_evening(edition, {day for day, _ in mine})
    earlier = {day for day, _ in sure if day < this}
    if not earlier:
        return NotFound(
            "compare",
            f"There is no surely placed picture of an evening before {date_words(this)}.",
            "Choose pictures yourself.",
        )
    last = max(earlier)

    def best(day: date, some: Sequence[tuple[date, ListedPicture]]) -> tuple[ListedPicture, ...]:
        return tuple(sorted((p for d, p in some if d == day), key=lambda p: (-rank(p), p.picture.id))[:LOOKED_AT])

    return Evenings(best(last, sure), best(this, mine))


def _this_evening(edition: Edition, days: set[date]) -> date:
    planned = [day for day in edition.plan.evenings if day in days]
    return max(planned) if planned else max(days)


def comparison_worth(annotation: Annotation) -> float:
    """How well a picture serves for comparing: resolution, less where a part of the disc is cut off."""
    pose = annotation.pose
    if pose is None:
        return 0.0
    left, right = max(pose.x - pose.radius_px, 0.0), min(pose.x + pose.radius_px, annotation.width - 1.0)
    top, bottom = max(pose.y - pose.radius_px, 0.0), min(pose.y + pose.radius_px, annotation.height - 1.0)
    inside = max(right - left, 0.0) * max(bottom - top, 0.0) / (2 * pose.radius_px) ** 2
    return min(pose.radius_px, 600.0) * inside**2
