"""Claims about the light on a feature, and about where its edge runs."""

from __future__ import annotations

from collections.abc import Callable

from moondesk.drawing.style import AREA_KINDS
from moondesk.notes.amounts import Amount, amount_of
from moondesk.notes.claim_verdicts import KM_A_DEGREE, Checked, Tolerance, Verdict, over_light
from moondesk.notes.feature_notes import SHADED_DEG, WHOLE
from moondesk.notes.messages import Message, Name, Number, Part, Term, say
from moondesk.notes.sunlit_ground import LEAST_SHOWN, RELIEF_DIP_DEG, has_ground
from moondesk.notes.view import NotesView, wrap_180
from moondesk.records import Feature

#: The edge of the light: on a meridian or a feature within the first counts as true, within the second as roughly so,
#: degrees. Relief moves it by one to three degrees where the Sun is low (common practice).
EDGE, NEAR_EDGE, SUN_HIGH = Tolerance(2.0, 6.0), Tolerance(8.0, 12.0), Tolerance(2.0, 4.0)
#: "Dark": up to this share lit, and roughly so up to that; "lit" the other way round.
DARK = Tolerance(0.03, 0.20)
#: A height of the Sun in claims is no more than this.
HIGHEST_DEG = 90.0


def edge_at_zero(view: NotesView) -> Checked:
    return _edge_at(view, 0.0)


def edge_at(view: NotesView, degrees: str, side: str) -> Checked:
    value = float(degrees.replace(",", "."))
    return _edge_at(view, value if side.startswith("e") else -value)


def _edge_at(view: NotesView, lon: float) -> Checked:
    """Where the edge of the light crosses the equator, against a longitude."""
    edge = view.edge_lon_deg
    if edge is None:
        return Checked("cannot tell", say("No edge of the light crosses this side of the Moon away from its limb."))
    off = abs(wrap_180(edge - lon))
    verdict = over_light(lambda turn: EDGE.judge(wrap_180(edge + turn - lon)), view.sun.known)
    side = Term("east") if edge >= 0 else Term("west")
    said = say("On the equator the edge of the light is {at} degrees {side} of the zero meridian: {off} degrees or "
               "{km} km off.", at=Number(abs(edge), 1), side=side, off=Number(off, 1),
               km=Number(off * KM_A_DEGREE))  # fmt: skip
    return Checked(verdict, said, _degrees(EDGE))


def on_edge(view: NotesView, name: str) -> Checked:
    return _by_edge(view, name, EDGE)


def near_edge(view: NotesView, name: str) -> Checked:
    return _by_edge(view, name, NEAR_EDGE)


def _by_edge(view: NotesView, name: str, tolerance: Tolerance) -> Checked:
    """How far a feature's middle is from the edge of the light; one that the edge crosses lies on it."""
    feature = view.feature(name)
    if hidden := _not_framed(view, feature):
        return hidden

    def judge(turn: float) -> Verdict:
        crossed = has_ground(feature) and 1 - WHOLE < view.lit(feature, turn) < WHOLE
        return "true" if crossed else tolerance.judge(view.height(feature, turn))

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
    return Checked(over_light(judge, view.sun.known), said, _degrees(tolerance))


def share_lit(view: NotesView, amount: str, name: str) -> Checked:
    return _share(view, name, amount, lambda a: a)


def share_dark(view: NotesView, amount: str, name: str) -> Checked:
    return _share(view, name, amount, Amount.other)


def _share(view: NotesView, name: str, amount: str, of_lit: Callable[[Amount], Amount]) -> Checked:
    feature, told = view.feature(name), amount_of(amount)
    if told is None:
        return Checked("not understood", say("“{words}” is no amount.", words=Name(amount)))
    if not has_ground(feature):
        return Checked("cannot tell", say("{name} is a {kind}: only its length is known, not its ground.",
                                          name=Name(feature.name), kind=Term(feature.kind)))  # fmt: skip
    if hidden := _not_framed(view, feature):
        return hidden
    meant = of_lit(told)

    def judge(turn: float) -> Verdict:
        verdict = meant.judge(view.lit(feature, turn))
        return "roughly" if verdict == "true" and meant.value == 1.0 and _may_be_shaded(view, feature) else verdict

    return Checked(over_light(judge, view.sun.known), _lit_message(view, feature), percent_said(meant.tolerance()))


def _may_be_shaded(view: NotesView, feature: Feature) -> bool:
    """Whether a crater's rim may still keep the Sun from its floor."""
    return feature.kind == "crater" and view.height(feature) < SHADED_DEG


def dark(view: NotesView, name: str) -> Checked:
    """Whether it is dark, its rim and peaks too: where these may have light, it is dark but roughly."""

    def judge(feature: Feature, turn: float) -> Verdict:
        verdict = DARK.judge(view.lit(feature, turn))
        level = feature.kind in AREA_KINDS or view.lit(feature, turn, RELIEF_DIP_DEG) <= DARK.true
        return verdict if level or verdict != "true" else "roughly"

    return _check_lit_or_dark(view, name, judge)


def check_lit(view: NotesView, name: str) -> Checked:
    return _check_lit_or_dark(view, name, lambda feature, turn: DARK.judge(1 - view.lit(feature, turn)))


def _check_lit_or_dark(view: NotesView, name: str, judge: Callable[[Feature, float], Verdict]) -> Checked:
    feature = view.feature(name)
    if hidden := _not_framed(view, feature):
        return hidden
    verdict = over_light(lambda turn: judge(feature, turn), view.sun.known)
    if has_ground(feature):
        return Checked(verdict, _lit_message(view, feature), percent_said(DARK))
    return Checked(verdict, _height_said(view, feature))


def sun_high(view: NotesView, degrees: str, name: str) -> Checked:
    feature, told = view.feature(name), float(degrees.replace(",", "."))
    if told > HIGHEST_DEG:
        return Checked("false", say("The Sun stands nowhere higher than {degrees} degrees.",
                                    degrees=Number(HIGHEST_DEG)))  # fmt: skip
    if hidden := _not_framed(view, feature):
        return hidden
    verdict = over_light(lambda turn: SUN_HIGH.judge(view.height(feature, turn) - told), view.sun.known)
    return Checked(verdict, _height_said(view, feature), _degrees(SUN_HIGH))


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


def _not_framed(view: NotesView, feature: Feature) -> Checked | None:
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
