"""What the presenter reads: statuses, sources and times in words. Pure; the pages and the command line share it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import assert_never
from zoneinfo import ZoneInfo

from moondesk.files.time_taken import LETTER
from moondesk.records import Annotation, ClockVerdict, Evening, EveningVerdict, FeatureMark, Place, Status

SOURCE_WORDS = {
    "told": "as the sender or the desk says",
    "gps": "from the camera's GPS stamp",
    "fits": "from the FITS header, which counts in UTC",
    "exif+offset": "from the camera's clock with its own UTC offset",
    "xmp+offset": "from the picture's XMP data with their UTC offset",
    "exif+gps zone": "from the camera's clock, zone of the GPS position",
    "exif+place zone": "from the camera's clock, zone of the place told",
    "exif+zone": "from the camera's clock, in the programme's zone",
    "exif+any zone": "from the camera's clock, time zone not known",
    "letter": "as the sender's letter says",
    "picture": "worked out from the picture itself",
}

#: The verdict on where the Moon lies, beside `dated_words`.
NAMES_WORDS = {True: "Names: sure", False: "Names: not sure"}

#: Names that the store keeps of a picture.
KEPT = 6

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)

#: A feature named as "best seen" is more likely to be made out than not, and at least a tenth of it is lit.
BEST_SEEN_AT_LEAST = 0.5
BEST_LIT_AT_LEAST = 0.1
#: What has a form that a low Sun brings out; the seas and their like show in every light.
FORMED = frozenset(
    ("crater", "mountain", "mountain range", "valley", "rille", "ridge", "scarp", "cape", "crater chain")
)
#: How many of them lead, before the best of the others.
FORMED_LEADING = 2
#: A sea worth this share of the best one is a rival to it: then the one with the lower Sun is named.
RIVAL_SHARE = 0.6
TENTHS = (
    "no",
    "a tenth",
    "two tenths",
    "three tenths",
    "four tenths",
    "half",
    "six tenths",
    "seven tenths",
    "eight tenths",
    "nine tenths",
    "nearly all",
)


def status_words(status: Status, sure: bool) -> str:
    """Status and confidence in two words or so; of a placed picture whether its names are sure."""
    match status:
        case Status.ANNOTATED:
            return NAMES_WORDS[sure]
        case Status.DISC_ONLY:
            return "Disc only"
        case Status.UNPLACED:
            return "Not placed"
        case Status.NOT_MOON:
            return "Not the Moon"
        case Status.ECLIPSE:
            return "Eclipse"
        case Status.UNREADABLE:
            return "Unreadable"
    assert_never(status)


def clock_words(verdict: ClockVerdict) -> str:
    match verdict:
        case ClockVerdict.AGREES:
            return "Light and libration in the picture agree with the clock."
        case ClockVerdict.DISAGREES:
            return "The clock disagrees with what the picture shows."
        case ClockVerdict.CANNOT_TELL:
            return "The picture cannot tell whether the clock is right."
        case ClockVerdict.NO_CLOCK:
            return "The file carries no time."
    assert_never(verdict)


def time_source(a: Annotation) -> str:
    """Where its time is from. Where letter and light agree it is the mean of the two, which the letter did not say."""
    if a.time is None:
        return ""
    if a.time.source == LETTER and a.clock.verdict is ClockVerdict.AGREES:
        return "from the sender's letter and the Moon's light together"
    return source_words(a.time.source)


def time_judged(a: Annotation) -> str:
    """What light and tilt say of the time that the picture came with; a letter's time came from no clock."""
    words = a.clock.words or clock_words(a.clock.verdict)
    return words.replace("the clock", "the letter's time") if a.time is not None and a.time.source == LETTER else words


def dated_words(verdict: EveningVerdict | None, source: str, teller: str) -> str:
    """How well it is known when a picture was taken; "" where that was not judged. source: of the time gone by;
    teller: who told it, where somebody did. What a person told stays told."""
    match verdict:
        case EveningVerdict.SURE | EveningVerdict.TOLD if source == "told":
            return f"Evening: told by {teller}"
        case EveningVerdict.SURE:
            return "Evening: sure"
        case EveningVerdict.TOLD:
            return "Evening: as its file says"
        case EveningVerdict.UNSURE:
            return "Evening: not sure"
        case EveningVerdict.UNKNOWN:
            return "Evening: unknown"
        case None:
            return ""
    assert_never(verdict)


def evening_tone(verdict: EveningVerdict | None, source: str) -> str:
    """The mark that stands before `dated_words`."""
    match verdict:
        case EveningVerdict.SURE:
            return "unsure" if source == "told" else "sure"
        case EveningVerdict.TOLD | EveningVerdict.UNSURE:
            return "unsure"
        case EveningVerdict.UNKNOWN | None:
            return "unplaced"
    assert_never(verdict)


def source_words(source: str) -> str:
    return SOURCE_WORDS.get(source, source)


def date_words(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def time_words(when: datetime, zone: str) -> str:
    """A time in the programme's zone with UTC beside it (once where they are the same)."""
    return f"{date_words(when.astimezone(ZoneInfo(zone)).date())}, {hour_words(when, zone)}"


def evenings_words(evenings: tuple[Evening, ...], zone: str, most: int) -> str:
    """The dates of the first `most` evenings in a zone, and how many more fit; empty where there are none."""
    days = [date_words(e.utc.astimezone(ZoneInfo(zone)).date()) for e in evenings]
    more = f" and {len(days) - most} more" if len(days) > most else ""
    if sum(e.probability for e in evenings) < 0.995:  # more fit than are listed
        more = " and others"
    return ", ".join(days[:most]) + more if days else ""


def hour_words(when: datetime, zone: str) -> str:
    """The same without its date, for where the local date stands beside it."""
    utc = f"{when:%H:%M} UTC"
    local = when.astimezone(ZoneInfo(zone))
    if local.utcoffset() == when.utcoffset():
        return utc
    beside = utc if local.date() == when.date() else f"{utc} on {when.day} {MONTHS[when.month - 1]}"
    return f"{local:%H:%M} ({beside})"


def sigma_words(minutes: float) -> str:
    """How well a time is known."""
    if minutes < 2:
        return "to the minute"
    if minutes < 90:
        return f"± {minutes:.0f} min"
    return f"± {minutes / 60:.1f} h" if minutes < 48 * 60 else f"± {minutes / 1440:.1f} days"


def place_words(place: Place) -> str:
    """Latitude and longitude to a hundredth of a degree (1 km: nobody's address)."""
    return (
        f"{abs(place.latitude_deg):.2f}° {'N' if place.latitude_deg >= 0 else 'S'}, "
        f"{abs(place.longitude_deg):.2f}° {'E' if place.longitude_deg >= 0 else 'W'}"
    )


def feature_name(mark: FeatureMark) -> str:
    """A name with its English meaning where it has one."""
    meaning = mark.feature.meaning
    return f"{mark.feature.name} ({meaning})" if meaning else mark.feature.name


def best_seen(annotation: Annotation, count: int) -> tuple[FeatureMark, ...]:
    """What a presenter would point at first in this very picture: prominent in this light, and really to be seen.

    The two best craters, mountains and the like lead, then a sea (of those nearly as well seen as the best, the one
    nearest to the terminator), then the rest in order: the same few seas are best seen on most evenings, and what
    the light singles out on this one would never be named.
    """
    if not annotation.status.facts.is_named:
        return ()
    worthy = [
        m
        for m in annotation.features
        if m.feature.parent is None
        and m.seen >= BEST_SEEN_AT_LEAST
        and m.lit_fraction >= BEST_LIT_AT_LEAST
        and 0 <= m.x < annotation.width
        and 0 <= m.y < annotation.height
    ]
    ranked = sorted(worthy, key=lambda m: (-_worth(m), m.feature.name))
    leading = [m for m in ranked if m.feature.kind in FORMED][:FORMED_LEADING]
    flat = [m for m in ranked if m.feature.kind not in FORMED]
    rivals = [m for m in flat if _worth(m) >= RIVAL_SHARE * _worth(flat[0])]
    leading += sorted(rivals, key=lambda m: max(m.sun_altitude_deg, 0.0))[:1]
    return tuple((*leading, *(m for m in ranked if m not in leading))[:count])


def _worth(mark: FeatureMark) -> float:
    return mark.seen * mark.prominence


def join_names(names: Iterable[str]) -> str:
    """ "a, b and c"."""
    items = list(names)
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


def visibility_words(seen: float) -> str:
    """A probability of being made out, in words."""
    if seen >= 0.9:
        return "clearly seen"
    if seen >= 0.7:
        return "well seen"
    return "to be made out" if seen >= 0.5 else "hardly seen"


def light_words(mark: FeatureMark) -> str:
    """How the Sun stands on a feature and how much of it is lit."""
    height = mark.sun_altitude_deg
    if mark.lit_fraction < 0.05:
        return "in the dark"
    parts = "" if mark.lit_fraction > 0.97 else f", {_share_words(mark.lit_fraction)} of it lit"
    if height < 0:
        return f"its centre in the dark{parts}"
    sun = "Sun just up" if height < 3 else f"Sun {height:.0f}° high"
    return sun + parts


def _share_words(share: float) -> str:
    """Tenths in words, with the common fractions by name; what is nearly all is not "about" it."""
    if round(share * 10) >= 10:
        return TENTHS[10]
    return f"about {_fraction_words(share)}"


def _fraction_words(share: float) -> str:
    for value, word in (
        (0.25, "a quarter"),
        (1 / 3, "a third"),
        (0.5, "half"),
        (2 / 3, "two thirds"),
        (0.75, "three quarters"),
    ):
        if abs(share - value) < 0.05:
            return word
    return TENTHS[max(1, round(share * 10))]


def names_kept(annotation: Annotation) -> list[str]:
    """Names of what is best seen, as the store keeps them for lists and for finding a picture."""
    return [feature_name(m) for m in best_seen(annotation, KEPT)]


def tone_of(status: Status, sure: bool) -> str:
    if status.facts.is_named:
        return "sure" if sure else "unsure"
    return "unplaced"
