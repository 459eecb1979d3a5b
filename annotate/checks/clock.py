"""The picture's own time, from light and libration, and what it says of the recorded one."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from moondesk.checks.evening import ANY_ZONE, has_corroboration, the_reading
from moondesk.ephemeris.aspect import aspects_at, unix_seconds_of, utc_of
from moondesk.ephemeris.sky_hypotheses import CLOCK_DAYS, PARALLAX_SIGMA_DEG, hourly
from moondesk.files.time_taken import LETTER
from moondesk.placement.refinement import Placement
from moondesk.records import Clock, ClockVerdict, FloatArray, Place, TimeCandidate, TimeReadings

#: The days in question are searched so much beyond either end.
SPARE_SECONDS = 43200.0
#: Chi square of light and libration above which none of the times in question is the picture's: 4e-6 by chance.
NO_TIME = 25.0
#: Verdicts, in sigmas of the picture's time and in hours: between the two it cannot tell.
AGREES_SIGMA, DISAGREES_SIGMA, DISAGREES_HOURS = 3.0, 4.5, 5.0

#: A slip of the date is named where undoing it leaves less than this, or two sigmas of the picture's time, but never
#: more than the second; a wrong zone moves a clock by no more than the third (common practice).
SLIP_HOURS, MOST_SLIP_HOURS, MOST_ZONE_HOURS = 3.0, 8.0, 14.5
#: Where a ruled-out reading has no zone, its time of day says this little, hours.
UNKNOWN_ZONE_HOURS = 14.0

#: Said of a time that a person gave and that nothing but the picture bears out.
TOLD = "The date was told; the picture's light allows it."


@dataclass(frozen=True)
class PictureTime:
    """When the picture was taken as light and libration say. at_edge: beyond what was searched. misfit: chi square
    there."""

    utc: datetime
    sigma_hours: float
    at_edge: bool
    misfit: float = 0.0


def spans_of(taken: TimeReadings) -> list[tuple[float, float]]:
    """Stretches of time in which the picture can have been taken, Unix seconds: the days before it came, half a day
    more at either end, and those about every reading of its clock that lies outside."""
    spans: list[tuple[float, float]] = []
    last = None if taken.latest_utc is None else unix_seconds_of(taken.latest_utc) + SPARE_SECONDS
    if taken.earliest_utc is not None and last is not None:
        spans.append((unix_seconds_of(taken.earliest_utc) - SPARE_SECONDS, last))
    for candidate in taken.candidates:
        at = unix_seconds_of(candidate.utc)
        if not any(a <= at <= b for a, b in spans):
            end = at + CLOCK_DAYS * 86400.0
            spans.append((at - CLOCK_DAYS * 86400.0, end if last is None else min(end, last)))
    return spans


def picture_time(placed: Placement, taken: TimeReadings, place: Place | None) -> PictureTime | None:
    """Least squares of light and libration over the times in question; None where no time is."""
    spans = spans_of(taken)
    if not spans:
        return None
    tables = [hourly(a, b) for a, b in spans]
    seconds, kept = np.unique(np.concatenate([t.unix_seconds for t in tables]), return_index=True)

    def centre(column: str) -> FloatArray:
        return np.asarray(np.concatenate([getattr(t, column) for t in tables])[kept])

    track = placed.track
    lon = np.unwrap(track.lon_deg, period=360.0)
    step_deg = float(abs(lon[-1] - lon[0])) / max(len(lon) - 1, 1)
    seen = float(np.interp(placed.light.index, np.arange(len(lon)), lon))
    lib_lat, lib_lon = centre("libration_lat_deg"), centre("libration_lon_deg")
    if place is not None:
        table = aspects_at(seconds, place)
        lib_lat, lib_lon = table.libration_lat_deg, table.libration_lon_deg
    misfit = (((centre("sub_solar_lon_deg") - seen + 180.0) % 360.0 - 180.0) / (placed.light.sigma * step_deg)) ** 2
    own = placed.pose.sigma_pct_radius / 100 * 57.3 if np.isfinite(placed.pose.sigma_pct_radius) else 0.1
    sigma = float(np.hypot(PARALLAX_SIGMA_DEG if place is None else 0.1, 2 * own))
    misfit += ((lib_lat - placed.pose.libration_lat_deg) / sigma) ** 2
    misfit += ((lib_lon - placed.pose.libration_lon_deg) / sigma) ** 2
    best = int(misfit.argmin())
    near = np.abs(seconds - seconds[best]) < 3 * 86400.0  # another month's fit would draw the mean away
    hours, misfit = (seconds[near] - seconds[best]) / 3600.0, misfit[near]
    weight = np.exp(-0.5 * (misfit - misfit.min()))
    mean = float((weight * hours).sum() / weight.sum())
    spread = float(np.sqrt((weight * (hours - mean) ** 2).sum() / weight.sum()))
    at = utc_of(float(seconds[best] + mean * 3600.0))
    if taken.latest_utc is not None and at > taken.latest_utc:
        at = taken.latest_utc
    edge = any(seconds[best] in (a, b) for a, b in spans)
    return PictureTime(at, max(spread, 0.5), edge, float(misfit.min()))


def judge(
    taken: TimeReadings, found: PictureTime | None, forbids: Callable[[TimeCandidate | None], str] | None = None
) -> tuple[Clock, TimeCandidate | None]:
    """The verdict on the recorded time, and the time to go by (None where nothing gives one).

    forbids: asked before a reading is accused (None: one that its date rules out): why it must not be, "" for nothing.
    A time that a person gave is not confirmed by the picture alone: its date may have come from the picture.
    """
    recorded = bool(taken.candidates) or taken.local_text is not None
    if found is None or found.misfit > NO_TIME:
        time = the_reading(taken)
        verdict: ClockVerdict = ClockVerdict.CANNOT_TELL if recorded else ClockVerdict.NO_CLOCK
        return Clock(verdict, None, None, "The picture's light gives no time."), time if found is None else None
    own = TimeCandidate(found.utc, found.sigma_hours * 60.0, "picture")
    if not taken.candidates:
        why = forbids(None) if recorded and forbids is not None else ""
        if why:
            words = f"The camera's clock reads a time that cannot be right. {why}"
            return Clock(ClockVerdict.CANNOT_TELL, None, None, words), None
        if recorded:
            words = f"The camera's clock reads a time that cannot be right{_cause_of_text(taken.local_text, found)}"
            return Clock(ClockVerdict.DISAGREES, found.utc, found.sigma_hours, words), own
        return Clock(ClockVerdict.NO_CLOCK, found.utc, found.sigma_hours, "No time recorded; the light gives it."), own
    nearest = _reading(taken.candidates, found)
    gap_hours = (nearest.utc - found.utc) / timedelta(hours=1)
    sigma = float(np.hypot(found.sigma_hours, nearest.sigma_minutes / 60.0))
    if abs(gap_hours) <= AGREES_SIGMA * sigma:
        if not has_corroboration(taken, nearest):
            return Clock(ClockVerdict.CANNOT_TELL, None, None, TOLD), nearest
        within = max(abs(gap_hours), found.sigma_hours, 1.0)
        if nearest.source == LETTER:
            nearest = _between(nearest, found)
        words = f"The {_what(nearest)} fits the light in the picture within {within:.0f} h."
        return Clock(ClockVerdict.AGREES, found.utc, found.sigma_hours, words), nearest
    if abs(gap_hours) > max(DISAGREES_SIGMA * sigma, DISAGREES_HOURS):
        why = forbids(nearest) if forbids is not None else ""
        if why:
            return Clock(ClockVerdict.CANNOT_TELL, None, None, why), nearest
        if nearest.source == LETTER:
            words = (
                f"The letter says {_when(nearest)}; the Moon's light says {_when(own)}: the letter's time is not used."
            )
            return Clock(ClockVerdict.DISAGREES, found.utc, found.sigma_hours, words), own
        side = "ahead of" if gap_hours > 0 else "behind"
        show = f"what light and tilt in the picture show{_cause(nearest.utc, nearest.offset_hours, found)}"
        what = "The time told is" if nearest.source == "told" else "The clock reads"
        words = f"{what} {_span(gap_hours)} {side} {show}"
        return Clock(ClockVerdict.DISAGREES, found.utc, found.sigma_hours, words), own
    words = f"The {'letter' if nearest.source == LETTER else 'clock'} is {abs(gap_hours):.1f} h off the light in the picture, which is too little to blame it."
    return Clock(ClockVerdict.CANNOT_TELL, found.utc, found.sigma_hours, words), nearest


def _reading(candidates: tuple[TimeCandidate, ...], found: PictureTime) -> TimeCandidate:
    """The first of the ranked readings that the picture allows; where any zone is possible the nearest, as uncertain as
    the picture's own time; the nearest too where none is allowed."""
    for candidate in candidates:
        gap_hours = abs(candidate.utc - found.utc) / timedelta(hours=1)
        own = candidate.sigma_minutes / 60.0 if candidate.source == LETTER else 0.0
        if candidate.source != ANY_ZONE and gap_hours <= AGREES_SIGMA * np.hypot(found.sigma_hours, own):
            return candidate
    nearest = min(candidates, key=lambda c: abs(c.utc - found.utc))
    if nearest.source == ANY_ZONE:
        return replace(nearest, sigma_minutes=max(nearest.sigma_minutes, 60.0 * found.sigma_hours))
    return nearest


def _between(said: TimeCandidate, found: PictureTime) -> TimeCandidate:
    """What the letter's words and the light say together: their mean, by how well each is known."""
    theirs, ours = (said.sigma_minutes / 60.0) ** -2, found.sigma_hours**-2
    shift = timedelta(hours=(found.utc - said.utc) / timedelta(hours=1) * ours / (theirs + ours))
    return replace(said, utc=said.utc + shift, sigma_minutes=60.0 * (theirs + ours) ** -0.5)


def _what(reading: TimeCandidate) -> str:
    return "letter's time" if reading.source == LETTER else "recorded time"


def _when(reading: TimeCandidate) -> str:
    return f"{reading.utc.day} {reading.utc:%B %Y, %H:%M} UTC"


def _span(hours: float) -> str:
    days = abs(hours) / 24.0
    if days < 3:
        return f"{abs(hours):.0f} h"
    return f"{days:.0f} days" if days < 400 else f"{days / 365.25:.1f} years"


def _cause(recorded_utc: datetime, offset_hours: float | None, found: PictureTime, slack_hours: float = 0.0) -> str:
    """What most often makes a clock this wrong (common practice), as the end of a sentence.

    offset_hours: of the camera's local time, in which its date is written; slack_hours: by how much the reading itself
    is uncertain. A slip of the date counts where undoing it meets the picture's time within its scatter.
    """
    allowed = min(max(SLIP_HOURS, 2.0 * found.sigma_hours), MOST_SLIP_HOURS) + slack_hours
    gap_hours = (recorded_utc - found.utc) / timedelta(hours=1)
    if abs(abs(gap_hours) - 24.0) <= allowed and slack_hours == 0:
        return ": the date, one day off?"
    if abs(abs(gap_hours) - 12.0) <= 1.5:
        return ": 12-hour clock, or time zone?"
    if abs(gap_hours) <= MOST_ZONE_HOURS:
        return ": time zone?"
    offset = timedelta(hours=offset_hours or 0.0)
    local = recorded_utc + offset
    swapped = _on_other_date(local, month=local.day, day=local.month)
    if swapped is not None and abs(swapped - offset - found.utc) <= timedelta(hours=allowed):
        return ": day and month swapped?"
    for year in (found.utc.year - 1, found.utc.year, found.utc.year + 1):
        other = _on_other_date(local, year=year)
        if other is not None and abs(other - offset - found.utc) <= timedelta(hours=allowed):
            return ": the year?"
    return ": is the camera's date set?"


def _on_other_date(local: datetime, **parts: int) -> datetime | None:
    """The same time on another date; None where the calendar has no such date or it is the same one."""
    try:
        changed = local.replace(
            year=parts.get("year", local.year), month=parts.get("month", local.month), day=parts.get("day", local.day)
        )
    except ValueError:
        return None
    return None if changed == local else changed


def _cause_of_text(local_text: str | None, found: PictureTime) -> str:
    """The cause for a reading that was ruled out, from its text: "2027-03-14 20:20:00", perhaps with "UTC+01:00"."""
    read = re.match(r"(\d{4})\D(\d\d)\D(\d\d)\D(\d\d)\D(\d\d)(?:.*UTC([+-])(\d\d):(\d\d))?", local_text or "")
    try:
        year, month, day, hour, minute = (int(v) for v in read.groups()[:5]) if read else (0, 0, 0, 0, 0)
        local = datetime(year, month, day, hour, minute, tzinfo=UTC)
    except ValueError:  # no date of the calendar, such as 0000-00-00
        return "; the light in the picture gives its own."
    if read is None or read[6] is None:
        return _cause(local, 0.0, found, UNKNOWN_ZONE_HOURS)
    offset = (int(read[7]) + int(read[8]) / 60.0) * (-1.0 if read[6] == "-" else 1.0)
    return _cause(local - timedelta(hours=offset), offset, found)
