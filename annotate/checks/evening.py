"""How well it is known when a picture was taken, apart from where the Moon lies in it (see `records.EveningKnowledge`).

    readings, the verdict on the clock, the placement -> Dated -> the time that may be stated

A date that a person types may be one of those that the picture itself offered: that light and libration then fit it
proves nothing. Only what the picture had no part in can confirm it: the camera's clock, GPS, the days before it came.
"""

from __future__ import annotations

from moondesk.files.time_taken import LETTER
from moondesk.records import (
    Annotation,
    Clock,
    ClockVerdict,
    EveningKnowledge,
    EveningVerdict,
    TimeCandidate,
    TimeReadings,
)

#: A time that is known no better than this (one standard deviation, minutes) is stated nowhere: not in notes, on a
#: frame, in a reply or in a file. Of normal errors 95 % lie within twice this: still the same evening.
VAGUE_MINUTES = 180.0
#: The Sun's place from the ephemeris, degrees (`moondesk.ephemeris.aspect` says how well), and by how much it moves over
#: the Moon in an hour (360 degrees in a synodic month of 29.530589 days).
EPHEMERIS_DEG, DEG_AN_HOUR = 0.01, 0.51
#: Source of a reading for which every legal offset is a candidate (see `files.time_taken`).
ANY_ZONE = "exif+any zone"

ASK = "Ask the sender when it was taken."
ASK_WHERE = "Ask the sender when and where it was taken."


def time_to_state(annotation: Annotation) -> TimeCandidate | None:
    """The time by which a date, a day of the lunation or the Sun's place may be stated; None where none may be."""
    return annotation.time if may_be_stated(annotation.time, annotation.clock, annotation.dated) else None


def may_be_stated(time: TimeCandidate | None, clock: Clock, evening: EveningKnowledge) -> bool:
    if time is None or time.sigma_minutes > VAGUE_MINUTES or clock.verdict == ClockVerdict.DISAGREES:
        return False
    return evening.verdict in (EveningVerdict.SURE, EveningVerdict.TOLD)


def time_without_light(taken: TimeReadings) -> tuple[Clock, TimeCandidate | None]:
    """The clock's verdict, and the time to go by, where no light was measured."""
    return Clock(ClockVerdict.CANNOT_TELL if taken.candidates else ClockVerdict.NO_CLOCK, None, None), the_reading(
        taken
    )


def the_reading(taken: TimeReadings) -> TimeCandidate | None:
    """The time to go by where light tells nothing: the only reading of the file, else the letter's."""
    own = [c for c in taken.candidates if c.source != LETTER]
    said = [c for c in taken.candidates if c.source == LETTER]
    return own[0] if len(own) == 1 else said[0] if said else None


def judge_evening(
    taken: TimeReadings, clock: Clock, time: TimeCandidate | None, sure: bool, doubted: bool = False
) -> EveningKnowledge:
    """The verdict on the evening. time: the one gone by; sure: where the Moon lies is certain; doubted: the picture
    speaks against that time."""
    if time is None:
        return EveningKnowledge(EveningVerdict.UNKNOWN, _why_none(taken), ASK_WHERE if taken.candidates else ASK)
    if clock.verdict == ClockVerdict.DISAGREES:
        return EveningKnowledge(EveningVerdict.UNSURE, clock.words, ASK_WHERE)
    if time.sigma_minutes > VAGUE_MINUTES:
        return EveningKnowledge(
            EveningVerdict.UNSURE, f"When it was taken is only known to about {time.sigma_minutes / 60:.0f} hours.", ASK
        )
    if time.source == "picture":
        if sure and not doubted and clock.verdict == ClockVerdict.NO_CLOCK:
            return EveningKnowledge(EveningVerdict.SURE)  # light and libration meet in the few days before it came
        return EveningKnowledge(
            EveningVerdict.UNSURE, "The time is worked out from the picture's light, which does not settle it.", ASK
        )
    if clock.verdict == ClockVerdict.AGREES and sure:
        return EveningKnowledge(EveningVerdict.SURE)
    if doubted or (clock.verdict != ClockVerdict.AGREES and clock.picture_utc is not None):
        return EveningKnowledge(EveningVerdict.UNSURE, clock.words, ASK)
    if time.source == EveningVerdict.TOLD:
        return EveningKnowledge(EveningVerdict.TOLD, clock.words, "")
    if time.source == LETTER:
        return EveningKnowledge(
            EveningVerdict.UNSURE, "The letter gives the time; the picture does not confirm it.", ASK
        )
    return EveningKnowledge(EveningVerdict.TOLD, "The time is as the file has it; the picture does not confirm it.", "")


def has_corroboration(taken: TimeReadings, time: TimeCandidate) -> bool:
    """Whether something besides the picture stands for a reading: a time told stands alone where the file does not say
    the same and it lies outside the days before the picture came."""
    if time.source != EveningVerdict.TOLD or taken.confirmed_by:
        return True
    first, last = taken.earliest_utc, taken.latest_utc
    return first is not None and last is not None and first <= time.utc <= last


def _why_none(taken: TimeReadings) -> str:
    if len(taken.candidates) > 1:
        said = taken.local_text or "a time"
        return f"Its file says {said}, without a time zone, and the picture does not tell which."
    if taken.candidates:
        return "Nothing in the picture bears out the time that is given for it."
    if taken.local_text is not None:
        return f"Its file says {taken.local_text}, which cannot be right."
    return "Nobody has said when it was taken, and nothing in the file does."
