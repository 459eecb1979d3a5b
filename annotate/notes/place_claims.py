"""Claims that no light changes: sizes, ranks, places, namesakes and landings."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

import numpy as np

from moondesk.drawing.style import AREA_KINDS, LONG_KINDS
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import unit_vector
from moondesk.notes.claim_reading import Claim
from moondesk.notes.claim_verdicts import KM_A_DEGREE, Checked, Tolerance, Verdict, spoken_tolerance
from moondesk.notes.feature_notes import LONG_CRATERS
from moondesk.notes.landing_sites import SITES, Site
from moondesk.notes.light_claims import is_dark, is_lit, percent_said
from moondesk.notes.messages import Listed, Name, Number, Part, Term, say
from moondesk.notes.namesake_sentences import person_said
from moondesk.notes.namesakes import Namesake, namesakes
from moondesk.notes.sunlit_ground import ground_of, has_ground
from moondesk.notes.view import NotesView, wrap_180
from moondesk.records import MOON_RADIUS_KM, Feature

#: Sizes and distances: ratios; places: degrees.
SIZE, PLACE_DEG = Tolerance(0.05, 0.15), 0.5
#: Within this ratio of each other two sizes are equal, as far as the list can be trusted.
SAME_SIZE = 0.03
#: In a list by size the order is trusted beyond this ratio.
TIED = 0.005
#: By so much sizes of one crater differ from list to list; of seas and ranges, which have no sharp ends, the order says
#: nothing against one that stands this far up.
LISTS_DIFFER, FAR_UP = 0.02, 5
#: "As wide as", "twice as large": ratios in natural logarithms.
AS_WIDE = Tolerance(math.log(1.15), math.log(1.35))
#: Beside: the bearing off the named direction, degrees.
BEARING = Tolerance(65.0, 90.0)
BETWEEN_BEARING = Tolerance(45.0, 100.0)
#: Near: the gap between two rims, or to a shore, km; near the limb or the centre, degrees from the disc's centre.
NEAR_KM, SHORE_KM, LIMB_DEG, CENTRE_DEG = Tolerance(250.0, 500.0), Tolerance(140.0, 280.0), (55.0, 45.0), (16.0, 26.0)
#: A landing in or by a feature: beyond its ground, km.
LANDED_KM = Tolerance(90.0, 250.0)
_COMPASS = {"north": 0, "north_east": 45, "east": 90, "south_east": 135, "south": 180, "south_west": 225, "west": 270,
            "north_west": 315}  # fmt: skip


def north_or_south(lat_deg: float) -> Term:
    return Term("north") if lat_deg >= 0 else Term("south")


def east_or_west(lon_deg: float) -> Term:
    return Term("east") if lon_deg >= 0 else Term("west")


def _angle(one: Feature, other: Feature) -> float:
    a, b = unit_vector(one.lat_deg, one.lon_deg), unit_vector(other.lat_deg, other.lon_deg)
    return float(np.degrees(np.arccos(np.clip(a @ b, -1, 1))))


def _is_long(feature: Feature) -> bool:
    return feature.kind in LONG_KINDS or feature.name in LONG_CRATERS


def _no_size(feature: Feature) -> Checked:
    return Checked("cannot tell", say("The IAU's list has no size of {name}.", name=Name(feature.name)))


def size(view: NotesView, claim: Claim) -> Checked:
    feature, told = claim.subjects[0], claim.amount("km")
    assert told is not None
    if not feature.size_km:
        return _no_size(feature)
    said = say("By the IAU's list {name} is {km} km across: {off} km off.", name=Name(feature.name),
               km=Number(feature.size_km), off=Number(abs(told.value - feature.size_km)))  # fmt: skip
    ratio = told.value / feature.size_km - 1
    if told.sense != "about":
        return Checked(Tolerance(SAME_SIZE, SAME_SIZE).above(-ratio if told.sense == "more" else ratio), said)
    verdict = (Tolerance(0.10, 0.25) if told.vague or feature.kind in AREA_KINDS else Tolerance(
        SIZE.true + min(0.05, 0.3 * told.step / feature.size_km), 0.3)).judge(ratio)  # fmt: skip
    if _is_long(feature) and verdict != "true":
        verdict = "roughly" if ratio < 0 else verdict
    return Checked(verdict, said, percent_said(SIZE))


def compare_km(view: NotesView, claim: Claim) -> Checked:
    feature, told = claim.subjects[0], claim.amount("km")
    assert told is not None
    if not feature.size_km:
        return _no_size(feature)
    over = math.log(feature.size_km / told.value) * (1 if claim.has("larger") else -1)
    return Checked(Tolerance(SAME_SIZE, SAME_SIZE).above(over), say(
        "By the IAU's list {name} is {km} km across: {off} km off.", name=Name(feature.name), km=Number(feature.size_km),
        off=Number(abs(told.value - feature.size_km))))  # fmt: skip


def apart(view: NotesView, claim: Claim) -> Checked:
    told = claim.amount("km")
    assert told is not None
    a, b = (*claim.subjects, *claim.others)[:2]
    km = _angle(a, b) * KM_A_DEGREE
    return Checked(Tolerance(0.1, 0.25).judge(told.value / km - 1), say(
        "The middles of {one} and {other} are {km} km apart.", one=Name(a.name), other=Name(b.name), km=Number(km)))  # fmt: skip


_FACTORS = {"times_2": 2.0, "times_3": 3.0, "times_4": 4.0, "times_5": 5.0, "times_10": 10.0, "times_half": 0.5,
            "times_third": 1 / 3}  # fmt: skip


def compare(view: NotesView, claim: Claim) -> Checked:
    """Larger, smaller, as wide as, so many times as wide as another."""
    a, b = claim.subjects[0], claim.others[0] if claim.others else claim.subjects[-1]
    if a.name == b.name or not (a.size_km and b.size_km):
        return Checked("cannot tell", say("The IAU's list has no size of one of them."))
    said = say("{one} is {km} km across, {other} {other_km} km.", one=Name(a.name), km=Number(a.size_km),
               other=Name(b.name), other_km=Number(b.size_km))  # fmt: skip
    log = math.log(a.size_km / b.size_km)
    factor = next((value for tag, value in _FACTORS.items() if claim.has(tag)), None)
    same = say("Within {percent} % of each other it counts as roughly true.", percent=Number(100 * SAME_SIZE))
    counted = claim.amount("share") or claim.amount("number")
    if factor is None and counted is not None and claim.has("times", "as_wide"):
        factor = counted.value
    if factor is None and claim.has("times"):
        return Checked("cannot tell", said)
    verdict: Verdict
    if factor is not None:
        if claim.has("smaller"):
            factor = 1 / factor
        off = log - math.log(factor)
        more, less = claim.has("beyond"), claim.has("short")
        verdict = AS_WIDE.judge(off)
        if more or less:
            verdict = Tolerance(SAME_SIZE, SAME_SIZE).above(off if more else -off)
    elif claim.has("as_wide"):
        verdict = AS_WIDE.judge(log)
    else:
        verdict = Tolerance(SAME_SIZE, SAME_SIZE).above(log if claim.has("larger") else -log)
    if _is_long(a) != _is_long(b) and verdict != "roughly":
        return Checked("cannot tell", say("{one} is {km} km across, {other} {other_km} km; one of them is a length.",
                                          **dict(said.values)))  # fmt: skip
    return Checked(verdict, said, same)


# --- ranks -----------------------------------------------------------------------------------------------------------


def kind_asked(claim: Claim) -> tuple[str, ...]:
    if claim.has("crater"):
        return ("crater",)
    if claim.has("sea"):
        return ("sea", "ocean")
    return ("mountain range",) if claim.has("range") else ()


def _ranked(kinds: Iterable[str]) -> list[Feature]:
    """The near side's features of some kinds, the largest first."""
    return sorted((f for f in all_features() if f.kind in kinds and f.parent is None and f.size_km
                   and math.cos(math.radians(f.lat_deg)) * math.cos(math.radians(f.lon_deg)) > 0),
                  key=lambda f: -f.size_km)  # fmt: skip


def feature_of_rank(claim: Claim) -> Feature | None:
    """The feature that "the second largest crater of the near side" means; None where it is none."""
    kinds = kind_asked(claim)
    if not kinds or not claim.has("largest"):
        return None
    return _ranked(kinds)[_place_in_order(claim) - 1]


def _place_in_order(claim: Claim) -> int:
    before = [
        i.rank for k, i in enumerate(claim.items) if i.rank and any("largest" in j.tags for j in claim.items[k : k + 3])
    ]
    return before[0] if before else 1


def rank(view: NotesView, claim: Claim) -> Checked:
    """The largest of its kind on the near side, or of those in the light."""
    feature, place = claim.subjects[0], _place_in_order(claim)
    kinds = kind_asked(claim) or (feature.kind,)
    if feature.kind not in kinds:
        return Checked("false", say("{name} is a {kind}.", name=Name(feature.name), kind=Term(feature.kind)))
    table = _ranked(kinds)
    said: dict[str, Part] = {"name": Name(feature.name), "km": Number(feature.size_km)}
    if claim.has("among"):
        number = 1 + sum(f.size_km > feature.size_km for f in table)
        return Checked("true" if number <= 10 else "roughly" if number <= 25 else "false", say(
            "{name} is {km} km across, by the sizes in the IAU's list number {place} there.", place=Number(number), **said))  # fmt: skip
    if claim.has("smallest"):
        larger = [f for f in table if f.size_km < feature.size_km * (1 - SAME_SIZE)]
        return Checked("false" if len(larger) > 5 else "cannot tell", say("{name} is {km} km across.", **said))
    lit_alone = claim.has("lit_scope") and not claim.has("dark")
    sure = maybe = 0
    first: Feature | None = None
    own = is_lit(view, feature).verdict if lit_alone else "true"
    for other in table:
        if other.size_km <= feature.size_km * (1 - TIED):
            break
        if other.name == feature.name:
            continue
        lit = 1.0
        if lit_alone:
            lit = view.lit(other) if view.framed(other) >= 0.5 else 0.0
        clear = other.size_km > feature.size_km * (1 + LISTS_DIFFER)
        sure += clear and lit >= 0.9
        maybe += lit >= 0.05
        first = first or (other if lit >= 0.9 and clear else None)
    if own == "false":
        return is_lit(view, feature)
    verdict: Verdict = (
        "false" if sure >= place or maybe < place - 1 else "true" if sure == maybe == place - 1 else "roughly"
    )
    if verdict == "false" and feature.kind != "crater" and sure < FAR_UP:
        verdict = "cannot tell"  # they are measured from end to end: areas are not known
    if own != "true" and verdict == "true":
        verdict = "roughly"
    if first is not None and verdict != "true":
        return Checked(verdict, say("{name} is {km} km across, {other} {other_km} km.", other=Name(first.name),
                                    other_km=Number(first.size_km), **said))  # fmt: skip
    checked = Checked(verdict, say("{name} is {km} km across, by the sizes in the IAU's list number {place} there.",
                                   place=Number(sure + 1), **said))  # fmt: skip
    return checked


def rank_state(view: NotesView, claim: Claim) -> Checked:
    feature = feature_of_rank(claim)
    if feature is None:
        return Checked("cannot tell", say("It is not clear which feature is meant."))
    return is_dark(view, feature) if claim.has("dark") else is_lit(view, feature)


# --- places ----------------------------------------------------------------------------------------------------------


def _bearing(a: Feature, b: Feature) -> float:
    """The direction in which a lies seen from b, on a map with north up, degrees from north through east."""
    east = wrap_180(a.lon_deg - b.lon_deg) * math.cos(math.radians((a.lat_deg + b.lat_deg) / 2))
    return math.degrees(math.atan2(east, a.lat_deg - b.lat_deg)) % 360


def beside(view: NotesView, claim: Claim) -> Checked:
    a, b = claim.subjects[0], claim.others[0]
    way = claim.direction or ("west" if claim.has("left") else "east" if claim.has("right") else
                              "north" if claim.has("above", "top") else "south")  # fmt: skip
    north, east = a.lat_deg - b.lat_deg, wrap_180(a.lon_deg - b.lon_deg)
    signs = {"north": north, "south": -north, "east": east, "west": -east}
    off = min(value for side, value in signs.items() if side in way)
    turn = abs(wrap_180(_bearing(a, b) - _COMPASS[way]))
    km = _angle(a, b) * KM_A_DEGREE
    if "_" in way:
        verdict: Verdict = "true" if turn <= 40 else "roughly" if turn <= 80 else "false"
    elif off > PLACE_DEG:
        verdict = "true" if turn <= BEARING.true or not has_ground(b) else "roughly"
    else:
        verdict = "roughly" if off >= -PLACE_DEG else "false"
    real = way if off >= 0 else {"north": "south", "south": "north", "east": "west", "west": "east"}.get(way, "")
    parts: dict[str, Part] = {
        "one": Name(a.name),
        "degrees": Number(abs(off), 1),
        "km": Number(km),
        "other": Name(b.name),
    }
    if "_" in way:
        return Checked(verdict, say(
            "Seen from {other}, {one} lies {km} km away, {north} degrees further north and {east} further east.",
            north=Number(north, 1), east=Number(east, 1), **parts))  # fmt: skip
    return Checked(verdict, say(
        "The middle of {one} lies {degrees} degrees or {km} km further {side} than that of {other}.", side=Term(real),
        **(parts | {"km": Number(abs(off) * KM_A_DEGREE * (1 if way in ("north", "south") else math.cos(
            math.radians((a.lat_deg + b.lat_deg) / 2))))})),
        say("Within {degrees} degrees it counts as roughly true.", degrees=Number(PLACE_DEG, 1)))  # fmt: skip


def between(view: NotesView, claim: Claim) -> Checked:
    a = claim.subjects[0]
    if len(claim.others) < 2:
        return Checked("cannot tell", say("It is not clear which feature is meant."))
    b, c = claim.others[:2]
    turn = 180 - abs(wrap_180(_bearing(b, a) - _bearing(c, a)))
    verdict = BETWEEN_BEARING.judge(turn)
    return Checked(verdict, say("{one} lies {km} km from {other} and {third_km} km from {third}.", one=Name(a.name),
                                km=Number(_angle(a, b) * KM_A_DEGREE), other=Name(b.name),
                                third_km=Number(_angle(a, c) * KM_A_DEGREE), third=Name(c.name)))  # fmt: skip


def _gap_km(feature: Feature, area: Feature) -> tuple[float, float]:
    """From a feature's middle to the nearest ground of another, and its own radius, km."""
    points, _ = ground_of(area)
    away = float(np.degrees(np.arccos(np.clip((points @ unit_vector(feature.lat_deg, feature.lon_deg)).max(), -1, 1))))
    radius = 0.0 if _is_long(feature) and feature.kind != "mountain range" else feature.size_km / 2
    gap = away * KM_A_DEGREE - (0.0 if has_ground(area) else area.size_km / 2)
    return max(gap, 0.0), radius


def _near_within(feature: Feature, other: Feature, tolerance: Tolerance) -> Checked:
    gap, radius = _gap_km(feature, other)
    beyond = max(gap - radius, 0.0)
    return Checked(tolerance.judge(beyond), say("{one} lies {km} km from {other}.", one=Name(feature.name),
                                                km=Number(beyond), other=Name(other.name)))  # fmt: skip


def near(view: NotesView, claim: Claim) -> Checked:
    return _near_within(claim.subjects[0], claim.others[0], NEAR_KM)


def shore(view: NotesView, claim: Claim) -> Checked:
    checked = _near_within(claim.subjects[0], claim.others[0], SHORE_KM)
    if checked.verdict == "false" or not claim.direction:
        return checked
    turn = abs(wrap_180(_bearing(claim.subjects[0], claim.others[0]) - _COMPASS[claim.direction]))
    verdict: Verdict = "true" if turn <= 60 else "roughly" if turn <= 85 else "false"
    return Checked(verdict if verdict != "true" else checked.verdict, checked.said)


def inside(view: NotesView, claim: Claim) -> Checked:
    a, b = claim.subjects[0], claim.others[0]
    if b.size_km <= a.size_km:
        return Checked("false", say("{one} is {km} km across, {other} {other_km} km.", one=Name(a.name),
                                    km=Number(a.size_km), other=Name(b.name), other_km=Number(b.size_km)))  # fmt: skip
    return _near_within(a, b, Tolerance(40.0, 150.0))


def place(view: NotesView, claim: Claim) -> Checked:
    """Where on the disc: a hemisphere or quarter, by the limb, in the middle, in the highlands."""
    feature, way = claim.subjects[0], claim.direction
    pose = view.annotation.pose
    assert pose is not None
    lat, lon = feature.lat_deg, feature.lon_deg
    said = say("{name} lies at {lat} degrees {north}, {lon} degrees {east}.", name=Name(feature.name),
               lat=Number(abs(lat), 1), north=north_or_south(lat), lon=Number(abs(lon), 1),
               east=east_or_west(lon))  # fmt: skip
    verdicts: list[Verdict] = []
    if not way:
        way = ("west" if claim.has("left") else "east" if claim.has("right") else "north" if claim.has("top", "above")
               else "south" if claim.has("bottom", "beneath") else "")  # fmt: skip
    for side in ("north", "south", "east", "west"):
        if side not in way:
            continue
        value = {"north": lat, "south": -lat, "east": lon, "west": -lon}[side]
        verdicts.append("true" if value > 5 else "roughly" if value > -2 else "false")
        if claim.has("far") and value < 30:
            verdicts.append("roughly" if value > 15 else "false")
    away = float(
        np.degrees(
            np.arccos(
                np.clip(unit_vector(lat, lon) @ unit_vector(pose.libration_lat_deg, pose.libration_lon_deg), -1, 1)
            )
        )
    )
    radius = math.degrees(feature.size_km / 2 / MOON_RADIUS_KM) if has_ground(feature) else 0.0
    if claim.has("limb"):
        verdicts.append("true" if away >= LIMB_DEG[0] else "roughly" if away + radius >= LIMB_DEG[1] else "false")
        towards = {"north": lat, "south": -lat, "east": lon, "west": -lon}.get(way)
        if towards is not None and towards < 30:
            verdicts.append("roughly" if towards > 15 else "false")
    elif claim.has("meridian") and not way:
        verdicts.append("true" if away <= CENTRE_DEG[0] else "roughly" if away - radius <= CENTRE_DEG[1] else "false")
    if claim.has("equator"):
        verdicts.append("true" if abs(lat) < 10 + radius else "roughly" if abs(lat) < 20 + radius else "false")
    if claim.has("highlands"):
        verdicts.append("false" if feature.kind in AREA_KINDS else "roughly" if _in_sea(feature) else "true")
    return Checked(worst(verdicts) if verdicts else "cannot tell", said)


def _in_sea(feature: Feature) -> bool:
    return any(
        _gap_km(feature, f)[0] < 20 for f in all_features() if f.kind in ("sea", "ocean", "bay") and f.size_km > 200
    )


def position(view: NotesView, claim: Claim) -> Checked:
    told, feature, way = claim.amount("degrees"), claim.subjects[0], claim.direction
    assert told is not None
    value = feature.lat_deg if way in ("north", "south") else feature.lon_deg
    value = -value if way in ("south", "west") else value
    radius = math.degrees(feature.size_km / 2 / MOON_RADIUS_KM)
    tolerance = spoken_tolerance(told, Tolerance(2.0 + radius / 2, 6.0 + radius), 0.2)
    return Checked(tolerance.judge(value - told.value), say(
        "{name} lies at {lat} degrees {north}, {lon} degrees {east}.", name=Name(feature.name),
        lat=Number(abs(feature.lat_deg), 1), north=north_or_south(feature.lat_deg),
        lon=Number(abs(feature.lon_deg), 1), east=east_or_west(feature.lon_deg)))  # fmt: skip


#: Steps of latitude and longitude of a named order.
_ORDERS = {"to_south": (-1, 0), "to_north": (1, 0), "to_east": (0, 1), "to_west": (0, -1)}


def order(view: NotesView, claim: Claim) -> Checked:
    """Features in the order in which they are named."""
    all_named = (*claim.subjects, *claim.others)
    found = next((step for tag, step in _ORDERS.items() if claim.has(tag)), None)
    if found is None:
        return Checked("cannot tell", say("It is not clear in which order they are named."))
    along = [found[0] * f.lat_deg + found[1] * f.lon_deg for f in all_named]
    steps = [b - a for a, b in pairwise(along)]
    verdict: Verdict = "true" if min(steps) > PLACE_DEG else "roughly" if min(steps) > -PLACE_DEG else "false"
    names = [f for _, f in sorted(zip(along, all_named, strict=True), key=lambda p: p[0])]
    return Checked(verdict, say("In that direction they follow like this: {names}.",
                                names=Listed(tuple(Name(f.name) for f in names))))  # fmt: skip


# --- people and landings ---------------------------------------------------------------------------------------------

_KIN = ({"British", "English", "Scottish", "Irish"}, {"Flemish", "Belgian", "Dutch"}, {"Soviet", "Russian", "Ukrainian"},
        {"Czech", "Czechoslovak", "Austrian", "German", "Polish"}, {"Greek", "Egyptian"}, {"Arab", "Spanish", "Persian", "Iraqi", "Egyptian"},
        {"American", "British", "Canadian", "English"}, {"Austrian", "Hungarian", "Croatian"}, {"Greek", "Macedonian"})  # fmt: skip
_CLOSE_KIN = (
    {"British", "English", "Scottish"},
    {"Flemish", "Belgian"},
    {"Soviet", "Russian"},
    {"Czech", "Czechoslovak"},
)
#: Nobody of the Moon's scientists was one of these beside his science and is not listed so.
_APART = {"artist", "astronaut", "cosmonaut", "navigator", "explorer", "aviator", "writer"}


def namesake(view: NotesView, claim: Claim) -> Checked:
    feature = claim.subjects[0]
    people = namesakes(feature.name)
    if not people:
        return Checked("cannot tell", say("It is not known here after whom {name} is named.", name=Name(feature.name)))
    said = say("{name} is named after {people}.", name=Name(feature.name),
               people=Listed(tuple(person_said(p) for p in people)))  # fmt: skip
    verdicts = [_fits(claim, p) for p in people]
    best: Verdict = next((v for v in ("true", "roughly", "cannot tell", "false") if v in verdicts), "cannot tell")
    return Checked(best, said)


def _fits(claim: Claim, person: Namesake) -> Verdict:
    verdicts: list[Verdict] = []
    for nation in [i.value for i in claim.items if "nation" in i.tags]:
        mine = {n.removesuffix("-born") for n in person.nations}
        if not mine:
            verdicts.append("cannot tell")
        elif nation in mine or any(nation in kin and kin & mine for kin in _CLOSE_KIN):
            verdicts.append("true")
        else:
            verdicts.append("roughly" if any(nation in kin and kin & mine for kin in _KIN) else "false")
    for trade in [i.value for i in claim.items if "occupation" in i.tags]:
        mine = set(person.occupations)
        if trade in mine or (trade == "scientist" and mine - _APART - {"ruler", "bishop", "patron"}):
            verdicts.append("true")
        elif not mine:
            verdicts.append("cannot tell")
        else:
            verdicts.append("false" if trade in _APART and not mine & _APART and "true" not in verdicts else "roughly")
    if claim.has("century"):
        number = next((i.rank for i in claim.items if i.rank), 0) or int(next(
            (a.value for a in claim.amounts if a.unit == "number"), 0))  # fmt: skip
        if number:
            verdicts.append("true" if person.lived_in(number) else "false")
    told = {i.text for i in claim.items if i.unread or i.feature}
    own = {w.casefold() for w in person.name.split()}
    if not verdicts:
        return "true" if told & own else "cannot tell"
    return worst(verdicts)


def landing(view: NotesView, claim: Claim) -> Checked:
    mission = claim.subjects[0].name
    site = next(s for s in SITES if s.mission == mission)
    said = say(
        "{mission} landed on {day} at or in {region}.", mission=Name(mission), day=site.day, region=Name(site.region)
    )
    verdicts: list[Verdict] = [
        _landed_in(site, claim.subjects[0], other, claim.has("near")) for other in claim.others[:1]
    ]
    if (year := claim.amount("years")) is not None:
        verdicts.append("true" if site.day.year == int(year.value) else "false")
    if not claim.others and claim.has("highlands"):
        verdicts.append("roughly" if _in_sea(claim.subjects[0]) else "true")
    return Checked(worst(verdicts) if verdicts else "cannot tell", said)


def _landed_in(site: Site, point: Feature, other: Feature, near_it: bool) -> Verdict:
    if other.name == site.region:
        return "true"
    tolerance = LANDED_KM if not near_it else Tolerance(150.0, 400.0)
    gap, _ = _gap_km(point, other)
    if other.kind == "mountain range":
        gap = max(gap - 60, 0.0)
    return tolerance.judge(gap)


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The verdict on all of them together."""
    found = set(verdicts)
    return next((v for v in ("false", "not understood", "cannot tell", "roughly") if v in found), "true")
