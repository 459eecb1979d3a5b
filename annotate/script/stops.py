"""A place on a walk over the Moon in an evening's light: what one calls it, how large it is, and what the Sun does there."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from moondesk.comparison.changed_light import DARK
from moondesk.drawing.style import AREA_KINDS, LONG_KINDS
from moondesk.ideas.tonight import Tonight
from moondesk.notes.feature_notes import LONG_CRATERS, fraction
from moondesk.notes.messages import Message, Name, Number, Part, Term, say
from moondesk.notes.sunlit_ground import RELIEF_DIP_DEG, has_ground, sunlit_share
from moondesk.notes.sunrise_times import Crossings, crossings_of
from moondesk.records import MOON_RADIUS_KM, Feature
from moondesk.script.evening import sun_over
from moondesk.script.records import Episode, Line
from moondesk.script.wordings import has

#: Kinds that are called by the meaning of their names ("the Sea of Rains", "the Apennines") where that is known.
CALLED_BY_MEANING = (*AREA_KINDS, "mountain range", "valley", "scarp")
#: Heights of the Sun that part the light, degrees: shadows are long up to the first pair's end (common practice).
LOW_DEG, MIDDLING_DEG = (2.0, 12.0), (12.0, 38.0)
#: A shadow's length is told from here: below, it is longer than anybody would believe.
SHADOW_DEG = 3.0
#: Hours told as hours; within so many of sunrise or sunset the Sun is "just" rising or setting; days told as days.
HOURS, JUST_HOURS, DAYS = (2.0, 40.0), 1.2, (1.7, 7.4)
#: A share of the ground is told of what is so wide, km.
WIDE_KM = 60.0
#: What may be told of the light of a stop, in the order in which it is told of several.
SORTS = ("share", "height", "time", "shadow")
#: Neighbours: the gap between their edges at most, km, and what is worth naming.
GAP_KM, NEIGHBOUR_KM = 60.0, 30.0
#: Episodes in which what is told of one place alone is not said in the same words again.
WORN = 16
SIDES = (Term("north"), Term("north-east"), Term("east"), Term("south-east"), Term("south"), Term("south-west"), Term("west"),
         Term("north-west"))  # fmt: skip


#: Names that stand for many things ("the Apennines"), and words that a sentence about these cannot have.
PLURAL_KINDS = ("mountain range", "ridge", "crater chain")
_OF_ONE = re.compile(r"\b[Ii]ts?\b|\{(?:name|start)\} (?:\w+s|has)\b|\b(?:\w+s|has) \{(?:name|start)\}")


@dataclass(frozen=True, kw_only=True)
class Stop:
    """A feature tonight. lit: share of its ground in the Sun; crossings: hours to sunrises and sunsets over its middle."""

    feature: Feature
    sun_deg: float
    lit: float
    crossings: Crossings

    @property
    def name(self) -> str:
        return self.feature.name


def stops_at(t: Tonight, features: Sequence[Feature]) -> tuple[Stop, ...]:
    """The places as the evening's Sun finds them, in their order."""
    around = crossings_of([f.lat_deg for f in features], [f.lon_deg for f in features], t.when) if features else ()
    return tuple(Stop(feature=f, sun_deg=sun_over(t, f), lit=sunlit_share(f, *_sun(t)), crossings=c)
                 for f, c in zip(features, around, strict=True))  # fmt: skip


def is_dark(t: Tonight, feature: Feature) -> bool:
    """Whether all of it is night, peaks of its rim too."""
    return sunlit_share(feature, *_sun(t), RELIEF_DIP_DEG) <= DARK and sun_over(t, feature) < -RELIEF_DIP_DEG


def _sun(t: Tonight) -> tuple[float, float]:
    return t.sky.sub_solar_lat_deg, t.sky.sub_solar_lon_deg


def called(feature: Feature) -> Part:
    """What one calls it within a sentence: "Plato", "the Sea of Rains", "Schröter's Valley"."""
    meaning = _meaning(feature)
    if not meaning:
        return Name(feature.name)
    if "'s " in meaning:
        return say("{meaning}", meaning=Term(meaning), feature=Name(feature.name))
    return say(f"the {meaning}", feature=Name(feature.name))  # whole: some languages put the article into the word


def called_first(feature: Feature) -> Part:
    """The same at the beginning of a sentence."""
    meaning = _meaning(feature)
    if not meaning or "'s " in meaning:
        return called(feature)
    return say(f"The {meaning}", feature=Name(feature.name))


def _meaning(feature: Feature) -> str:
    return (feature.meaning or "") if feature.kind in CALLED_BY_MEANING else ""


def names_of(feature: Feature) -> dict[str, Part]:
    return {"name": called(feature), "start": called_first(feature), "of": Name(feature.name)}


def fitting(feature: Feature, ways: tuple[tuple[Line, ...], ...]) -> tuple[tuple[Line, ...], ...]:
    """Of some ways those that fit a name which stands for many things; all of them for another name."""
    if feature.kind not in PLURAL_KINDS and feature.kind != "landing site":  # "it" would be the craft
        return ways
    return tuple(w for w in ways if not any(_OF_ONE.search(line.said.template) for line in w))


def spoken_km(km: float) -> Number:
    """Kilometres as one speaks: to the kilometre, from 300 to ten, from 1,000 to fifty."""
    step = 1 if km < 300 else 10 if km < 1000 else 50
    return Number(step * round(km / step))


def size_table(feature: Feature) -> str:
    """Which wordings tell its size: "crater", "sea", "long", "mountain"; "" where the list's size is another measure."""
    if feature.kind == "crater":
        return "long" if feature.name in LONG_CRATERS else "crater"
    if feature.kind in AREA_KINDS:
        return "sea"
    return "long" if feature.kind in LONG_KINDS else "mountain" if feature.kind == "mountain" else ""


def light_of(stop: Stop, t: Tonight) -> tuple[tuple[str, ...], dict[str, Part]]:
    """Every table of wordings that is true of the light there, and what fills them."""
    sun, at = stop.sun_deg, stop.crossings
    tables: list[str] = []
    values: dict[str, Part] = {"of": Name(stop.name), "sun": Number(sun, 2), "lit": Number(100 * stop.lit, 1)}
    share = fraction(stop.lit) if has_ground(stop.feature) and stop.feature.size_km >= WIDE_KM else None
    if share is not None:
        tables.append("light.part_rise" if t.waxing else "light.part_set")
        values["fraction"] = share
    if t.waxing:
        tables += _since(-at.last_rise, values, "light.just_up", "light.hours_up", "light.days_up")
    else:
        tables += _since(at.next_set, values, "light.just_down", "light.hours_left", "light.days_left")
    values["degrees"] = Number(round(sun))
    if LOW_DEG[0] <= sun <= LOW_DEG[1]:
        tables.append("light.low")
        if sun >= SHADOW_DEG:
            tables.append("light.shadow")
            values["times"] = Number(round(1.0 / math.tan(math.radians(sun))))
    elif MIDDLING_DEG[0] < sun <= MIDDLING_DEG[1]:
        tables.append("light.middling")
    elif sun > MIDDLING_DEG[1]:
        tables.append("light.high")
    return tuple(tables), values


def sort_of(table: str) -> str:
    """What a table of `light_of` tells of: how much is lit, since when, the shadows, or the Sun's height."""
    name = table.removeprefix("light.").partition("_")[0]
    return {"part": "share", "shadow": "shadow"}.get(name, "time" if name in ("just", "hours", "days") else "height")


def _since(hours: float, values: dict[str, Part], just: str, in_hours: str, in_days: str) -> list[str]:
    values["exact_hours"] = Number(hours, 2)
    if 0 <= hours <= JUST_HOURS:
        return [just]
    if HOURS[0] <= hours <= HOURS[1]:
        values["hours"] = Number(round(hours))
        return [in_hours]
    if DAYS[0] <= hours / 24 <= DAYS[1]:
        values["days"] = Number(round(hours / 24))
        return [in_days]
    return []


def ground_of_name(stop: Stop) -> tuple[str, ...]:
    """Tables with what is told of this place alone, that are true in this light."""
    sun = stop.sun_deg
    found = [f"about.{stop.name}"] if sun >= LOW_DEG[0] or stop.lit >= 0.2 else []
    if LOW_DEG[0] <= sun <= 14.0:
        found.insert(0, f"low.{stop.name}")
    if sun >= 25.0:
        found.insert(0, f"high.{stop.name}")
    return tuple(k for k in found if has(k))


def neighbour_of(stop: Stop, among: list[Stop]) -> tuple[Stop, Term] | None:
    """The nearest of the others that is about as striking, close by; and on which side of it that one lies."""
    best: tuple[float, Stop] | None = None
    for other in among:
        if other.name == stop.name or other.feature.kind != "crater" or other.feature.size_km < NEIGHBOUR_KM:
            continue
        gap = _apart_km(stop.feature, other.feature) - (stop.feature.size_km + other.feature.size_km) / 2
        if gap <= GAP_KM and (best is None or gap < best[0]):
            best = gap, other
    return (best[1], side_of(stop.feature, best[1].feature)) if best is not None else None


def side_of(one: Feature, other: Feature) -> Term:
    """On which side of one the other lies, by the bearing of the great circle."""
    a, b, d = (math.radians(x) for x in (one.lat_deg, other.lat_deg, other.lon_deg - one.lon_deg))
    bearing = math.atan2(math.sin(d) * math.cos(b), math.cos(a) * math.sin(b) - math.sin(a) * math.cos(b) * math.cos(d))
    return SIDES[round(math.degrees(bearing) / 45.0) % 8]


def _apart_km(one: Feature, other: Feature) -> float:
    a, b, d = (math.radians(x) for x in (one.lat_deg, other.lat_deg, other.lon_deg - one.lon_deg))
    cosine = math.sin(a) * math.sin(b) + math.cos(a) * math.cos(b) * math.cos(d)
    return MOON_RADIUS_KM * math.acos(max(-1.0, min(1.0, cosine)))


def clause_where(feature: Feature, inside: bool) -> Message:
    return say("in {name}", name=called(feature)) if inside else say("near {name}", name=called(feature))


def fresh_ways(episode: Episode, ways: tuple[tuple[Line, ...], ...]) -> tuple[tuple[Line, ...], ...]:
    """Ways of which no sentence was used lately: what is told of one place alone sounds worn the second time."""
    used = {w for t in episode.history[-WORN:] for w in t.templates}
    return tuple(w for w in ways if not any(line.said.template in used for line in w))
