"""The archive's pages as records. Pure: pictures and counts in, words and addresses' parts out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from moondesk.records import ClockVerdict
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.words import date_words
from moondesk.service.settings.config import Programme
from moondesk.service.store.archive import Light, Lit
from moondesk.service.store.records import ListedPicture
from moondesk.service.studio.nights import credit_of_picture

#: Days of the lunation that a programme can count: 0, where it does, to 30.
DAYS = 31
PER_PAGE = 120
LIGHTS: tuple[tuple[Light, str], ...] = (
    ("any", "in any light"),
    ("sunrise", "at sunrise"),
    ("high", "under a high Sun"),
    ("sunset", "at sunset"),
)


@dataclass(frozen=True, kw_only=True)
class Tile:
    """A picture in the archive. day: "Day 7" or ""; light: how the asked feature is lit, or ""."""

    picture_id: int
    credit: str
    day: str
    evening: str
    equipment: str
    derived_key: str
    light: str = ""
    #: Of its evening, for the address of the night; "" where no time is believed.
    night: str = ""


@dataclass(frozen=True, kw_only=True)
class DayCell:
    """A day of the lunation with how many pictures it has; tile: the best of them, None for none."""

    day: int
    count: int
    picture_id: int | None
    derived_key: str
    chosen: bool


@dataclass(frozen=True)
class NightRow:
    evening: str
    words: str
    count: int


@dataclass(frozen=True, kw_only=True)
class ArchivePage:
    """head: what the tiles are; nothing: why there are none, else empty. withheld: a sentence, or ""."""

    programme: Programme
    days: tuple[DayCell, ...]
    features: tuple[tuple[str, int], ...]
    feature: str
    light: Light
    lights: tuple[tuple[Light, str], ...]
    head: str
    tiles: tuple[Tile, ...]
    nothing: str
    withheld: str
    nights: tuple[NightRow, ...]
    months: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class NightPage:
    """An evening: its pictures and its composite. used, left_out: of the composite (credit, why); trouble: why none
    could be made."""

    programme: Programme
    token: str
    evening: str
    words: str
    tiles: tuple[Tile, ...]
    withheld: str
    made: bool
    mark: str
    used: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]
    gain: str
    trouble: str
    before: str
    after: str


@dataclass(frozen=True, kw_only=True)
class MonthPage:
    programme: Programme
    token: str
    first: str
    words: str
    rows: tuple[tuple[str, str, str], ...]
    made: bool
    mark: str
    march: bool
    film: bool
    trouble: str
    count: int


def tile_of(listed: ListedPicture, calendar: Calendar, lit: Lit | None = None) -> Tile:
    summary = listed.summary
    taken = summary.taken_utc if summary and summary.clock_verdict != ClockVerdict.DISAGREES else None
    evening = calendar.evening(taken) if taken else None
    return Tile(
        picture_id=listed.picture.id,
        credit=credit_of_picture(listed),
        day=f"Day {evening.day_number}" if evening and evening.day_number is not None else "",
        evening=date_words(evening.date) if evening else "Time not known",
        equipment=listed.picture.submission.arrival.equipment,
        derived_key=summary.derived_key if summary else "",
        light=light_words(lit) if lit else "",
        night=evening.date.isoformat() if evening else "",
    )


def light_words(lit: Lit) -> str:
    """How high the Sun stands over the feature, and which way it goes."""
    height = round(lit.sun_deg)
    if height < 1:
        return "The Sun is just coming up there" if lit.morning else "The Sun is just going down there"
    return f"The Sun {height}° high there, {'climbing' if lit.morning else 'sinking'}"


def day_cells(
    by_day: Mapping[int, Sequence[int]], best: Mapping[int, ListedPicture], chosen: int | None
) -> tuple[DayCell, ...]:
    """by_day: ids of what may be shown, by day; best: of each day."""
    cells = []
    last = max((0, *by_day), default=0)
    for day in range(0 if 0 in by_day else 1, max(DAYS - 1, last) + 1):
        found = best.get(day)
        cells.append(
            DayCell(
                day=day,
                count=len(by_day.get(day, ())),
                picture_id=found.picture.id if found else None,
                derived_key=found.summary.derived_key if found and found.summary else "",
                chosen=day == chosen,
            )
        )
    return tuple(cells)


def words_for_withheld(count: int) -> str:
    if not count:
        return ""
    return (
        "One more may not be shown, and is not in here."
        if count == 1
        else f"{count} more may not be shown, and are not in here."
    )


def night_rows(by_evening: Iterable[tuple[date, int]], calendar: Calendar) -> tuple[NightRow, ...]:
    """The newest evening first."""
    rows = []
    for evening, count in sorted(by_evening, reverse=True):
        day = calendar.day_of_date(evening)
        rows.append(NightRow(evening.isoformat(), date_words(evening) + ("" if day is None else f", day {day}"), count))
    return tuple(rows)
