"""An evening's composite and a month's poster and march, from the store: the inputs gathered, the words written, what
was made told. For the desk and the command line alike."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from moondesk.ephemeris.phases import lunation_number
from moondesk.notes.messages import Message, say
from moondesk.records import NotFound
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.exports import collection_files as made
from moondesk.service.jobs.missing_pictures import redraw_missing
from moondesk.service.programme.evenings import Calendar
from moondesk.service.studio import Studio
from moondesk.service.studio.nights import EVENINGS, best_of_evenings, credit_of_picture, night_of
from moondesk.stacking.month import MonthWords


@dataclass(frozen=True)
class NightMade:
    """names: credits by picture; withheld: how many of the evening may not be shown. made: None while it was not
    made."""

    evening: date
    names: dict[int, str]
    withheld: int
    made: made.Stacked | NotFound | None


@dataclass(frozen=True, kw_only=True)
class MonthMade:
    """Of 30 evenings: words, those of poster and march; pictures: (evening, id, credit) of the evenings
    that have one; inputs: the same for making more of them. folder: of what was made; None: nothing yet."""

    first: date
    words: MonthWords
    pictures: tuple[tuple[date, int, str], ...]
    inputs: tuple[made.Input, ...]
    folder: Path | NotFound | None


def composite_of(studio: Studio, evening: date, make: bool) -> NightMade:
    """Not make: only what was made before."""
    night, media = night_of(studio, evening), studio.media
    names = {p.picture.id: credit_of_picture(p) for p in night.pictures}
    inputs = [
        i
        for p in night.pictures[: made.MOST]
        for i in [made.input_of(studio.storage, media, p, names[p.picture.id])]
        if i is not None
    ]
    words = (studio.language.write(say("Composite of the audience's pictures, {date}", date=evening)),)
    name = f"night-{evening.isoformat()}"
    folder = made.find_folder(media, name, inputs, words)
    if make and folder is None:
        inputs = at_hand(studio, inputs)
        return NightMade(evening, names, night.withheld, made.make_composite(media, studio.run, name, inputs, words))
    return NightMade(evening, names, night.withheld, made.read_stacked(folder) if folder else None)


def month_of(studio: Studio, first: date, make: bool) -> MonthMade:
    """Not make: only what was made before."""
    media, best = studio.media, best_of_evenings(studio, first)
    days = [first + timedelta(days=k) for k in range(EVENINGS)]
    words_of = month_words(studio, days)
    inputs, pictures = [], []
    for day in sorted(best):
        words = credit_of_picture(best[day])
        one = made.input_of(studio.storage, media, best[day], words)
        if one is not None:
            inputs.append(replace(one, day=days.index(day)))
            pictures.append((day, one.id, words))
    name = f"month-{first.isoformat()}"
    folder: Path | NotFound | None = made.find_folder(media, name, inputs, words_of)
    if make and folder is None:
        folder = made.make_month(media, studio.run, name, at_hand(studio, inputs), words_of)
    return MonthMade(first=first, words=words_of, pictures=tuple(pictures), inputs=tuple(inputs), folder=folder)


def at_hand(studio: Studio, inputs: Sequence[made.Input]) -> list[made.Input]:
    """The inputs whose photographs are there, those drawn now that were not; the others cannot be drawn any more."""
    found = []
    for one in inputs:
        with suppress(NotStoredError, BadInputError):
            if redraw_missing(studio.storage, studio.media, studio.run, one.id) is not None:
                found.append(one)
    return found


def month_words(studio: Studio, days: Sequence[date]) -> MonthWords:
    write, calendar = studio.language.write, studio.calendar
    numbers = [calendar.day_of_date(day) for day in days]
    zone = ZoneInfo(calendar.zone)
    lunation = lunation_number(datetime.combine(days[len(days) // 2], time(12), UTC))
    return MonthWords(
        programme=studio.config.programme.name,
        title=write(say("A month of the Moon")),
        span=write(say("{first} to {last}", first=days[0], last=days[-1])),
        lunation=write(say("Lunation {number}", number=lunation)) if None not in numbers else "",
        legend=write(say("The evenings of this month; marked: photographed by the audience")),
        method=write(say("North up, all at one scale, their light matched on the seas.")),
        true=write(say("As photographed")),
        between=write(say("Light between two pictures, computed")),
        heads=tuple(write(_head(calendar, day)) for day in days),
        days=tuple(studio.language.short_date(day) for day in days),
        numbers=tuple("" if n is None else write(say("Day {day}", day=n)) for n in numbers),
        evenings=tuple(datetime.combine(day, time(20), zone).astimezone(UTC) for day in days),
    )


def _head(calendar: Calendar, day: date) -> Message:
    number = calendar.day_of_date(day)
    return say("{date}", date=day) if number is None else say("Day {day} of the lunation, {date}", day=number, date=day)
