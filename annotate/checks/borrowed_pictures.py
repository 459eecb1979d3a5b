"""Whether a picture that comes with a date can be of that date: an old or a borrowed one has another night's tilt.

    light and libration -> every time that its dates allow -> none fits? -> the evenings that do

A phase comes back every month, the libration with it only after years: so that even a picture whose file carries a
fresh date, and whose phase is right for it, gives itself away. Said only of a sure pose, which stays sure: where the
Moon lies in an old picture is as certain as in a new one, only its evening is unknown.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from moondesk.checks.clock import spans_of
from moondesk.ephemeris.aspect import utc_of
from moondesk.ephemeris.evenings import (
    FOREIGN,
    MeasuredSky,
    evenings_that_fit,
    measure_of,
    misfit_in_window,
    with_evenings,
)
from moondesk.records import Annotation, Clock, ClockVerdict, Evening, EveningKnowledge, EveningVerdict, Known, Place

#: The flag by which such a picture is known.
OLD_PICTURE = "old picture?"
#: So many of the evenings are named in the sentence.
NAMED = 3
#: A picture that is not fresh is most often of the last weeks.
LATELY_DAYS = 60.0


def with_nights(annotation: Annotation, known: Known) -> Annotation:
    """With what its night says of it: `flag_if_old` where it has a date, `evenings.with_evenings` where it has none."""
    place = known.place or annotation.taken.place
    return with_evenings(flag_if_old(annotation, place, known.now_utc), place, known.now_utc)


def flag_if_old(annotation: Annotation, place: Place | None, now_utc: datetime | None = None) -> Annotation:
    """The annotation with flag, words and evenings where its light and libration fit none of its dates; else as it is.

    It is told only where they fit from nowhere on Earth: a stated place may be the sender's home. The evenings are
    those of the place (None: anywhere). now_utc: no picture is later.
    """
    taken, m = annotation.taken, measure_of(annotation)
    spans = spans_of(taken)
    if m is None or not spans or not annotation.sure:
        return annotation
    if min(misfit_in_window(m, None, utc_of(a), utc_of(b)) for a, b in spans) <= FOREIGN:
        return annotation
    last = taken.latest_utc or now_utc or utc_of(max(b for _, b in spans))
    found = _nights(m, place, last) or _nights(m, None, last)
    if not found:
        return annotation  # no night of 30 years: then rather the measurement is wrong
    dates = "before it came" if taken.latest_utc is not None and not taken.candidates else "that its dates allow"
    words = f"The Moon's light and tilt fit none of the days {dates}: an older picture? {_list_evenings(found, last)}"
    verdict: ClockVerdict = (
        ClockVerdict.DISAGREES if taken.candidates or taken.local_text is not None else ClockVerdict.NO_CLOCK
    )
    return replace(
        annotation,
        flags=(*annotation.flags, OLD_PICTURE),
        evenings=found,
        time=None,
        aspect=None,
        clock=Clock(verdict, None, None, words),
        dated=EveningKnowledge(
            EveningVerdict.UNKNOWN, words, "Ask the sender when the picture was taken, and whether it is their own."
        ),
    )


def _nights(m: MeasuredSky, place: Place | None, last: datetime) -> tuple[Evening, ...]:
    """The evenings that fit, best first; one of the last weeks, the likeliest of all, is never left out."""

    def search(years: float) -> tuple[Evening, ...]:
        return evenings_that_fit(m, place, last, years)

    found, late = search(30.0), search(LATELY_DAYS / 365.25)
    missed = [e for e in late if all(abs(e.utc - k.utc) > timedelta(days=1) for k in found)]
    # its probability is among the late ones alone, and is not known among all
    return (*found[: len(found) - len(missed)], *(replace(e, probability=found[-1].probability) for e in missed))


def _list_evenings(found: tuple[Evening, ...], last: datetime) -> str:
    days = [f"{e.utc:%Y-%m-%d}" for e in found[:NAMED]]
    late = [e.utc for e in found if last - e.utc < timedelta(days=LATELY_DAYS)]
    lately = f"; lately on {late[0]:%Y-%m-%d}" if late and f"{late[0]:%Y-%m-%d}" not in days else ""
    more = "" if len(found) <= NAMED else f" and {len(found) - NAMED} more"
    return f"They fit {', '.join(days)}{more} (UTC){lately}."
