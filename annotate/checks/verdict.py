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
from moondesk.sentences import Explained, Sentence, sentence

#: Below these a solution is not shown as a placement at all.
LEAST_AGREE = 0.30
#: Refraction flattens no more than this (Saemundsson's formula, Moon about 2 degrees up): more is taken askew.
MOST_FLATTENED = 0.058
#: Above these it may be said on air.
SURE_AGREE, SURE_MATCHES, SURE_RIVAL, SURE_NOISE_PCT, SURE_SIGMA_PCT = 0.55, 25, 0.6, 1.2, 0.35
#: So uncertain a placement by few places is none.
MOST_SIGMA_OF_FEW_PCT = 2.0
#: A disc with more of its middle burnt out shows no surface. Seen: 0.41 at most in a Moon that was placed rightly, 1.00 in a
#: burnt-out planet.
MOST_BURNT = 0.5
#: How far the Moon is ever seen to be turned, latitude and longitude: libration by its orbit and the observer's place
#: on the Earth (Meeus, Astronomical Algorithms, ch. 53: 6.9 and 7.9 degrees, and a degree of parallax).
MOST_LIBRATION_DEG = (7.9, 9.0)
#: What tilt and eyepiece leave of a bent picture goes on growing beyond the last patch: no more than this (%R).
MOST_LEFT_PCT = 0.3
#: Two exposures further apart than this (%R) leave no place of a name.
SHAKEN_PCT = 1.0
#: Discs smaller than this (radius, px of the picture as it is worked on) are never annotated, nor are lone bright spots
#: (full-resolution px) smaller than the other even tried: the fitted limb decides, for half a disc's bright part is smaller than the disc.
LEAST_RADIUS_PX, TINY_SPOT_PX = 12.0, 8.0
#: Discs smaller than this (radius, px) carry the seas alone, and are never sure.
SMALL_RADIUS_PX = 25.0
#: Below this radius (px) any two seas and a hand's turn are soon alike: so much is asked, and so little of the other
#: hand. Of 100 rendered Moons of 15 to 40 px all that were placed had 0.53, 35 and 0.28; of 675 other small things the
#: best had 0.47, 16 and 0.30.
FEW_PIXELS_PX, SMALL_AGREE, SMALL_MATCHES, SMALL_RIVAL = 40.0, 0.5, 30, 0.35


@dataclass(frozen=True)
class Trust:
    """accepted: good enough to be shown; sure: good enough for air; reasons: why not."""

    accepted: bool
    sure: bool
    reasons: tuple[Sentence, ...] = ()


def judge_placement(placed: Placement) -> Trust:
    """placed: as `uncertainty.with_evidence`, in px of the picture as it was worked on."""
    pose = placed.pose
    if pose.score < LEAST_AGREE or (pose.score < 0.5 and pose.rival_score > 0.8 * pose.score):
        return _reject("few_percent_agree", percent=f"{100 * pose.score:.0f}")
    few = pose.n_matches < SURE_MATCHES
    if few and (pose.rival_score > 0.5 * pose.score or pose.sigma_pct_radius > MOST_SIGMA_OF_FEW_PCT):
        return _reject("few_agree", count=pose.n_matches)
    if pose.radius_px < FEW_PIXELS_PX:
        if pose.score < SMALL_AGREE:
            return _reject("few_percent_agree", percent=f"{100 * pose.score:.0f}")
        if pose.n_matches < SMALL_MATCHES or pose.rival_score > SMALL_RIVAL * pose.score:
            return _reject("few_agree", count=pose.n_matches)
    if placed.evidence.burnt > MOST_BURNT and not is_well_agreed(placed):
        return _reject("burnt_out_disc")
    doubt = _distortion_doubt(placed) or _match_doubt(placed)
    return Trust(True, True) if doubt is None else Trust(True, False, (doubt,))


def is_well_agreed(placed: Placement) -> bool:
    """Whether so many places agree that a disc mostly burnt out, or one whose light and noise were made even, is the Moon
    all the same: of eclipses exposed for the umbra."""
    pose = placed.pose
    few = pose.score < SMALL_AGREE or pose.n_matches < 2 * SMALL_MATCHES
    return not few and pose.rival_score <= SMALL_RIVAL * pose.score


def _reject(code: str, **values: object) -> Trust:
    return Trust(False, False, (sentence(code, **values),))


def _match_doubt(placed: Placement) -> Sentence | None:
    """Why the patches do not settle the pose; None where they do."""
    pose = placed.pose
    if pose.flattening > MOST_FLATTENED:
        return sentence("out_of_round", percent=f"{100 * pose.flattening:.0f}")
    if pose.score < SURE_AGREE:
        return sentence("part_agrees", percent=f"{100 * pose.score:.0f}")
    if pose.n_matches < SURE_MATCHES:
        return sentence("few_compared", count=pose.n_matches)
    if placed.evidence.burnt > MOST_BURNT:
        return sentence("burnt_out_disc")
    if pose.radius_px < SMALL_RADIUS_PX:
        return sentence("seas_alone", pixels=f"{2 * pose.radius_px:.0f}")
    if pose.rival_score > SURE_RIVAL * pose.score:
        return sentence("other_hand")
    if placed.noise_pct_radius > SURE_NOISE_PCT:
        return sentence("scattered")
    if not pose.sigma_pct_radius < SURE_SIGMA_PCT:
        return sentence("names_off", percent=f"{pose.sigma_pct_radius:.1f}")
    return None


def _distortion_doubt(placed: Placement) -> Sentence | None:
    """Why names may be off in a part of the disc or all over it though the patches agree; None where they are not."""
    pose, evidence = placed.pose, placed.evidence
    if abs(pose.libration_lat_deg) > MOST_LIBRATION_DEG[0] or abs(pose.libration_lon_deg) > MOST_LIBRATION_DEG[1]:
        return sentence("turned_too_far")
    if evidence.smear.apart_pct > SHAKEN_PCT:
        return sentence("twice")
    if (pose.tilt or pose.tangential) and evidence.bent_pct > MOST_LEFT_PCT:
        return sentence("bent", percent=f"{2 * evidence.bent_pct:.1f}")
    part = astray(evidence.look, pose) if evidence.look is not None else None
    if part is None and evidence.edge_side:
        return sentence("edge_off", side=evidence.edge_side, percent=f"{evidence.edge_off_pct:.1f}")
    return None if part is None else sentence("part_off", side=part.side, percent=f"{part.off_pct:.1f}")


@dataclass(frozen=True, kw_only=True)
class PlacementStatement(Explained):
    """What is said of a placed picture."""

    status: Status
    sure: bool
    reasons: tuple[Sentence, ...]
    advices: tuple[Sentence, ...]
    flags: tuple[str, ...]


def judge_surroundings(trust: Trust, discs: int, eclipse: Eclipse, bitten: bool = False) -> PlacementStatement:
    """The last word on an accepted placement, every doubt named.

    discs: how often the Moon shows; eclipse: what date and pixels say of one; bitten: its light is not the Sun's (see
    `eclipses.is_bitten`).
    """
    status: Status = Status.ANNOTATED
    sure, reasons = trust.sure, [*trust.reasons]
    flags = tuple[str, ...]()
    if discs > 1:
        sure, flags = False, ("several discs",)
        reasons.append(sentence("several_discs", count=discs))
    if eclipse.words is not None:
        sure = False
        reasons.append(eclipse.words)
    elif bitten:
        sure = False
        reasons.append(sentence("dark_part"))
    if eclipse.told:
        status = Status.ECLIPSE
    advices = () if sure else (sentence("ask_single" if discs > 1 else "check_names"),)
    return PlacementStatement(status=status, sure=sure, reasons=tuple(reasons), advices=advices, flags=flags)


@dataclass(frozen=True)
class UnplacedStatement(Explained):
    """What a picture without a placement is."""

    status: Status
    reasons: tuple[Sentence, ...]
    advices: tuple[Sentence, ...]


def state(status: Status, reason: Sentence, *advices: Sentence) -> UnplacedStatement:
    return UnplacedStatement(status, (reason,), advices)


#: What is said of a drawing.
DRAWN = state(Status.UNPLACED, sentence("drawing"), sentence("only_photographs"))
#: What is said of a picture with straight edges all round the disc, and of one with a screen's pixels over it.
FRAMED = NotFound("surroundings", sentence("frame_about_disc"), sentence("ask_uncut"))
GRIDDED = NotFound("surroundings", sentence("grid_over_picture"), sentence("ask_itself"))
_LARGER, _SUN_CAUTION, _LESS_LIGHT = sentence("larger_disc"), sentence("sun_caution"), sentence("less_light")

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
    whole: Look | None, spot: BrightSpot | None, shrink: float, why: NotFound, disc: Limb | None = None
) -> UnplacedStatement:
    """What to say of a picture in which no surface agreed.

    whole: of its best disc, where one was found and tried; spot: its one small bright disc, in
    working pixels of `shrink` full ones; why the placing gave up; disc: of which the spot is the lit
    part (see `unplaced_hints.disc_about`).
    """
    given_up = UnplacedStatement(Status.UNPLACED, why.reasons, why.advices)
    if disc is not None and disc.radius_px * shrink >= SMALL_RADIUS_PX:
        wide = f"{2 * disc.radius_px * shrink:.0f}"
        return state(Status.UNPLACED, sentence("partly_bright", pixels=wide), _LARGER)
    if spot is not None and spot.radius * shrink < SMALL_RADIUS_PX:
        return _small(spot, 2 * spot.radius * shrink)
    if whole is None or whole.all_round < SOME_EDGE or whole.framed < IN_FRAME or whole.arc_deg < LEAST_ARC_DEG:
        return given_up  # an arc may be a crater's, or the edge of a blur
    if whole.burnt > 0.6:
        return state(Status.UNPLACED, sentence("burnt_out"), _LESS_LIGHT, _SUN_CAUTION)
    flat = whole.marks * whole.level < 0.008 and whole.rough * whole.level < 0.015
    if whole.level < EMPTY_FIELD and flat and whole.level > 1.5 * whole.around + 0.02:
        return state(Status.NOT_MOON, sentence("empty_field"), sentence("centre_it"))
    if whole.marks < SMOOTH_MARKS and whole.rough < SMOOTH_ROUGH and whole.level > whole.around + 0.05:
        return _smooth(whole)
    if whole.all_round < ALL_ROUND:
        return given_up
    if whole.softness > BLURRED:
        return state(Status.UNPLACED, sentence("blurred_whole"), sentence("hidden_seas"))
    return state(Status.NOT_MOON, sentence("other_markings"), sentence("hidden_seas"))


def _small(spot: BrightSpot, across_px: float) -> UnplacedStatement:
    wide = f"{across_px:.0f}"
    if spot.in_line >= 3:
        said = sentence("planet_and_moons", pixels=wide, dots=spot.in_line)
        return state(Status.NOT_MOON, said, sentence("zoom_in"))
    if spot.in_line == 2:
        return state(Status.UNPLACED, sentence("two_dots", pixels=wide), _LARGER)
    if spot.crowd >= CROWD:
        return state(Status.UNPLACED, sentence("one_of_crowd", pixels=wide, count=spot.crowd), _LARGER)
    if not spot.burnt and not spot.company:
        return state(Status.UNPLACED, sentence("small_soft", pixels=wide), _LARGER)
    if spot.redness > WARM:
        return state(Status.UNPLACED, sentence("small_yellow", pixels=wide), _LARGER)
    return state(Status.DISC_ONLY, sentence("small_bright", pixels=wide), _LARGER)


def _smooth(look: Look) -> UnplacedStatement:
    if look.softness > OUT_OF_FOCUS or look.burnt > 0.2:
        return state(Status.UNPLACED, sentence("no_seas"), _LESS_LIGHT, _SUN_CAUTION)
    code = "smooth_ball" if look.slope > 0.15 else "smooth_sun" if look.fall > 0.05 else "smooth_lamp"
    return state(Status.NOT_MOON, sentence(code), _SUN_CAUTION, _LESS_LIGHT)
