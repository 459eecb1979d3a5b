"""What forbids to accuse a clock, though light and tilt seem to contradict it: a right clock accused is a false
sentence on air, a wrong one that goes unsaid is none.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from moondesk.checks.clock import PictureTime
from moondesk.checks.evening import ANY_ZONE
from moondesk.ephemeris.aspect import AspectTable, aspects_at, unix_seconds_of
from moondesk.placement.refinement import Placement
from moondesk.records import Place, TimeCandidate

#: From this on what the fitted light leaves hangs together (see `LightFit.uneven`): rays, clouds, glow. Of 40 scenes
#: with clean light at most 0.017, overexposed ones 0.043; with rays or clouds 0.058 or more.
UNEVEN = 0.05
#: Chi square by which the recorded time's libration must fit better to speak for it.
BETTER = 1.0
#: Libration, one sigma per axis besides the picture's own: for a known place, and for one of the grid below.
PLACE_SIGMA_DEG, GRID_SIGMA_DEG = 0.1, 0.2
#: Where the clock's zone is known the picture was taken in it: zones reach so far from their meridian (common
#: practice), and people live between these latitudes.
LONGITUDES_DEG, LATITUDES_DEG = (-22.5, -7.5, 7.5, 22.5), (-55.0, -40.0, -20.0, 0.0, 20.0, 35.0, 50.0, 65.0)
#: The Moon is up from this altitude of its centre on: refraction and its radius (Meeus 1998, ch. 15).
UP_DEG = -1.0
#: Half width of the picture's own time that is looked at, sigmas.
WITHIN = 2.0

NOT_SURE = "The placing is not sure enough to judge the clock."
LIGHT = "The light in the picture is uneven, as by haze, rays or clouds: it does not judge the clock."
DOWN = "By its light the picture would be of a time at which the Moon was down: it does not judge the clock."
TILT = "The picture's light speaks against the clock, the Moon's tilt does not: it does not judge the clock."


def against_accusing(
    placed: Placement, sure: bool, place: Place | None, found: PictureTime, recorded: TimeCandidate | None
) -> str:
    """The first thing that forbids it, one sentence; "" where nothing does.

    sure: where the Moon lies is certain; place: where the picture was taken, None where unknown; found: the time that
    light and libration give; recorded: the reading that would be accused, None where it was ruled out without them.
    """
    if not sure:
        return NOT_SURE
    if placed.light.uneven > UNEVEN:
        return LIGHT
    if recorded is None:
        return ""
    slack = WITHIN * 3600.0 * found.sigma_hours
    at = unix_seconds_of(found.utc)
    times = np.array([at - slack, at, at + slack, unix_seconds_of(recorded.utc)])
    sky = [(aspects_at(times, p), p) for p in _places(place, recorded)]
    if not any(_up(table)[:3].any() for table, _ in sky):
        return DOWN
    chi = np.array([_misfit(placed, table, p, place) for table, p in sky])
    return TILT if chi[:, 3].min() + BETTER < chi[:, :3].min() else ""


def _places(place: Place | None, recorded: TimeCandidate) -> Iterator[Place | None]:
    """Where the picture can have been taken; None alone: anywhere."""
    if place is not None or recorded.offset_hours is None or recorded.source == ANY_ZONE:
        yield place
        return
    middle = 15.0 * recorded.offset_hours
    for east in LONGITUDES_DEG:
        for north in LATITUDES_DEG:
            yield Place(north, (middle + east + 180.0) % 360.0 - 180.0)


def _up(table: AspectTable) -> np.ndarray:
    """(N,) whether the Moon was up; always, where the place is unknown."""
    return np.ones(len(table), bool) if table.altitude_deg is None else np.asarray(table.altitude_deg > UP_DEG)


def _misfit(placed: Placement, table: AspectTable, at: Place | None, known: Place | None) -> np.ndarray:
    """(N,) chi square of the libration there; infinite where the Moon is down. Without any place what the parallax can
    do, a degree (57' at the horizon), counts for nothing."""
    pose = placed.pose
    off = np.hypot(table.libration_lat_deg - pose.libration_lat_deg, table.libration_lon_deg - pose.libration_lon_deg)
    if at is None:
        off = np.maximum(off - 1.0, 0.0)
    own = np.degrees(pose.sigma_pct_radius / 100) if np.isfinite(pose.sigma_pct_radius) else GRID_SIGMA_DEG
    sigma = np.hypot(PLACE_SIGMA_DEG if known is not None else GRID_SIGMA_DEG, own)
    return np.where(_up(table), (off / sigma) ** 2, np.inf)
