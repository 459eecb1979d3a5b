"""Themes: choices of what one picture shows, by whom it is named after, by kind and size, by the light, by landings.

All members are in the light and in the frame; features among them can also be made out. A theme of one is none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial

import numpy as np

from moondesk.drawing.style import AREA_KINDS
from moondesk.moon.catalogue import all_features, feature_arrays
from moondesk.moon.geometry import sun_altitude_deg, surface_to_pixel, unit_vector
from moondesk.notes.feature_notes import AT_ALL, share, size
from moondesk.notes.landing_sites import SITES
from moondesk.notes.messages import Listed, Message, Name, Number, Part, Term, say
from moondesk.notes.namesake_sentences import person_said
from moondesk.notes.namesakes import Namesake, fits, namesakes, nations, occupations
from moondesk.notes.records import Showing, Theme
from moondesk.records import Annotation

#: Members of a theme at least and at most.
LEAST, MOST = 2, 12
#: Ray craters: their disc brighter than the ground about it by this share of it, and a splash of this share of the mean
#: Moon's albedo in three quarters of all directions (columns `tone` and `rays` of the catalogue, measured on the albedo
#: grid); all five craters of 15 km that pass are known for their rays. Rays want the Sun this high, degrees (common
#: practice).
RAY_TONE, RAY_SPLASH, RAY_SUN_DEG = 0.2, 0.13, 15.0
#: What binoculars of ten times show: craters from this size, other things from that, km (common practice: two minutes
#: of arc in the eyepiece are 12 arcseconds or 22 km; a form wants twice to three times that).
BINOCULAR_CRATER_KM, BINOCULAR_OTHER_KM = 60.0, 150.0
#: Along the terminator: the Sun at most this high or low, degrees.
EDGE_DEG = 8.0
CENTURIES = (*range(-6, 0), *range(1, 22))
#: Themes of nations and centuries: so many members make one.
LEAST_PEOPLE = 3

KIND_THEMES = (
    ("craters", "The largest craters", ("crater",)), ("seas", "Seas and bays", tuple(AREA_KINDS)),
    ("mountains", "Mountains", ("mountain", "mountain range", "cape", "scarp")),
    ("lines", "Rilles, valleys and ridges", ("rille", "valley", "ridge", "crater chain")),
)  # fmt: skip


def themes_of(
    annotation: Annotation, showing: Sequence[Showing], sun_lat_deg: float, sun_lon_deg: float
) -> tuple[Theme, ...]:
    """Every theme that a picture has members of. showing: the most striking first, as `sunlit_ground.showing_of` gives it; of a
    placement that is not sure there are the seas alone."""
    seen = [s for s in showing if s.mark.seen >= AT_ALL]
    found = [along_edge(seen), *by_kind(seen), binoculars(seen), ray_craters(seen)]
    if annotation.sure:
        found.append(landing_sites(annotation, sun_lat_deg, sun_lon_deg))
    found += by_people(seen)
    return tuple(t for t in found if t is not None)


def along_edge(seen: Sequence[Showing]) -> Theme | None:
    """What the low Sun brings out, from north to south."""
    near = [s for s in seen if abs(s.sun_deg) <= EDGE_DEG][:MOST]
    near.sort(key=lambda s: -s.mark.feature.lat_deg)
    return _theme("light:edge", say("Along the edge of the light"), near, _sun_there, say(
        "A low Sun, at most {degrees} degrees high, brings out their forms; from north to south.",
        degrees=Number(EDGE_DEG)))  # fmt: skip


def _sun_there(one: Showing) -> Message:
    name, degrees = Name(one.mark.feature.name), Number(abs(one.sun_deg), 1)
    if one.sun_deg < 0:
        return say("{name}: at its middle the Sun is {degrees} degrees below the horizon.", name=name, degrees=degrees)
    return say("{name}: at its middle the Sun stands {degrees} degrees high.", name=name, degrees=degrees)


def by_kind(seen: Sequence[Showing]) -> list[Theme | None]:
    """Seas, the largest craters, mountains, and what is long, the largest first."""
    themes = []
    for key, title, kinds in KIND_THEMES:
        every = sorted((s for s in seen if s.mark.feature.kind in kinds), key=lambda s: -s.mark.feature.size_km)
        some = every[:MOST]
        themes.append(_theme(f"kind:{key}", say("{title}", title=Term(title)), some, _sized, say(
            "Of what can be made out in this picture these are the largest, the largest first.", shown=len(some),
            of=len(every))))  # fmt: skip
    return themes


def _sized(one: Showing) -> Message:
    feature = one.mark.feature
    told, lit = size(feature), share(one)
    if told is None:
        return say("{name}: {kind}.", name=Name(feature.name), kind=Term(feature.kind))
    return told if lit is None else say("{size} {light}", size=told, light=lit)


def binoculars(seen: Sequence[Showing]) -> Theme | None:
    """What is large enough for binoculars of ten times, the most striking in this light first."""
    some = [s for s in seen if s.mark.feature.size_km >= (
        BINOCULAR_CRATER_KM if s.mark.feature.kind == "crater" else BINOCULAR_OTHER_KM)]  # fmt: skip
    return _theme("size:binoculars", say("For binoculars"), _tour(some[:MOST]), _sized, say(
        "Binoculars that magnify ten times show craters of {crater} km and other features of {other} km and more.",
        crater=Number(BINOCULAR_CRATER_KM), other=Number(BINOCULAR_OTHER_KM)))  # fmt: skip


def ray_names() -> frozenset[str]:
    """Names of the craters with bright rays, by the albedo grid."""
    table = feature_arrays()
    rayed = ~table.lettered & (table.tone >= RAY_TONE) & (table.rays >= RAY_SPLASH) & (table.size_km >= 15)
    return frozenset(all_features()[k].name for k in np.flatnonzero(rayed))


def ray_craters(seen: Sequence[Showing]) -> Theme | None:
    names = ray_names()
    some = [s for s in seen if s.mark.feature.name in names and s.sun_deg >= RAY_SUN_DEG]
    return _theme("kind:rays", say("Craters with bright rays"), _tour(some), _sun_there, say(
        "Rays show where the Sun stands high; over these it is more than {degrees} degrees up.",
        degrees=Number(RAY_SUN_DEG)))  # fmt: skip


def landing_sites(annotation: Annotation, sun_lat_deg: float, sun_lon_deg: float) -> Theme | None:
    """The places of landings that are in the light and in the frame, in the order of the years."""
    pose = annotation.pose
    if pose is None:
        return None
    lat, lon = [s.lat_deg for s in SITES], [s.lon_deg for s in SITES]
    at, sun = surface_to_pixel(pose, lat, lon), sun_altitude_deg(lat, lon, sun_lat_deg, sun_lon_deg)
    shown = [s for k, s in enumerate(SITES)
             if sun[k] > s.within_deg and at.mu[k] > 0.05 and 0 <= at.x[k] <= annotation.width - 1
             and 0 <= at.y[k] <= annotation.height - 1]  # fmt: skip
    if len(shown) < LEAST:
        return None
    sentences = [say("{count} landing places lie in this light; the craft themselves are far too small to be seen.",
                     count=len(shown))]  # fmt: skip
    for s in shown:
        parts: dict[str, Part] = {"mission": Name(s.mission), "place": Name(s.region), "day": s.day,
                                  "lat": Number(s.lat_deg, 2), "lon": Number(s.lon_deg, 2)}  # fmt: skip
        if s.crewed:
            sentences.append(
                say("{mission}: people landed in {place} on {day}.", **parts)
                if s.inside
                else say("{mission}: people landed near {place} on {day}.", **parts)
            )
        else:
            sentences.append(
                say("{mission} landed in {place} on {day}.", **parts)
                if s.inside
                else say("{mission} landed near {place} on {day}.", **parts)
            )
    return Theme("places:landings", say("Landing places"), tuple((s.mission, s.lat_deg, s.lon_deg) for s in shown),
                 tuple(sentences))  # fmt: skip


def by_people(seen: Sequence[Showing]) -> list[Theme | None]:
    """By the namesakes' occupation, nation and century; within a theme the earliest born first."""
    found = [_people(seen, f"people:{o}", say("Named after: {occupation}", occupation=Term(o)),
                     partial(fits, occupation=o, nation=None, century=None), LEAST) for o in occupations()]  # fmt: skip
    found += [_people(seen, f"nation:{n}", say("By nation: {nation}", nation=Term(n)),
                      partial(fits, occupation=None, nation=n, century=None), LEAST_PEOPLE)
              for n in nations()]  # fmt: skip
    found += [_people(seen, f"century:{c}", _century(c), partial(fits, occupation=None, nation=None, century=c),
                      LEAST_PEOPLE) for c in CENTURIES]  # fmt: skip
    return found


def _century(number: int) -> Message:
    if number > 0:
        return say("People of the years {first} to {last}", first=100 * number - 99, last=100 * number)
    return say("People of the years {first} to {last} BC", first=-100 * number, last=-100 * number - 99)


def _people(seen: Sequence[Showing], key: str, title: Message, wanted: Callable[[Namesake], bool], least: int,
            ) -> Theme | None:  # fmt: skip
    every = [s for s in seen if any(wanted(p) for p in namesakes(s.mark.feature.name))]
    some = every[:MOST]
    if len(some) < least:
        return None

    def who(one: Showing) -> Message:
        people = [p for p in namesakes(one.mark.feature.name) if wanted(p)]
        return say("{name}: named after {people}.", name=Name(one.mark.feature.name),
                   people=Listed(tuple(person_said(p) for p in people)))  # fmt: skip

    some.sort(key=lambda s: min(_year(p) for p in namesakes(s.mark.feature.name) if wanted(p)))
    names = Listed(tuple(Name(s.mark.feature.name) for s in some))
    first = (say("{count} of these names can be made out in this picture, among them {names}.", count=len(every),
                 names=names) if len(every) > MOST
             else say("{count} of these names can be made out in this picture: {names}.", count=len(every),
                      names=names))  # fmt: skip
    return _theme(key, title, some, who, first)


def _year(person: Namesake) -> int:
    return next((y for y in (person.born, person.flourished, person.died) if y is not None), 9999)


def _theme(key: str, title: Message, some: Sequence[Showing], each: Callable[[Showing], Message], first: Message,
           ) -> Theme | None:  # fmt: skip
    if len(some) < LEAST:
        return None
    places = tuple((s.mark.feature.name, s.mark.feature.lat_deg, s.mark.feature.lon_deg) for s in some)
    return Theme(key, title, places, (first, *(each(s) for s in some)))


def _tour(some: Iterable[Showing]) -> list[Showing]:
    """From the first of them always to the nearest next, so that the eye need not jump."""
    left = list(some)
    tour = left[:1]
    left = left[1:]
    while left:
        here = unit_vector(tour[-1].mark.feature.lat_deg, tour[-1].mark.feature.lon_deg)
        there = unit_vector([s.mark.feature.lat_deg for s in left], [s.mark.feature.lon_deg for s in left])
        tour.append(left.pop(int(np.argmax(there @ here))))
    return tour
