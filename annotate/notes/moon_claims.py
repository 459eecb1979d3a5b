"""Claims about the Moon as a whole: its phase, age, lit part, distance and libration, and how the picture lies."""

from __future__ import annotations

import math
from datetime import timedelta

from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.phases import phases_around, principal_phases
from moondesk.moon.geometry import unit_vector
from moondesk.notes.amounts import Share
from moondesk.notes.claim_reading import PHASE_TAGS, Claim
from moondesk.notes.claim_verdicts import Checked, Tolerance, Verdict, over_light
from moondesk.notes.claim_words import Amount
from moondesk.notes.feature_notes import span
from moondesk.notes.light_claims import HOURS_ALLOWED, TimeUnknownError, judge_span, percent_said
from moondesk.notes.messages import Message, Number, Term, say
from moondesk.notes.moon_notes import PHASES
from moondesk.notes.place_claims import east_or_west, north_or_south, worst
from moondesk.notes.view import NotesView, wrap_180

#: Full: this share lit, roughly from that. Ages: days off.
FULL, AGE = Tolerance(0.01, 0.03), Tolerance(0.5, 1.4)
#: At a phase, nearly or just past it: hours. Of a crescent and its like the lit part beyond the half.
AT_HOURS, NEARLY_HOURS, PAST_HOURS = Tolerance(15.0, 30.0), Tolerance(36.0, 60.0), Tolerance(50.0, 76.0)
THIN, HALF = Tolerance(0.22, 0.35), Tolerance(0.03, 0.12)
#: The mean distance of the Moon, km, and what is its nearest and farthest (common handbook figures).
MEAN_KM, NEAREST_KM, FARTHEST_KM = 384_400.0, 362_000.0, 404_000.0
#: A libration of less favours no limb, degrees.
LIBRATION = Tolerance(1.0, 1.0)
_PHASE_OF = {"phase_new": "new", "phase_first": "first quarter", "phase_full": "full", "phase_last": "last quarter"}
_QUARTERS = ("new", "first quarter", "full", "last quarter")


def disc(view: NotesView, claim: Claim) -> Checked:
    """The lit part of the whole disc: the illuminated fraction as it is seen."""
    told = claim.amount("share")
    assert told is not None
    if told.value > 1.06:
        return Checked("not understood", say("It is no share: more than all."))
    meant = Share(min(told.value, 1.0), told.sense)
    if claim.has("dark") and not claim.has("lit"):
        meant = meant.other()
    wide = Tolerance(0.04, 0.12) if told.step >= 0.05 else Tolerance(0.02, 0.06)

    def judge(turn: float) -> Verdict:
        lit = _illuminated_fraction(view, turn)
        return wide.judge(lit - meant.value) if meant.sense == "about" else meant.judge(lit, of_disc=True)

    verdicts = [over_light(judge, view.sun.known)]
    if claim.has("waxing", "waning"):
        verdicts.append(_waxing(view, claim.has("waxing")).verdict)
    return Checked(worst(verdicts), _lit_message(view), percent_said(wide))


def disc_side(view: NotesView, claim: Claim) -> Checked:
    """One half of the disc, lit or dark: the Moon's east is lit first, and its west last."""
    lit, waxing = _illuminated_fraction(view), _waxing(view, waxing=True).verdict
    first = min(1.0, 2 * lit)
    leading = claim.has("east", "right") == (waxing == "true")
    share = first if leading or waxing == "cannot tell" else max(0.0, 2 * lit - 1)
    share = 1 - share if claim.has("dark") and not claim.has("lit") else share
    verdict: Verdict = (
        "true" if share >= 0.88 else "roughly" if share >= (0.45 if claim.has("share") else 0.02) else "false"
    )
    return Checked(verdict, _lit_message(view))


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


def _waxing(view: NotesView, waxing: bool) -> Checked:
    pose = view.annotation.pose
    assert pose is not None
    ahead = wrap_180(view.sun.lon_deg - pose.libration_lon_deg)
    if abs(ahead) < 4.0 or abs(ahead) > 176.0:
        return Checked("cannot tell", say("It is too near full or new Moon to tell by the light.",
                                          sun=Number(ahead, 1)))  # fmt: skip
    grows = ahead > 0
    return Checked("true" if grows == waxing else "false", say(
        "The Sun is rising on the side that is seen: the Moon is waxing.", sun=Number(ahead, 1)) if grows else say(
        "The Sun is setting on the side that is seen: the Moon is waning.", sun=Number(ahead, 1)))  # fmt: skip


def phase(view: NotesView, claim: Claim) -> Checked:
    """Everything that is said of the phase must hold: waxing, gibbous, so long past a quarter, between two of them."""
    lit = _illuminated_fraction(view)
    found: list[Checked] = []
    if claim.has("waxing", "waning") and not (claim.has("waxing") and claim.has("waning")):
        found.append(_waxing(view, claim.has("waxing")))
    if claim.has("crescent"):
        found.append(Checked(_beyond(0.5 - lit), _lit_message(view)))
        if claim.has("thin"):
            found.append(Checked("true" if lit <= THIN.true else "roughly" if lit <= THIN.rough else "false",
                                 _lit_message(view)))  # fmt: skip
    if claim.has("gibbous"):
        found.append(Checked(_beyond(min(lit - 0.5, 1.0 - lit + 0.02)), _lit_message(view)))
    named = [t for t in PHASE_TAGS if claim.has(t) and t != "half_moon"]
    if claim.has("half_moon") and not named:
        found.append(Checked(HALF.judge(lit - 0.5), _lit_message(view)))
    if named:
        found.append(_at_phase(view, claim, named))
    all_of_it = worst(c.verdict for c in found)
    first = next((c for c in found if c.verdict == all_of_it), found[-1])
    return Checked(all_of_it, first.said, first.tolerance)


def _beyond(over: float) -> Verdict:
    return "true" if over > 0.02 else "roughly" if over > -0.03 else "false"


def _at_phase(view: NotesView, claim: Claim, named: list[str]) -> Checked:
    """Against the instants of the principal phases."""
    lit = _illuminated_fraction(view)
    plain = not claim.has("hours", "tomorrow", "yesterday", "between", "just_past", "nearly", "today")
    if view.when is None:
        if named == ["phase_full"] and plain:
            verdict = over_light(lambda turn: FULL.judge(1 - _illuminated_fraction(view, turn)), view.sun.known)
            return Checked(verdict, _lit_message(view), percent_said(FULL))
        raise TimeUnknownError
    around = phases_around(view.when)
    hours_last = (view.when - around.last.utc).total_seconds() / 3600
    hours_next = (around.next.utc - view.when).total_seconds() / 3600
    said = say("It is {ago} past {last}; {next} comes in {soon}.", ago=span(hours_last),
               last=Term(PHASES[around.last.kind]), next=Term(PHASES[around.next.kind]), soon=span(hours_next),
               percent=Number(100 * lit, 1))  # fmt: skip
    order = [next(t for t in PHASE_TAGS if t in i.tags) for i in claim.items if i.tags & set(_PHASE_OF)]
    if claim.has("between") and len(order) >= 2:
        a, b = (_QUARTERS.index(_PHASE_OF[t]) for t in order[:2])
        where = _QUARTERS.index(around.last.kind) + hours_last / (hours_last + hours_next)
        into, long = (where - a) % 4, (b - a) % 4
        verdict = "true" if into < long else "false"
        if min(hours_last, hours_next) < 12 and (verdict == "false" or into in (0.0, long)):
            verdict = "roughly"
        return Checked(verdict, said)
    if len(set(order)) > 1:
        return Checked("cannot tell", said)
    kind = _PHASE_OF[order[0]]
    times = [(p.utc - view.when).total_seconds() / 3600 for p in principal_phases(
        view.when - timedelta(days=31), view.when + timedelta(days=31)) if p.kind == kind]  # fmt: skip
    ago, ahead = (
        min((-t for t in times if t <= 0), default=math.inf),
        min((t for t in times if t > 0), default=math.inf),
    )
    return Checked(_judge_phase(view, claim, ago, ahead, kind), said, HOURS_ALLOWED)


def _judge_phase(view: NotesView, claim: Claim, ago: float, ahead: float, kind: str) -> Verdict:
    told = claim.amount("hours")
    assert view.when is not None
    near = min(ago, ahead)
    if told is not None:
        past = claim.has("ago") or _word_before(claim, "past_phase", "to_phase")
        future = claim.has("will", "away") or _word_before(claim, "to_phase", "past_phase")
        if past == future:
            before = _order_says(claim)
            if before is None:
                return "cannot tell"
            past = before
        return judge_span(told, ago if past else ahead)
    if claim.has("after_tomorrow"):
        return "true" if 28 <= ahead <= 64 else "roughly" if ahead <= 84 else "false"
    if claim.has("before_yesterday"):
        return "true" if 28 <= ago <= 64 else "roughly" if ago <= 84 else "false"
    if claim.has("tomorrow"):
        return "true" if 10 <= ahead <= 38 else "roughly" if ahead <= 60 else "false"
    if claim.has("yesterday"):
        return "true" if 8 <= ago <= 38 else "roughly" if ago <= 60 else "false"
    if claim.has("just_past"):
        return "true" if ago <= PAST_HOURS.true else "roughly" if ago <= PAST_HOURS.rough else "false"
    if claim.has("soon"):
        return "true" if ahead <= 80 else "roughly" if ahead < 140 else "false"
    if claim.has("nearly"):
        verdict: Verdict = (
            "true" if ahead <= NEARLY_HOURS.true else "roughly" if ahead <= NEARLY_HOURS.rough or ago < 20 else "false"
        )
        return verdict
    if claim.has("beyond_phase"):
        return "true" if ago < 170 else "roughly" if ago < 240 else "false"
    if claim.has("before_phase"):
        return "true" if ahead < 170 else "roughly" if ahead < 240 else "false"
    if claim.has("today"):
        return "true" if near <= 20 else "roughly" if near <= AT_HOURS.rough else "false"
    if claim.has("waxing", "waning", "crescent", "gibbous") and claim.has("to_phase") and near > AT_HOURS.rough:
        wanted = {"full": claim.has("waxing"), "new": claim.has("waning")}.get(kind)
        return "roughly" if wanted else "cannot tell"
    if kind == "full" and not claim.has("today"):
        lit = FULL.judge(1 - _illuminated_fraction(view))
        return lit if near < 60 else "false"
    return "true" if near <= AT_HOURS.true else "roughly" if near <= AT_HOURS.rough else "false"


def _word_before(claim: Claim, mine: str, other: str) -> bool:
    return any(mine in i.tags and other not in i.tags for i in claim.items)


def _order_says(claim: Claim) -> bool | None:
    """Past (True) or to come by a word that may be either: "two days before full", "за два дни след"."""
    if claim.has("phase_before"):
        return False
    return True if claim.has("phase_after") else None


def age(view: NotesView, claim: Claim) -> Checked:
    told = claim.amount("hours")
    assert told is not None
    if view.when is None:
        return Checked("cannot tell", say("It is not known when this picture was taken: the age is not known."))
    days, sigma = told.value / 24, (view.sun.known.sigma_hours or 0.0) / 24
    true = phases_around(view.when).age_days

    def judge(off: float) -> Verdict:
        if told.sense == "about":
            return AGE.judge(off)
        return AGE.above(off if told.sense == "more" else -off)

    verdict = judge(true - days)
    if any(judge(true + k * sigma - days) != verdict for k in (-2, 2)):
        verdict = "roughly" if verdict != "false" else "cannot tell"
    return Checked(verdict, say("The Moon was {age} days old: {off} days off.", age=Number(true, 1),
                                off=Number(abs(true - days), 1)),
                   say("Up to {true} days off counts as true, up to {rough} as roughly true.",
                       true=Number(AGE.true, 1), rough=Number(AGE.rough, 1)))  # fmt: skip


def distance(view: NotesView, claim: Claim) -> Checked:
    """From the Earth's centre; from a place on it up to 6,400 km less."""
    if view.when is None:
        raise TimeUnknownError
    km = aspect_at(view.when, None).distance_km
    said = say("The Moon is {km} km from the Earth.", km=Number(km))
    told: Amount | None = claim.amount("km")
    if told is None:
        over = {"closer": MEAN_KM - km, "farther": km - MEAN_KM, "perigee": NEAREST_KM - km, "apogee": km - FARTHEST_KM}
        off = next(value for tag, value in over.items() if claim.has(tag))
        return Checked("true" if off > 2000 else "roughly" if off > -10000 else "false", said)
    ratio = told.value / km - 1
    if told.sense != "about":
        return Checked(Tolerance(0.01, 0.01).above(-ratio if told.sense == "more" else ratio), said)
    return Checked(Tolerance(0.025, 0.06).judge(ratio), said, percent_said(Tolerance(0.025, 0.06)))


def libration(view: NotesView, claim: Claim) -> Checked:
    """Which limb is turned towards us."""
    pose = view.annotation.pose
    assert pose is not None
    lat, lon = pose.libration_lat_deg, pose.libration_lon_deg
    said = say("The libration is {lat} degrees {north} and {lon} degrees {east}: that limb is turned towards us.",
               lat=Number(abs(lat), 1), north=north_or_south(lat), lon=Number(abs(lon), 1),
               east=east_or_west(lon))  # fmt: skip
    sides = {"north": lat, "south": -lat, "east": lon, "west": -lon}
    ways = {*claim.direction.split("_"), "west" if claim.has("left") else "", "east" if claim.has("right") else ""}
    verdicts = [LIBRATION.above(value) for side, value in sides.items() if side in ways]
    return Checked(worst(verdicts) if verdicts else "cannot tell", said)


def orientation(view: NotesView, claim: Claim) -> Checked:
    """Whether the picture is mirrored or stands on its head, as it is shown: turned north up, never mirrored."""
    if claim.has("right_way"):
        return Checked("true", say("The picture is shown with north up and is not mirrored."))
    pose = view.annotation.pose
    assert pose is not None
    came_so = pose.mirrored if claim.has("mirror") else math.cos(math.radians(pose.north_screen_deg)) < 0.5
    if came_so:
        return Checked("cannot tell", say("As it came it was; as it is shown north is up and nothing is mirrored."))
    return Checked("false", say("The picture is shown with north up and is not mirrored."))


def upward(view: NotesView, claim: Claim) -> Checked:
    """Which side of the Moon is up, down, left or right in the picture as it is shown."""
    said = say("The picture is shown with north up and is not mirrored.")
    ends = {"north": "top", "south": "bottom", "east": "right", "west": "left"}
    way = claim.direction
    sides = [e for e in ("top", "bottom", "left", "right") if claim.has(e, f"{e}_edge")]
    if way not in ends or len(sides) != 1:
        return Checked("cannot tell", said)
    return Checked("true" if ends[way] == sides[0] else "false", said)


#: What holds of the Moon at all times, by the class of words that says it.
_TRUTHS = {
    "truth_same_face": True, "truth_own_light": False, "truth_reflects": True, "truth_no_air": True, "truth_air": False,
    "truth_water": False}  # fmt: skip


def truth(view: NotesView, claim: Claim) -> Checked:
    found = {held for tag, held in _TRUTHS.items() if claim.has(tag)}
    if claim.has("truth_own_light", "truth_reflects"):
        said = say("The Moon has no light of its own: it reflects sunlight.")
    elif claim.has("truth_same_face"):
        said = say("The Moon turns once in the time it takes to go round the Earth: it always shows the same face.")
    else:
        said = say("The Moon has no air and no liquid water; its seas are plains of old lava.")
    if len(found) != 1 or (claim.has("truth_own_light") and claim.has("not") and claim.has("truth_reflects")):
        return Checked("cannot tell", said)
    return Checked("true" if found == {True} else "false", said)
