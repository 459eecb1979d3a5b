"""How far a placement may be trusted, and what a picture without one is. "Wrong and sure" is the worst that can happen.

Bars were set on rendered scenes and real photographs (tests/benchmarks/RESULTS.md): right placements have hundreds of
agreeing patches and a rival far below; wrong ones have neither.
"""

from __future__ import annotations

from dataclasses import dataclass

from moondesk.checks.eclipses import Eclipse
from moondesk.checks.shifted_parts import astray
from moondesk.checks.tiny_discs import BrightSpot
from moondesk.placement.discs import SMOOTH_MARKS, SMOOTH_ROUGH, Look
from moondesk.placement.refinement import Placement
from moondesk.records import Limb, NotFound, Status

#: Below these a solution is not shown as a placement at all.
LEAST_AGREE = 0.30
#: Refraction flattens no more than this (Saemundsson's formula, Moon about 2 degrees up): more is taken askew.
MOST_FLATTENED = 0.058
#: Above these it may be said on air.
SURE_AGREE, SURE_MATCHES, SURE_RIVAL, SURE_NOISE_PCT, SURE_SIGMA_PCT = 0.55, 25, 0.6, 1.2, 0.35
#: So uncertain a placement by few places is none.
MOST_SIGMA_OF_FEW_PCT = 2.0
#: A disc with more of its middle burnt out shows no surface. Seen: 0.09 at most in a Moon, 1.00 in a burnt-out planet.
MOST_BURNT = 0.5
#: How far the Moon is ever seen to be turned, latitude and longitude: libration by its orbit and the observer's place
#: on the Earth (Meeus, Astronomical Algorithms, ch. 53: 6.9 and 7.9 degrees, and a degree of parallax).
MOST_LIBRATION_DEG = (7.9, 9.0)
#: What tilt and eyepiece leave of a bent picture goes on growing beyond the last patch: no more than this (%R).
MOST_LEFT_PCT = 0.3
#: Two exposures further apart than this (%R) leave no place of a name.
SHAKEN_PCT = 1.0
#: Discs smaller than this (radius, full-resolution px) are never annotated.
LEAST_RADIUS_PX = 25.0
#: A lone bright spot smaller than this is not even tried; above it the fitted limb decides, for half a disc's bright
#: part is smaller than the disc.
TINY_SPOT_PX = 20.0


@dataclass(frozen=True)
class Trust:
    """accepted: good enough to be shown; sure: good enough for air; reason: why not, one sentence."""

    accepted: bool
    sure: bool
    reason: str


def judge_placement(placed: Placement) -> Trust:
    """placed: as `uncertainty.measured`."""
    pose = placed.pose
    if pose.score < LEAST_AGREE or (pose.score < 0.5 and pose.rival_score > 0.8 * pose.score):
        return Trust(False, False, f"Only {100 * pose.score:.0f} % of the places tried agree with the Moon's surface.")
    few = pose.n_matches < SURE_MATCHES
    if few and (pose.rival_score > 0.5 * pose.score or pose.sigma_pct_radius > MOST_SIGMA_OF_FEW_PCT):
        return Trust(False, False, f"Only {pose.n_matches} places agree with the Moon's surface, and not by much.")
    if placed.evidence.burnt > MOST_BURNT:
        return Trust(False, False, "The disc is burnt out to an even white.")
    doubt = _distortion_doubt(placed)
    if doubt:
        return Trust(True, False, doubt)
    if pose.flattening > MOST_FLATTENED:
        out = f"The disc as fitted is {100 * pose.flattening:.0f} % out of round"
        return Trust(True, False, f"{out}, more than the air flattens a Moon that has risen.")
    if pose.score < SURE_AGREE:
        return Trust(True, False, f"Only {100 * pose.score:.0f} % of the places tried agree.")
    if pose.n_matches < SURE_MATCHES:
        return Trust(True, False, f"Only {pose.n_matches} places could be compared.")
    if pose.rival_score > SURE_RIVAL * pose.score:
        return Trust(True, False, "The other hand (mirrored or not) fits nearly as well.")
    if placed.noise_pct_radius > SURE_NOISE_PCT:
        return Trust(True, False, "The places compared scatter too much.")
    if not pose.sigma_pct_radius < SURE_SIGMA_PCT:
        return Trust(True, False, f"Names may be off by {pose.sigma_pct_radius:.1f} % of the Moon's radius.")
    return Trust(True, True, "")


def _distortion_doubt(placed: Placement) -> str:
    """Why names may be off in a part of the disc or all over it though the patches agree; empty where they are not."""
    pose, evidence = placed.pose, placed.evidence
    if abs(pose.libration_lat_deg) > MOST_LIBRATION_DEG[0] or abs(pose.libration_lon_deg) > MOST_LIBRATION_DEG[1]:
        return (
            "The Moon would be turned further than it is ever seen from the Earth: the picture is stretched or "
            "taken askew, or is no photograph of the sky."
        )
    if evidence.smear.apart_pct > SHAKEN_PCT:
        return "Two exposures lie over each other, or the camera shook: everything in the picture stands twice."
    if (pose.tilt or pose.tangential) and evidence.bent_pct > MOST_LEFT_PCT:
        return (
            "The picture is bent, as by an eyepiece that is looked into askew; towards the edge of the disc names "
            f"may be off by {2 * evidence.bent_pct:.1f} % of the Moon's radius or more."
        )
    part = astray(evidence.look, pose) if evidence.look is not None else None
    if part is None and evidence.edge_side:
        return (
            f"At the {evidence.edge_side} the Moon's edge lies {evidence.edge_off_pct:.1f} % of its radius from "
            "where the surface puts it, and no surface there tells which is right."
        )
    if part is None:
        return ""
    return (
        f"At the {part.side} of the disc the surface lies {part.off_pct:.1f} % of the Moon's radius from where the "
        "rest puts it: bent by a lens, or put together?"
    )


@dataclass(frozen=True, kw_only=True)
class PlacementStatement:
    """What is said of a placed picture."""

    status: Status
    sure: bool
    reason: str
    advice: str
    flags: tuple[str, ...]


def judge_surroundings(trust: Trust, discs: int, eclipse: Eclipse, bitten: bool = False) -> PlacementStatement:
    """The last word on an accepted placement, every doubt named.

    discs: how often the Moon shows; eclipse: what date and pixels say of one; bitten: its light is not the Sun's (see
    `eclipses.is_bitten`).
    """
    status: Status = Status.ANNOTATED
    sure, reasons = trust.sure, [trust.reason]
    check = "Check some of the names against the picture before they are said on air."
    advice, flags = "" if sure else check, tuple[str, ...]()
    if discs > 1:
        sure, flags = False, ("several discs",)
        reasons.append(f"The picture shows the disc {discs} times; one of them is placed.")
        advice = "Ask for the single pictures, or cut out the one to show."
    if eclipse.told:
        status, sure = Status.ECLIPSE, False
        reasons.append(f"{eclipse.words}: the edge of the shadow is not a terminator.")
        advice = advice or check
    elif eclipse.words:
        sure, advice = False, advice or check
        reasons.append(eclipse.words)
    elif bitten:
        sure, advice = False, advice or check
        reasons.append("Part of the disc is dark where the Sun should light it: a cloud, a roof, or an eclipse?")
    return PlacementStatement(
        status=status, sure=sure, reason=" ".join(r for r in reasons if r), advice=advice, flags=flags
    )


@dataclass(frozen=True)
class UnplacedStatement:
    """What a picture without a placement is: status, reason, advice."""

    status: Status
    reason: str
    advice: str


#: What is said of a drawing.
DRAWN = UnplacedStatement(
    Status.UNPLACED,
    "Flat colours, or dark strokes on a bright ground: this looks like a drawing, not a photograph.",
    "Names can only be put on a photograph of the Moon itself.",
)
#: How the reason of a picture begins whose disc is white all over.
BURNT_OUT = "The disc is burnt out to an even white"
#: What is said of a picture with straight edges all round the disc, and of one with a screen's pixels over it.
FRAMED = NotFound(
    "surroundings",
    "Straight edges stand all round the disc: a screen, a print, or a picture within a picture?",
    "Ask the sender for the picture itself, alone and uncut.",
)
GRIDDED = NotFound(
    "surroundings",
    "A fine regular grid lies over the picture: this looks like a photograph of a screen.",
    "Ask the sender for the picture itself.",
)
SMALL_ADVICE = (
    "Zoom in or hold the phone to an eyepiece: a disc of 50 pixels or more across can be placed on the Moon. "
    "Lower the exposure until the seas show."
)
SUN_CAUTION = "If this is the Sun: never point a camera or telescope at it without a proper front filter."
LESS_LIGHT = "If it is the Moon: send the original, or one taken with less exposure, with the seas to be seen."

#: Softer edges than this (radii, a quarter to three quarters of the step) make it hard to compare markings; softer
#: than the other, they may have blurred the seas away. The Sun's edge, darkened as it is, measures 0.10 to 0.12.
BLURRED, OUT_OF_FOCUS = 0.035, 0.16
#: Nothing is said of what a disc is not, of which less than this lies inside the frame.
IN_FRAME = 0.85
#: Nor where its edge was measured on less of a circle: half a ball's is 180.
LEAST_ARC_DEG = 140.0
#: An eyepiece's empty field is no brighter than this (display values).
EMPTY_FIELD = 0.25
#: Share of the circle with an edge: below the one it may be an arc of anything; above the other the disc is lit all
#: round, and a Moon that is has all its seas in the light.
SOME_EDGE, ALL_ROUND = 0.33, 0.9
#: As many bright spots are stars, or a town.
CROWD = 25
#: Redder than lamps' and the low Moon's lower end.
WARM = 0.25


def without_placement(
    whole: Look | None, spot: BrightSpot | None, shrink: float, reason: str, advice: str, disc: Limb | None = None
) -> UnplacedStatement:
    """What to say of a picture in which no surface agreed.

    whole: of its best disc of 25 px radius or more, where one was found and tried; spot: its one small bright disc, in
    working pixels of `shrink` full ones; reason, advice: why the placing gave up; disc: of which the spot is the lit
    part (see `besides.disc_about`).
    """
    if disc is not None and disc.radius_px * shrink >= LEAST_RADIUS_PX:
        wide = f"{2 * disc.radius_px * shrink:.0f} pixels wide"
        return UnplacedStatement(
            Status.UNPLACED,
            f"The disc is {wide} and only a part of it is bright: too little shows to tell how it lies.",
            SMALL_ADVICE,
        )
    if spot is not None and spot.radius * shrink < LEAST_RADIUS_PX:
        return _small(spot, 2 * spot.radius * shrink)
    if whole is None or whole.all_round < SOME_EDGE or whole.framed < IN_FRAME or whole.arc_deg < LEAST_ARC_DEG:
        return UnplacedStatement(Status.UNPLACED, reason, advice)  # an arc may be a crater's, or the edge of a blur
    if whole.burnt > 0.6:
        return UnplacedStatement(
            Status.UNPLACED,
            f"{BURNT_OUT}: the Moon far too bright, or a lamp, or the Sun.",
            f"{LESS_LIGHT} {SUN_CAUTION}",
        )
    flat = whole.marks * whole.level < 0.008 and whole.rough * whole.level < 0.015
    if whole.level < EMPTY_FIELD and flat and whole.level > 1.5 * whole.around + 0.02:
        return UnplacedStatement(
            Status.NOT_MOON,
            "A dim round field with nothing in it: an eyepiece that has lost the Moon?",
            "Bring the Moon back to the middle of the eyepiece before holding the phone to it.",
        )
    if whole.marks < SMOOTH_MARKS and whole.rough < SMOOTH_ROUGH and whole.level > whole.around + 0.05:
        return _smooth(whole)
    if whole.all_round < ALL_ROUND:
        return UnplacedStatement(Status.UNPLACED, reason, advice)
    hidden = "If it is the Moon after all, something hides its seas: send one without clouds, branches or filters."
    if whole.softness > BLURRED:
        return UnplacedStatement(
            Status.UNPLACED,
            "A whole disc, but its markings do not agree with the Moon's: a planet, or the Moon out of focus?",
            hidden,
        )
    return UnplacedStatement(
        Status.NOT_MOON,
        "A whole disc, but its markings are not the Moon's: a planet, a plate, a clock, a coin?",
        hidden,
    )


def _small(spot: BrightSpot, across_px: float) -> UnplacedStatement:
    wide = f"{across_px:.0f} pixels wide"
    if spot.in_line >= 3:
        return UnplacedStatement(
            Status.NOT_MOON,
            f"A disc {wide} with {spot.in_line} dots in one line: a planet and its moons?",
            "If it is the Moon, zoom in until it is 50 pixels across or more.",
        )
    if spot.in_line == 2:
        return UnplacedStatement(
            Status.UNPLACED,
            f"A disc {wide} with two dots in one line: a planet with its moons, or the Moon among stars?",
            SMALL_ADVICE,
        )
    if spot.crowd >= CROWD:
        return UnplacedStatement(
            Status.UNPLACED,
            f"The brightest of {spot.crowd} bright spots is {wide}: too small to tell the Moon from a star or a lamp.",
            SMALL_ADVICE,
        )
    if not spot.burnt and not spot.company:
        what = "a planet or a lamp from the Moon"
        return UnplacedStatement(
            Status.UNPLACED, f"The disc is soft and {wide}: too small to tell {what}.", SMALL_ADVICE
        )
    if spot.redness > WARM:
        what = "a lamp from a low Moon"
        return UnplacedStatement(
            Status.UNPLACED, f"The brightest disc is yellow and {wide}: too small to tell {what}.", SMALL_ADVICE
        )
    return UnplacedStatement(
        Status.DISC_ONLY, f"The bright disc is only {wide}: too small to tell features.", SMALL_ADVICE
    )


def _smooth(look: Look) -> UnplacedStatement:
    if look.softness > OUT_OF_FOCUS or look.burnt > 0.2:
        return UnplacedStatement(
            Status.UNPLACED,
            "The disc shows no seas: the Moon out of focus or too bright, or a lamp or a planet.",
            f"{LESS_LIGHT} {SUN_CAUTION}",
        )
    if look.slope > 0.15:
        what = "a ball or a lamp, lit from one side"
    elif look.fall > 0.05:
        what = "the Sun, a planet, a lamp or a ball, for it darkens evenly towards its edge"
    else:
        what = "a lamp, a plate or the Sun"
    return UnplacedStatement(
        Status.NOT_MOON, f"The disc shows none of the Moon's seas and craters: {what}.", f"{SUN_CAUTION} {LESS_LIGHT}"
    )
