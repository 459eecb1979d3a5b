"""Claims about the Moon as a whole, and about sizes and places, which no light changes."""

from __future__ import annotations

import math

from moondesk.ephemeris.phases import phases_around
from moondesk.moon.geometry import unit_vector
from moondesk.notes.amounts import amount_of
from moondesk.notes.claim_verdicts import KM_A_DEGREE, Checked, Tolerance, over_light
from moondesk.notes.light_claims import percent_said
from moondesk.notes.messages import Message, Name, Number, Part, Term, say
from moondesk.notes.view import NotesView, wrap_180

#: Full: this share lit, roughly from that. Ages: days off. Sizes and distances: ratios, degrees.
FULL, AGE, SIZE, PLACE_DEG = Tolerance(0.01, 0.03), Tolerance(0.5, 1.0), Tolerance(0.05, 0.15), 0.5
#: Within this ratio of each other two sizes are equal, as far as the list can be trusted.
SAME_SIZE = 0.03


def moon_lit(view: NotesView, amount: str) -> Checked:
    """The lit part of the whole disc: the illuminated fraction as it is seen."""
    told = amount_of(amount)
    if told is None:
        return Checked("not understood", say("“{words}” is no amount.", words=Name(amount)))
    verdict = over_light(lambda turn: told.judge(_illuminated_fraction(view, turn), of_disc=True), view.sun.known)
    return Checked(verdict, _lit_message(view), percent_said(told.tolerance(of_disc=True)))


def full(view: NotesView) -> Checked:
    verdict = over_light(lambda turn: FULL.judge(1 - _illuminated_fraction(view, turn)), view.sun.known)
    return Checked(verdict, _lit_message(view), percent_said(FULL))


def _lit_message(view: NotesView) -> Message:
    return say("{percent} % of the Moon's disc is lit.", percent=Number(100 * _illuminated_fraction(view), 1))


def _illuminated_fraction(view: NotesView, turn: float = 0.0) -> float:
    """k = (1 + cos i) / 2, the phase angle i between the Sun and the observer as they stand over the Moon."""
    if view.annotation.terminator is not None and not turn:
        return view.annotation.terminator.illuminated_fraction
    pose = view.annotation.pose
    assert pose is not None
    observer = unit_vector(pose.libration_lat_deg, pose.libration_lon_deg)
    return float(1 + observer @ unit_vector(view.sun.lat_deg, view.sun.lon_deg + turn)) / 2


def claim_waxing(view: NotesView, way: str) -> Checked:
    pose = view.annotation.pose
    assert pose is not None
    ahead = wrap_180(view.sun.lon_deg - pose.libration_lon_deg)
    if abs(ahead) < 4.0 or abs(ahead) > 176.0:
        return Checked("cannot tell", say("It is too near full or new Moon to tell by the light.",
                                          sun=Number(ahead, 1)))  # fmt: skip
    grows = ahead > 0
    return Checked("true" if grows == (way == "waxing") else "false", say(
        "The Sun is rising on the side that is seen: the Moon is waxing.", sun=Number(ahead, 1)) if grows else say(
        "The Sun is setting on the side that is seen: the Moon is waning.", sun=Number(ahead, 1)))  # fmt: skip


def days_old(view: NotesView, days: str) -> Checked:
    if view.when is None:
        return Checked("cannot tell", say("It is not known when this picture was taken: the age is not known."))
    told, sigma = float(days.replace(",", ".")), (view.sun.known.sigma_hours or 0.0) / 24
    age = phases_around(view.when).age_days
    verdict = AGE.judge(age - told)
    if any(AGE.judge(age + k * sigma - told) != verdict for k in (-2, 2)):
        verdict = "roughly" if verdict != "false" else "cannot tell"
    return Checked(verdict, say("The Moon was {age} days old: {off} days off.", age=Number(age, 1),
                                off=Number(abs(age - told), 1)),
                   say("Up to {true} days off counts as true, up to {rough} as roughly true.",
                       true=Number(AGE.true, 1), rough=Number(AGE.rough, 1)))  # fmt: skip


def larger(view: NotesView, one: str, how: str, other: str) -> Checked:
    a, b = view.feature(one), view.feature(other)
    if not (a.size_km and b.size_km):
        return Checked("cannot tell", say("The IAU's list has no size of one of them."))
    wanted = 1 if how in ("larger", "bigger", "wider", "longer") else -1
    over = wanted * math.log(a.size_km / b.size_km)
    return Checked(Tolerance(SAME_SIZE, SAME_SIZE).above(over), say(
        "{one} is {km} km across, {other} {other_km} km.", one=Name(a.name), km=Number(a.size_km), other=Name(b.name),
        other_km=Number(b.size_km)), say("Within {percent} % of each other it counts as roughly true.",
                                         percent=Number(100 * SAME_SIZE)))  # fmt: skip


def beside(view: NotesView, one: str, way: str, other: str) -> Checked:
    a, b = view.feature(one), view.feature(other)
    if way in ("north", "south"):
        off = (a.lat_deg - b.lat_deg) * (1 if way == "north" else -1)
        km = abs(off) * KM_A_DEGREE
    else:
        off = wrap_180(a.lon_deg - b.lon_deg) * (1 if way == "east" else -1)
        km = abs(off) * KM_A_DEGREE * math.cos(math.radians((a.lat_deg + b.lat_deg) / 2))
    ways = {"north": "south", "south": "north", "east": "west", "west": "east"}
    real = way if off >= 0 else ways[way]
    parts: dict[str, Part] = {"one": Name(a.name), "degrees": Number(abs(off), 1), "km": Number(km), "side": Term(real),
                              "other": Name(b.name)}  # fmt: skip
    return Checked(Tolerance(PLACE_DEG, PLACE_DEG).above(off), say(
        "The middle of {one} lies {degrees} degrees or {km} km further {side} than that of {other}.", **parts),
        say("Within {degrees} degrees it counts as roughly true.", degrees=Number(PLACE_DEG, 1)))  # fmt: skip


def km_wide(view: NotesView, name: str, km: str) -> Checked:
    feature, told = view.feature(name), float(km.replace(",", "."))
    if not feature.size_km:
        return Checked("cannot tell", say("The IAU's list has no size of {name}.", name=Name(feature.name)))
    off = abs(told / feature.size_km - 1)
    return Checked(SIZE.judge(off), say("By the IAU's list {name} is {km} km across: {off} km off.",
                                        name=Name(feature.name), km=Number(feature.size_km),
                                        off=Number(abs(told - feature.size_km))), percent_said(SIZE))  # fmt: skip
