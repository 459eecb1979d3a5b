"""How the Moon stands before the naked eye, zenith up, for a place and an evening."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from moondesk.ephemeris.aspect import aspects_at, unix_seconds_of, utc_of
from moondesk.records import NotFound, Place

#: A Moon lower than this stands behind houses and trees (common practice), degrees.
LEAST_ALTITUDE_DEG = 5.0
#: An evening's Moon is looked for within this many hours of the instant asked for, in steps of so many minutes.
WITHIN_HOURS, STEP_MINUTES = 12.0, 10.0


@dataclass(frozen=True)
class EyeView:
    """The Moon before the eye. north_screen_deg: direction of its north, from the zenith's, counter-clockwise."""

    utc: datetime
    altitude_deg: float
    north_screen_deg: float


def eye_view(when_utc: datetime, place: Place) -> EyeView | NotFound:
    """The Moon as it stands for the eye at the instant nearest to when_utc at which it is well above the horizon.

    Returns: that instant, altitude and screen angle of lunar north (the zenith is up) in degrees, or a NotFound.
    Refraction, which turns nothing by itself, is neglected (it lifts the Moon by 0.2 degrees at 5).

    >>> view = eye_view(datetime(2026, 10, 17, 19, 14, 35, tzinfo=UTC), Place(48.2, 16.4))
    >>> f"{view.utc:%H:%M}", round(view.altitude_deg), round(view.north_screen_deg)
    ('19:04', 6, 328)
    """
    steps = round(WITHIN_HOURS * 60 / STEP_MINUTES)
    seconds = unix_seconds_of(when_utc) + np.arange(-steps, steps + 1) * STEP_MINUTES * 60.0
    table = aspects_at(seconds, place)
    if table.altitude_deg is None or table.parallactic_deg is None:
        raise AssertionError("with a place there is a horizon")
    up = np.flatnonzero(table.altitude_deg >= LEAST_ALTITUDE_DEG)
    if not len(up):
        return NotFound("eye", "The Moon does not rise there within half a day of that time.", "")
    k = int(up[np.argmin(np.abs(up - steps))])
    north = float((table.axis_pa_deg[k] - table.parallactic_deg[k]) % 360.0)
    return EyeView(utc_of(float(seconds[k])), float(table.altitude_deg[k]), north)
