"""When the Sun rose and will set on places of the Moon: searched in the ephemeris, for its pace there is not even.

The Sun rises and sets on a place when its upper edge crosses the horizon of the mean sphere there; on a crater's rim it
does so earlier, on its floor later, by relief that is not known here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from moondesk.comparison.changed_light import SUN_HALF_DEG
from moondesk.ephemeris.aspect import AspectTable, aspects_at, unix_seconds_of
from moondesk.moon.geometry import unit_vector
from moondesk.records import FloatArray

#: Hours searched to either side: a lunar day and night, and some.
SPAN_HOURS = 30 * 24


@dataclass(frozen=True)
class Crossings:
    """Hours from an instant to the Sun's last and next crossings of a place's horizon: negative before, positive after.

    nan where there is none within 30 days, as near the poles.
    """

    last_rise: float
    next_rise: float
    last_set: float
    next_set: float


def crossings_of(lat_deg: ArrayLike, lon_deg: ArrayLike, when: datetime) -> tuple[Crossings, ...]:
    """The crossings for places of shape (N,). The search goes hour by hour; within one the Sun's height is straight to
    a second. Raises as `aspects_at` does for times outside its years."""
    table = _hours(unix_seconds_of(when))
    suns = unit_vector(table.sub_solar_lat_deg, table.sub_solar_lon_deg)
    places = np.atleast_2d(unit_vector(lat_deg, lon_deg))
    hours = np.arange(-SPAN_HOURS, SPAN_HOURS + 1, dtype=float)
    found = []
    for place in places:
        height = np.degrees(np.arcsin(np.clip(suns @ place, -1, 1))) + SUN_HALF_DEG
        found.append(Crossings(*_around(height, hours, rising=True), *_around(height, hours, rising=False)))
    return tuple(found)


def _around(height: FloatArray, hours: FloatArray, rising: bool) -> tuple[float, float]:
    sign = 1.0 if rising else -1.0
    at = np.flatnonzero((sign * height[:-1] < 0) & (sign * height[1:] >= 0))
    times = hours[at] + height[at] / (height[at] - height[at + 1])
    before, after = times[times <= 0], times[times > 0]
    return float(before[-1]) if len(before) else float("nan"), float(after[0]) if len(after) else float("nan")


@lru_cache(maxsize=8)
def _hours(unix: float) -> AspectTable:
    return aspects_at(unix + 3600.0 * np.arange(-SPAN_HOURS, SPAN_HOURS + 1), None)
