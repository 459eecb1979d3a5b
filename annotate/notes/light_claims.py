"""Claims about the light on a feature, about where its edge runs, and about when the Sun rises and sets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import numpy as np

from moondesk.comparison.changed_light import SUN_HALF_DEG
from moondesk.moon.geometry import unit_vector
from moondesk.notes.amounts import Share
from moondesk.notes.claim_reading import Claim
from moondesk.notes.claim_verdicts import KM_A_DEGREE, Checked, Tolerance, Verdict, over_light, spoken_tolerance
from moondesk.notes.claim_words import Amount
from moondesk.notes.feature_notes import SHADED_DEG, WHOLE, span
from moondesk.notes.messages import Message, Name, Number, Part, Term, say
from moondesk.notes.picture_notes import sun_of
from moondesk.notes.sunlit_ground import LEAST_SHOWN, ground_of, has_ground
from moondesk.notes.sunrise_times import Crossings, crossings_of
from moondesk.notes.view import NotesView, wrap_180
from moondesk.records import MOON_RADIUS_KM, Feature

#: The edge of the light: on a meridian within the first counts as true, within the second as roughly so, degrees. Relief
#: moves it by one to three degrees where the Sun is low (common practice).
EDGE, NEAR_EDGE, SUN_HIGH = Tolerance(2.0, 6.0), Tolerance(8.0, 18.0), Tolerance(2.0, 4.0)
#: "Through" a feature: no further from the edge than its radius and this, degrees; roughly so up to that.
THROUGH_DEG, NEARLY_THROUGH_DEG = 1.0, 3.0
#: "Dark": up to this share lit, and roughly so up to that; "lit" the other way round.
DARK = Tolerance(0.03, 0.20)
#: Less than this under the horizon a crater's rim stands in the Sun while its ground is dark, degrees.
RIM_DEG = 2.0
HIGHEST_DEG = 90.0
#: "Overhead", "low", "high": the Sun's heights, and how far beyond them it is roughly so.
OVERHEAD_DEG, LOW_DEG, HIGH_DEG, HEIGHT_STEP_DEG = 75.0, 12.0, 40.0, 8.0
DAY_HOURS = 24.0
HOURS_ALLOWED = say("Of hours a tenth is allowed, of days half a one.")


def _no_edge() -> Checked:
    return Checked("cannot tell", say("No edge of the light crosses this side of the Moon away from its limb."))


def edge_zero(view: NotesView, claim: Claim) -> Checked:
    wide = claim.has("near", "nearly")
    return _edge_at(view, 0.0, Tolerance(6.0, 10.0) if wide else EDGE)


def edge_at(view: NotesView, claim: Claim) -> Checked:
    told = claim.amount("degrees")
    assert told is not None
    if claim.has("west", "left") == claim.has("east", "right") and told.value > 0:
        west = claim.has("west") or (claim.has("left") and not claim.has("east"))
        if not claim.has("west", "east", "left", "right"):
            return Checked("cannot tell", say("It is not said whether that is east or west."))
    else:
        west = claim.has("west", "left")
    return _edge_at(view, -told.value if west else told.value, spoken_tolerance(told, EDGE, 0.3))


def _edge_at(view: NotesView, lon: float, tolerance: Tolerance) -> Checked:
    """Where the edge of the light crosses the equator, against a longitude."""
    edge = view.edge_lon_deg
    if edge is None:
        return _no_edge()
    off = abs(wrap_180(edge - lon))
    verdict = over_light(lambda turn: tolerance.judge(wrap_180(edge + turn - lon)), view.sun.known)
    side = Term("east") if edge >= 0 else Term("west")
    said = say("On the equator the edge of the light is {at} degrees {side} of the zero meridian: {off} degrees or "
               "{km} km off.", at=Number(abs(edge), 1), side=side, off=Number(off, 1),
               km=Number(off * KM_A_DEGREE))  # fmt: skip
    return Checked(verdict, said, _degrees(tolerance))


def edge_side(view: NotesView, claim: Claim) -> Checked:
    edge = view.edge_lon_deg
    if edge is None:
        return _no_edge()
    over = edge if claim.has("east", "right") else -edge
    return Checked(Tolerance(EDGE.true, EDGE.true).above(over), _edge_said(edge))


def edge_between(view: NotesView, claim: Claim) -> Checked:
    """Of two features, one in the light and one in the dark, both clearly."""
    heights = [view.height(f) for f in claim.others[:2]]
    said = say("{one} {two}", one=_height_said(view, claim.others[0]), two=_height_said(view, claim.others[1]))
    if min(abs(h) for h in heights) < SUN_HALF_DEG:
        return Checked("roughly", said)
    return Checked("true" if heights[0] * heights[1] < 0 else "false", said)


def edge_beside(view: NotesView, claim: Claim) -> Checked:
    """The edge on one side of a feature, along its parallel."""
    feature, way = claim.others[0], claim.direction
    edge = view.edge_lon_deg
    if edge is None:
        return _no_edge()
    if way not in ("east", "west"):
        return Checked("cannot tell", say("The edge of the light runs from north to south: it lies east or west."))
    off = wrap_180(edge - feature.lon_deg) * (1 if way == "east" else -1)
    return Checked(Tolerance(EDGE.rough, EDGE.rough).above(off), _edge_said(edge))


def _edge_said(edge: float) -> Message:
    side = Term("east") if edge >= 0 else Term("west")
    return say("On the equator the edge of the light is {at} degrees {side} of the zero meridian.",
               at=Number(abs(edge), 1), side=side)  # fmt: skip


def edge_on(view: NotesView, claim: Claim) -> Checked:
    """How far a feature is from the edge of the light; one that the edge crosses lies on it."""
    feature = claim.subjects[0]
    if hidden := not_framed(view, feature):
        return hidden
    radius = np.degrees(feature.size_km / 2 / MOON_RADIUS_KM)
    if claim.has("far_from"):
        height = abs(view.height(feature))
        verdict: Verdict = (
            "true" if height > NEAR_EDGE.rough else "roughly" if height > NEAR_EDGE.rough / 2 else "false"
        )
        return Checked(verdict, _height_said(view, feature))
    near = claim.has("near", "nearly") or not claim.has("through", "inside")
    tolerance = NEAR_EDGE if near else Tolerance(THROUGH_DEG, NEARLY_THROUGH_DEG)

    def judge(turn: float) -> Verdict:
        lit, height = view.lit(feature, turn), abs(view.height(feature, turn))
        if has_ground(feature) and 1 - WHOLE < lit < WHOLE:
            return "true"
        return tolerance.judge(height if near and height <= tolerance.true else max(height - radius, 0.0))

    off, lit = abs(view.height(feature)), view.lit(feature)
    parts: dict[str, Part] = {"name": Name(feature.name), "off": Number(off, 1), "km": Number(off * KM_A_DEGREE),
                              "percent": Number(100 * lit)}  # fmt: skip
    if has_ground(feature) and 1 - WHOLE < lit < WHOLE:
        said = say("The edge of the light crosses {name}: {percent} % of it is lit; its middle is {off} degrees or "
                   "{km} km from the edge.", **parts)  # fmt: skip
    elif view.height(feature) > 0:
        said = say("The middle of {name} is in the light, {off} degrees or {km} km from its edge.", **parts)
    else:
        said = say("The middle of {name} is in the dark, {off} degrees or {km} km from the edge of the light.", **parts)
    checked = Checked(over_light(judge, view.sun.known), said, _degrees(tolerance))
    if checked.verdict != "false" and claim.has("lit", "dark") and claim.has("lit") != claim.has("dark"):
        state = is_dark(view, feature) if claim.has("dark") else is_lit(view, feature)
        return state if state.verdict != "true" else checked
    return checked


def share(view: NotesView, claim: Claim) -> Checked:
    """How much of a feature is lit or dark; of one side of it, where a side is named."""
    feature, told = claim.subjects[0], claim.amount("share")
    sides = [d for d in ("north", "south", "east", "west") if d in claim.tags]
    view = _at_time(view, claim)
    meant = Share(0.5, "some") if told is None else Share(told.value, told.sense)
    if meant.value > 1:
        return Checked("not understood", say("“{words}” is no amount.", words=Name(claim.text)))
    if not has_ground(feature):
        return Checked("cannot tell", say("{name} is a {kind}: only its length is known, not its ground.",
                                          name=Name(feature.name), kind=Term(feature.kind)))  # fmt: skip
    if hidden := not_framed(view, feature):
        return hidden
    if claim.has("dark") and not claim.has("lit"):
        meant = meant.other()
    if sides:  # "the western half is dark": all of that half
        whole = 1.0 if claim.has("lit") and not claim.has("dark") else 0.0
        tolerance = Tolerance(0.12, 0.3)
        lit = _side_lit(view, feature, sides[0])
        return Checked(tolerance.judge(lit - whole), say("The Sun is up over {percent} % of that part of {name}.",
                                                         percent=Number(100 * lit), name=Name(feature.name)),
                       percent_said(tolerance))  # fmt: skip

    def judge(turn: float) -> Verdict:
        verdict = meant.judge(view.lit(feature, turn))
        return "roughly" if verdict == "true" and meant.value == 1.0 and _may_be_shaded(view, feature) else verdict

    return Checked(over_light(judge, view.sun.known), _lit_message(view, feature), percent_said(meant.tolerance()))


def _side_lit(view: NotesView, feature: Feature, side: str) -> float:
    points, weights = ground_of(feature)
    axis, sign = (2, 1 if side == "north" else -1) if side in ("north", "south") else (1, 1 if side == "east" else -1)
    along = points[:, 2] if axis == 2 else np.arctan2(points[:, 1], points[:, 0])
    middle = float(np.average(along, weights=weights))
    mine = sign * (along - middle) > 0
    lit = points @ unit_vector(view.sun.lat_deg, view.sun.lon_deg) > -np.sin(np.radians(SUN_HALF_DEG))
    return float(weights[mine & lit].sum() / weights[mine].sum())


def state(view: NotesView, claim: Claim) -> Checked:
    """Lit or dark: now, or by tomorrow or yesterday of the same hour."""
    dark = claim.has("dark") and not (claim.has("lit") and not _only_dark(claim))
    feature = claim.subjects[0]
    view = _at_time(view, claim)
    if claim.has("just", "will") and claim.has("to_light", "to_dark"):
        dark = claim.has("to_dark")
    return is_dark(view, feature) if dark else is_lit(view, feature)


def _only_dark(claim: Claim) -> bool:
    return any("dark" in i.tags and "lit" not in i.tags for i in claim.items) and not any(
        "lit" in i.tags and "dark" not in i.tags for i in claim.items)  # fmt: skip


def _at_time(view: NotesView, claim: Claim) -> NotesView:
    if claim.has("after_tomorrow", "before_yesterday"):
        return shifted(view, 2 * DAY_HOURS if claim.has("after_tomorrow") else -2 * DAY_HOURS)
    if claim.has("tomorrow"):
        return shifted(view, DAY_HOURS)
    return shifted(view, -DAY_HOURS) if claim.has("yesterday") and not claim.has("new", "since") else view


class TimeUnknownError(LookupError):
    """A claim needs the time of a picture whose time is not known."""


def shifted(view: NotesView, hours: float) -> NotesView:
    """The same picture so many hours later. Raises TimeUnknownError."""
    if view.when is None:
        raise TimeUnknownError
    when = view.when + timedelta(hours=hours)
    return replace(view, when=when, sun=sun_of(view.annotation, when))


def is_dark(view: NotesView, feature: Feature) -> Checked:
    """Dark: none of its ground lit, and its middle far enough below for the rim to be dark too, or near enough."""

    def judge(turn: float) -> Verdict:
        lit = view.lit(feature, turn)
        if not has_ground(feature):
            return Tolerance(RIM_DEG, RIM_DEG).above(-view.height(feature, turn))
        verdict = DARK.judge(lit)
        return "roughly" if verdict == "true" and view.height(feature, turn) > -RIM_DEG else verdict

    return _lit_or_dark(view, feature, judge)


def is_lit(view: NotesView, feature: Feature) -> Checked:
    def judge(turn: float) -> Verdict:
        if not has_ground(feature):
            return Tolerance(SUN_HALF_DEG, SUN_HALF_DEG + RIM_DEG).above(view.height(feature, turn))
        lit = view.lit(feature, turn)
        if lit >= 0.5 and view.height(feature, turn) > 0:
            return "true"
        return "roughly" if lit > DARK.true else "false"

    return _lit_or_dark(view, feature, judge)


def _lit_or_dark(view: NotesView, feature: Feature, judge: Callable[[float], Verdict]) -> Checked:
    if hidden := not_framed(view, feature):
        return hidden
    verdict = over_light(judge, view.sun.known)
    if has_ground(feature):
        return Checked(verdict, _lit_message(view, feature), percent_said(DARK))
    return Checked(verdict, _height_said(view, feature), _degrees(Tolerance(SUN_HALF_DEG, RIM_DEG)))


def sun_high(view: NotesView, claim: Claim) -> Checked:
    feature, told = claim.subjects[0], claim.amount("degrees")
    assert told is not None
    if told.value > HIGHEST_DEG:
        return Checked("false", say("The Sun stands nowhere higher than {degrees} degrees.",
                                    degrees=Number(HIGHEST_DEG)))  # fmt: skip
    if hidden := not_framed(view, feature):
        return hidden
    height = -told.value if claim.has("not_up") else told.value
    tolerance = spoken_tolerance(told, SUN_HIGH, 0.3)

    def judge(turn: float) -> Verdict:
        off = view.height(feature, turn) - height
        if told.sense != "about":
            return SUN_HIGH.above(off if told.sense == "more" else -off)
        return tolerance.judge(off)

    return Checked(over_light(judge, view.sun.known), _height_said(view, feature), _degrees(tolerance))


def sun_place(view: NotesView, claim: Claim) -> Checked:
    """The Sun overhead, high, low or down over a feature."""
    feature = claim.subjects[0]
    height = view.height(feature)
    if claim.has("not_up"):
        over = -height
    elif claim.has("overhead"):
        over = height - OVERHEAD_DEG
    elif claim.has("low"):
        over = min(LOW_DEG - height, height + SUN_HALF_DEG)
    else:
        over = height - HIGH_DEG
    verdict: Verdict = "true" if over >= 0 else "roughly" if over > -HEIGHT_STEP_DEG and height > -1 else "false"
    return Checked(verdict, _height_said(view, feature))


# --- rising and setting --------------------------------------------------------------------------------------------


def _crossings(view: NotesView, feature: Feature) -> Crossings:
    if view.when is None:
        raise TimeUnknownError
    return crossings_of(feature.lat_deg, feature.lon_deg, view.when)[0]


def when(view: NotesView, claim: Claim) -> Checked:
    """When the Sun rose, set, will rise or will set: hours from the picture against what is said."""
    feature = claim.subjects[0]
    found = _crossings(view, feature)
    rising = claim.has("rise") and not (claim.has("set") and not _named_rise(claim))
    last, coming = (found.last_rise, found.next_rise) if rising else (found.last_set, found.next_set)
    told = claim.amount("hours")
    said = _when_said(feature, rising, last, coming)
    return Checked(_judge_when(view, claim, told, -last, coming), said, HOURS_ALLOWED)


def _named_rise(claim: Claim) -> bool:
    return any("rise" in i.tags and "set" not in i.tags for i in claim.items)


def _judge_when(view: NotesView, claim: Claim, told: Amount | None, ago: float, coming: float) -> Verdict:
    past = (claim.has("ago") and told is not None) or (claim.has("past") and not claim.has("will", "tomorrow"))
    ahead = claim.has("will", "away", "tomorrow") or (told is not None and claim.has("within"))
    if told is not None:
        if not past and not ahead:
            return "cannot tell"
        return _judge_span(told, ago if past else coming)
    assert view.when is not None
    hour = view.when.hour + view.when.minute / 60
    if claim.has("after_tomorrow", "before_yesterday"):
        later = claim.has("after_tomorrow")
        return _judge_day(coming if later else ago, (2 * DAY_HOURS - hour) if later else hour + DAY_HOURS)
    if claim.has("tomorrow"):
        return _judge_day(coming, DAY_HOURS - hour)
    if claim.has("yesterday"):
        return _judge_day(ago, hour)
    if claim.has("soon", "just"):
        near = min(ago, coming) if not past and not claim.has("will") else ago if past else coming
        return "true" if near < 18 else "roughly" if near < 48 else "false"
    if claim.has("today"):
        near = min(ago, coming) if not past and not claim.has("will") else ago if past else coming
        return "true" if near < 20 else "roughly" if near < 30 else "false"
    if past and not claim.has("will"):  # "has risen": it is up; not so, but it soon will be
        up = view.height(claim.subjects[0]) > 0
        if claim.has("rise"):
            return "true" if up else "false" if coming < 7 * DAY_HOURS else "roughly"
        return "false" if up else "true"
    if claim.has("will"):
        return "cannot tell"
    near = min(ago, coming)
    return "true" if near < 15 else "roughly" if near < 40 else "false"


def _judge_day(hours: float, until: float) -> Verdict:
    """Whether an instant so many hours off lies on the day that begins so many hours off, by any zone's midnight."""
    if hours != hours or hours < 0:
        return "false"
    if until - 3 <= hours <= until + DAY_HOURS + 3 or (until <= DAY_HOURS and 10 <= hours <= 36):
        return "true"
    return "roughly" if until - 24 <= hours <= until + 2 * DAY_HOURS else "false"


def _judge_span(told: Amount, hours: float) -> Verdict:
    if hours != hours:
        return "false"
    if told.sense != "about":
        over = hours - told.value if told.sense == "more" else told.value - hours
        return Tolerance(0.5 + 0.03 * told.value, 0).above(over)
    if told.vague:
        ratio = hours / told.value
        return "true" if 0.5 <= ratio <= 2 else "roughly" if 0.25 <= ratio <= 3.5 else "false"
    close = max(1.0, 0.12 * told.value, min(0.55 * told.step, 14.0))
    return Tolerance(close, max(3.0, 0.3 * told.value, 1.8 * close)).judge(hours - told.value)


def judge_span(told: Amount, hours: float) -> Verdict:
    """A stretch of time as it is told against the true one, hours."""
    return _judge_span(told, hours)


def _when_said(feature: Feature, rising: bool, last: float, coming: float) -> Message:
    parts: dict[str, Part] = {"name": Name(feature.name), "hours": Number(coming, 2)}
    before, after = (span(h) if h == h else None for h in (-last, coming))
    if before is None or after is None:
        return say("At {name} the Sun neither rises nor sets within a month.", **parts)
    if rising and -last < coming:
        return say("Over level ground the Sun rose at the middle of {name} {span} ago.", span=before, **parts)
    if rising:
        return say("Over level ground the Sun will rise at the middle of {name} in {span}.", span=after, **parts)
    if -last < coming:
        return say("Over level ground the Sun set at the middle of {name} {span} ago.", span=before, **parts)
    return say("Over level ground the Sun will set at the middle of {name} in {span}.", span=after, **parts)


def enters(view: NotesView, claim: Claim) -> Checked:
    """Comes into the light: dark before and lit after."""
    return _changes(view, claim, to_light=True)


def leaves(view: NotesView, claim: Claim) -> Checked:
    return _changes(view, claim, to_light=False)


def newly(view: NotesView, claim: Claim) -> Checked:
    """New in the light since the evening before."""
    return _changes(view, claim, to_light=not claim.has("to_dark") and not (claim.has("dark") and not claim.has(
        "yesterday", "lit", "to_light")))  # fmt: skip


def _changes(view: NotesView, claim: Claim, to_light: bool) -> Checked:
    """By the light of the evening before or after; what an instant on the day that is named can save is no falsehood."""
    found = _compare_evenings(view, claim, to_light)
    if (
        found.verdict not in ("false", "roughly")
        or view.when is None
        or not claim.has("yesterday", "new", "since", "tomorrow")
    ):
        return found
    crossings = _crossings(view, claim.subjects[0])
    last, coming = (crossings.last_rise, crossings.next_rise) if to_light else (crossings.last_set, crossings.next_set)
    hour = view.when.hour + view.when.minute / 60
    ahead = claim.has("tomorrow")
    day = _judge_day(coming, DAY_HOURS - hour) if ahead else _judge_day(-last, hour)
    if claim.has("new", "since") and day == "true":
        day = "roughly"
    return replace(found, verdict=day) if day == "true" or found.verdict == "false" else found


def _compare_evenings(view: NotesView, claim: Claim, to_light: bool) -> Checked:
    feature = claim.subjects[0]
    if hidden := not_framed(view, feature):
        return hidden
    if claim.has("tomorrow") or (claim.has("will") and not claim.has("new", "since", "yesterday")):
        later = shifted(view, DAY_HOURS if claim.has("tomorrow", "soon") else 2 * DAY_HOURS)
        return _between(view, later, feature, to_light, _when_of(view, feature, to_light))
    if claim.has("new", "since", "yesterday") or (claim.has("just", "today") and claim.has("past")):
        return _between(shifted(view, -DAY_HOURS), view, feature, to_light, _when_of(view, feature, to_light))
    found = _crossings(view, feature)
    ago, coming = (-found.last_rise, found.next_rise) if to_light else (-found.last_set, found.next_set)
    radius_hours = feature.size_km / 2 / MOON_RADIUS_KM * 57.3 * 2
    said = _when_of(view, feature, to_light)
    if claim.has("just") or not claim.has("still", "lit", "dark"):
        near = min(ago, coming)
        if claim.has("just"):
            return Checked(
                "true" if near < 20 + radius_hours else "roughly" if near < 44 + radius_hours else "false", said
            )
    state = is_lit(view, feature) if to_light else is_dark(view, feature)
    return Checked(state.verdict, said, state.tolerance)


def _between(before: NotesView, after: NotesView, feature: Feature, to_light: bool, said: Message) -> Checked:
    """Whether a feature goes over into the light, or the dark, between two instants."""
    was, will = before.lit(feature), after.lit(feature)
    heights = before.height(feature), after.height(feature)
    if not to_light:
        was, will, heights = 1 - was, 1 - will, (-heights[0], -heights[1])
    if was <= 0.15 and will >= 0.5:
        return Checked("true", said)
    crossed = heights[0] < 0 < heights[1]
    grown = will - was > 0.1
    near = (heights[0] < 0 and heights[1] > -4) or (heights[1] > 0 and heights[0] < 4)
    return Checked("roughly" if crossed or grown or near else "false", said)


def _when_of(view: NotesView, feature: Feature, rising: bool) -> Message:
    found = _crossings(view, feature)
    last, coming = (found.last_rise, found.next_rise) if rising else (found.last_set, found.next_set)
    return _when_said(feature, rising, last, coming)


def _may_be_shaded(view: NotesView, feature: Feature) -> bool:
    """Whether a crater's rim may still keep the Sun from its floor."""
    return feature.kind == "crater" and view.height(feature) < SHADED_DEG


def _lit_message(view: NotesView, feature: Feature) -> Message:
    height = view.height(feature)
    parts: dict[str, Part] = {"name": Name(feature.name), "percent": Number(100 * view.lit(feature)),
                              "degrees": Number(abs(height), 1)}  # fmt: skip
    if height < 0:
        return say("The Sun is up over {percent} % of {name}; at its middle it is {degrees} degrees below the horizon.",
                   **parts)  # fmt: skip
    if _may_be_shaded(view, feature):
        return say("The Sun is up over {percent} % of {name}; at its middle it stands {degrees} degrees high, and the "
                   "rim may shade the floor.", **parts)  # fmt: skip
    return say("The Sun is up over {percent} % of {name}; at its middle it stands {degrees} degrees high.", **parts)


def _height_said(view: NotesView, feature: Feature) -> Message:
    height = view.height(feature)
    parts: dict[str, Part] = {"name": Name(feature.name), "degrees": Number(abs(height), 1)}
    if height < 0:
        return say("At the middle of {name} the Sun is {degrees} degrees below the horizon.", **parts)
    return say("At the middle of {name} the Sun stands {degrees} degrees high.", **parts)


def not_framed(view: NotesView, feature: Feature) -> Checked | None:
    share = view.framed(feature)
    if share >= LEAST_SHOWN:
        return None
    return Checked("cannot tell", say("{name} is not in this picture: it lies outside the frame or beyond the limb.",
                                      name=Name(feature.name), percent=Number(100 * share)))  # fmt: skip


def _degrees(tolerance: Tolerance) -> Message:
    return say("Up to {true} degrees off counts as true, up to {rough} as roughly true.", true=Number(tolerance.true),
               rough=Number(tolerance.rough))  # fmt: skip


def percent_said(tolerance: Tolerance) -> Message:
    if tolerance.true == tolerance.rough:
        return say("Within {true} % of the mark it counts as roughly true.", true=Number(100 * tolerance.true))
    return say("Up to {true} % off counts as true, up to {rough} % as roughly true.", true=Number(100 * tolerance.true),
               rough=Number(100 * tolerance.rough))  # fmt: skip
