"""What several writers ask of an evening: the Moon's shape, its edge, the hour of a picture, ground that changes its light."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime
from functools import lru_cache
from typing import Literal

import numpy as np

from moondesk.comparison.changed_light import DARK, GAIN, LightAtPlace, LightChange, changes
from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.phases import PhaseKind
from moondesk.ideas.tonight import Tonight, wrap
from moondesk.moon.geometry import sun_altitude_deg, unit_vector
from moondesk.notes.comparisons import CITIES, EARTH_RADIUS_KM, LOCAL_PAIRS, NEAR, PAIRS, distance_km
from moondesk.notes.comparisons import LEAST_KM as LEAST_KM_LIKENED
from moondesk.notes.messages import Term
from moondesk.notes.moon_notes import light_at
from moondesk.notes.sunlit_ground import RELIEF_DIP_DEG, has_ground, sunlit_share
from moondesk.records import Feature, Place, Pose
from moondesk.script.records import Cue, Episode, Show

Shape = Literal["new", "thin", "crescent", "half", "gibbous", "full"]
Hour = Literal["small hours", "morning", "daytime", "evening"]

#: Lit shares that part the shapes (common practice; a sliver of less than 2 percent is hard to see in twilight). To the eye
#: the half lasts from 46 to 51.5 percent while it grows, and about as long while it shrinks.
UNSEEN, THIN, FULL = 0.02, 0.15, 0.985
HALF = {True: (0.46, 0.515), False: (0.465, 0.54)}
#: Longitude between the edge of the light and the middle of the face up to which it is well seen.
EDGE_DEG = 72.0
#: Ground that is spoken of: not smaller than this, km, nor nearer to the limb than this cosine.
LEAST_KM, LEAST_VIEW = 40.0, 0.3
#: Pairs of cities for viewers of one land serve those who live within this of one of the two, km.
LOCAL_KM = 400.0
#: A way that stands in for one named already lies within this of the viewers, km.
NEXT_BEST_KM = 1500.0
#: With the Moon so far from the Sun, degrees, it stands in the sky by day where people see it.
BY_DAY_DEG = (50.0, 130.0)
#: So far from the Sun a crescent is far enough to be looked for after sunset (common practice).
YOUNG_DEG = 14.0

WEEKDAYS = (Term("Monday"), Term("Tuesday"), Term("Wednesday"), Term("Thursday"), Term("Friday"), Term("Saturday"), Term("Sunday"))  # fmt: skip
MONTHS = (Term("January"), Term("February"), Term("March"), Term("April"), Term("May"), Term("June"), Term("July"),
          Term("August"), Term("September"), Term("October"), Term("November"), Term("December"))  # fmt: skip
PHASES: dict[PhaseKind, Term] = {"new": Term("new Moon"), "first quarter": Term("first quarter"), "full": Term("full Moon"),
                                 "last quarter": Term("last quarter")}  # fmt: skip
SIDES = {True: Term("east"), False: Term("west")}


def shape_of(t: Tonight) -> Shape:
    """What one calls tonight's Moon; "gibbous" from just past the half, "full" within about a day of it."""
    if t.lit < UNSEEN:
        return "new"
    if t.lit >= FULL:
        return "full"
    if HALF[t.waxing][0] <= t.lit <= HALF[t.waxing][1]:
        return "half"
    return "thin" if t.lit < THIN else "gibbous" if t.lit > 0.5 else "crescent"


def shape_key(t: Tonight) -> str:
    """The name of its table of wordings."""
    shape = shape_of(t)
    return shape if shape in ("new", "full") else f"{shape}_{'waxing' if t.waxing else 'waning'}"


def has_edge(t: Tonight) -> bool:
    """Whether the edge of the light lies well on the face."""
    return t.lit >= UNSEEN and abs(wrap(t.edge_lon_deg - t.sky.libration_lon_deg)) <= EDGE_DEG


def hour_of(when: datetime, place: Place | None) -> Hour | None:
    """The part of the day by the Sun's mean time at the place; None where that is not known."""
    if place is None:
        return None
    hour = (when.hour + when.minute / 60.0 + place.longitude_deg / 15.0) % 24.0
    return "small hours" if hour < 5 else "morning" if hour < 11 else "daytime" if hour < 16.5 else "evening"


def lead_cue(episode: Episode, show: Show, feature: str = "", is_first: bool = False) -> Cue | None:
    """A mark for the lead picture, where there is one; is_first: it may follow another picture's, and says which it is."""
    return Cue(show=show, picture=episode.lead if is_first else 0, feature=feature) if episode.lead else None


@lru_cache(64)
def changed_ground(
    before: datetime, after: datetime, place: Place | None
) -> tuple[tuple[Feature, ...], tuple[Feature, ...]]:
    """(wholly dark before and with the Sun after, with the Sun before and wholly dark after): craters and seas on the face
    as it is seen at the later instant, the foremost first."""
    then, now = light_at(before), light_at(after)
    sky = aspect_at(after, place)
    pose = Pose(x=0.0, y=0.0, radius_px=1.0, north_screen_deg=0.0, mirrored=False, libration_lat_deg=sky.libration_lat_deg,
                libration_lon_deg=sky.libration_lon_deg, sub_solar_lat_deg=sky.sub_solar_lat_deg, sub_solar_lon_deg=sky.sub_solar_lon_deg)  # fmt: skip
    view = unit_vector(sky.libration_lat_deg, sky.libration_lon_deg)

    def kept(some: tuple[LightChange, ...], dark: LightAtPlace, light: LightAtPlace) -> tuple[Feature, ...]:
        return tuple(f for f in (c.feature for c in some)
                     if f.size_km >= LEAST_KM and has_ground(f) and float(unit_vector(f.lat_deg, f.lon_deg) @ view) >= LEAST_VIEW
                     and sunlit_share(f, dark.lat_deg, dark.lon_deg, RELIEF_DIP_DEG) <= DARK
                     and sunlit_share(f, light.lat_deg, light.lon_deg) >= GAIN)  # fmt: skip

    gained, lost = changes(then, now, pose)
    return kept(gained, then, now), kept(lost, now, then)


def sun_over(t: Tonight, feature: Feature) -> float:
    """Height of the Sun over a feature's middle, degrees."""
    return float(sun_altitude_deg(feature.lat_deg, feature.lon_deg, t.sky.sub_solar_lat_deg, t.sky.sub_solar_lon_deg))


def cos_near(feature: Feature) -> float:
    """Cosine of the angle from the middle of the near side: negative on the far side."""
    return float(unit_vector(feature.lat_deg, feature.lon_deg) @ unit_vector(0.0, 0.0))


def likened(km: float, home: Place | None, told: Collection[str] = ()) -> tuple[str, str] | None:
    """Two cities about so far apart, those nearest to where the viewers live; None where the list has none. told: ways
    named already ("Sofia Varna"), for which another serves that is not too far off."""
    if km < LEAST_KM_LIKENED:
        return None
    local = [] if home is None else [p for p in LOCAL_PAIRS if min(_away_km(home, c) for c in p) <= LOCAL_KM]
    near = [p for p in (*PAIRS, *local) if abs(distance_km(*p) - km) <= NEAR * km]

    def away(pair: tuple[str, str]) -> float:
        if home is None:
            return abs(distance_km(*pair) - km)
        return max(_away_km(home, c) for c in pair)

    fresh = [p for p in near if " ".join(p) not in told and (home is None or not told or away(p) <= NEXT_BEST_KM)]
    return min(fresh, key=lambda p: (away(p), p), default=None)


@lru_cache(512)
def _away_km(home: Place, city: str) -> float:
    """From where the viewers live to a city, along a great circle."""
    a, b = unit_vector(home.latitude_deg, home.longitude_deg), unit_vector(*CITIES[city])
    return float(EARTH_RADIUS_KM * np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))


def weekday_of(day: date) -> Term:
    return WEEKDAYS[day.weekday()]
