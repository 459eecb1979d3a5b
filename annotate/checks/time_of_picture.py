"""When a placed picture was taken: its light and tilt, an eclipse, the recorded time, and what forbids accusing it.

eclipse? -> picture's own time -> clock's verdict, where nothing forbids one -> time to go by, evening's verdict
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from moondesk.checks.clock import NO_TIME, TOLD, PictureTime, judge, picture_time
from moondesk.checks.clock_doubts import UNEVEN, against_accusing
from moondesk.checks.eclipses import Eclipse, clock_in_shadow, eclipse_in, is_bitten, sun_at
from moondesk.checks.evening import DEG_AN_HOUR, EPHEMERIS_DEG, judge_evening, may_be_stated, time_without_light
from moondesk.ephemeris.evenings import FITS
from moondesk.placement.refinement import Placement
from moondesk.records import Aspect, Clock, ClockVerdict, EveningKnowledge, Picture, Place, TimeCandidate, TimeReadings

#: A time that only a person told and that lies farther from the picture's own, sigmas, is in doubt.
TOLD_SIGMA = 2.0
#: One sigma of the Sun that uneven light shows, degrees: the scatter of 20 scenes under rays and clouds.
UNEVEN_DEG = 3.3
UNSEEN = (
    "At the recorded time the Moon was in the Earth's shadow, and the picture shows none: the clock may be some "
    "hours off."
)
MAYBE = "The light may be that of an eclipse, and gives no time."


@dataclass(frozen=True, eq=False, kw_only=True)
class TimeOfPicture:
    """placed: with the Sun to go by. bitten: part of the disc is dark where the Sun should light it."""

    placed: Placement
    clock: Clock
    time: TimeCandidate | None
    eclipse: Eclipse
    bitten: bool
    #: The picture speaks against the time gone by, but not so that it could be said.
    doubted: bool = False

    def dated(self, taken: TimeReadings, sure: bool) -> EveningKnowledge:
        return judge_evening(taken, self.clock, self.time, sure, self.doubted)


def one_sun(when: TimeOfPicture, evening: EveningKnowledge, sky: Aspect | None) -> tuple[Placement, float]:
    """The placement with the one Sun that notes, reply, frame and exports all go by, and its sigma, degrees: where the
    time may be stated that of the ephemeris, else the one that the picture's light shows.

    sky: at the time gone by.
    """
    placed, time = when.placed, when.time
    if sky is not None and time is not None and may_be_stated(time, when.clock, evening):
        pose = replace(placed.pose, sub_solar_lat_deg=sky.sub_solar_lat_deg, sub_solar_lon_deg=sky.sub_solar_lon_deg)
        return replace(placed, pose=pose), math.hypot(EPHEMERIS_DEG, DEG_AN_HOUR * time.sigma_minutes / 60.0)
    lon = np.unwrap(placed.track.lon_deg, period=360.0)
    sigma = placed.light.sigma * float(abs(lon[-1] - lon[0]) / max(len(lon) - 1, 1))
    return placed, math.hypot(sigma, UNEVEN_DEG) if placed.light.uneven > UNEVEN else sigma


def time_of_picture(
    picture: Picture, placed: Placement, taken: TimeReadings, place: Place | None, sure: bool, evened: bool = False
) -> TimeOfPicture:
    """placed: in pixels of the picture, with the Sun that its light shows; sure: where the Moon lies is certain, as far
    as patches and surroundings say; evened: the Sun is that of light made even, and none."""
    eclipse = eclipse_in(picture, placed.pose, taken, place)
    if eclipse.reading is not None:  # a penumbra too darkens one side, as another phase would
        lit = replace(placed, pose=sun_at(placed.pose, eclipse.reading, place))
        bitten = not eclipse.told and is_bitten(picture.luminance, lit.pose)
        return TimeOfPicture(
            placed=lit, clock=clock_in_shadow(taken), time=eclipse.reading, eclipse=eclipse, bitten=bitten
        )
    if eclipse.doubt or evened:
        time = time_without_light(taken)[1]
        return TimeOfPicture(
            placed=placed, clock=clock_in_shadow(taken, MAYBE), time=time, eclipse=eclipse, bitten=not eclipse.told
        )
    found, doubts, bites = picture_time(placed, taken, place), [], []
    if found is not None and found.misfit > NO_TIME and placed.light.uneven > UNEVEN:
        found = None  # light that is wrong by days speaks against no recorded time

    def forbids(recorded: TimeCandidate | None) -> str:
        bites.append(is_bitten(picture.luminance, placed.pose))
        assert found is not None
        doubts.append(against_accusing(placed, sure and not bites[0], place, found, recorded))
        return doubts[0]

    clock, time = judge(taken, found, forbids)
    if eclipse.unseen:
        return TimeOfPicture(
            placed=placed,
            clock=Clock(ClockVerdict.CANNOT_TELL, None, None, UNSEEN),
            time=time,
            eclipse=eclipse,
            bitten=False,
            doubted=True,
        )
    # where light and clock agree on another time than an eclipse's, what hides a part is a roof or a cloud
    bitten = clock.verdict != ClockVerdict.AGREES and (bites[0] if bites else is_bitten(picture.luminance, placed.pose))
    doubted = any(doubts) or (found is not None and _is_doubtful(placed, clock, time, found))
    return TimeOfPicture(placed=placed, clock=clock, time=time, eclipse=eclipse, bitten=bitten, doubted=doubted)


def _is_doubtful(placed: Placement, clock: Clock, time: TimeCandidate | None, found: PictureTime) -> bool:
    """Of a time from the picture alone: its light is uneven, or does not meet the libration within the days it came
    in. Of one that was told: it lies off the picture's own."""
    if clock.verdict == ClockVerdict.NO_CLOCK:
        return placed.light.uneven > UNEVEN or found.at_edge or found.misfit > FITS
    if clock.words == TOLD and time is not None:
        return abs(time.utc - found.utc).total_seconds() > TOLD_SIGMA * 3600.0 * found.sigma_hours
    return False
