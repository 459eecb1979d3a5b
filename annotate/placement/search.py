"""From a picture to a pose: hypotheses, tried against the surface; the best is refined, its best rival kept.

    edge -> circles -> turns of both hands under each sky -> coarse patches -> Sun from light -> fine patches -> Pose

Only the texture decides: a field stop, a lamp or a ball gives a circle, but no patches that agree. Every step's
choice is kept as a number in the pose (score, rival_score, n_matches, covariance), from which `verdict` says how sure
it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import islice

import cv2
import numpy as np

from moondesk.ephemeris.sky_hypotheses import SkyHypothesis, any_time, by_clock, by_window
from moondesk.moon.relight import disc_model, light
from moondesk.placement.discs import SMOOTH_MARKS, SMOOTH_ROUGH, look_at
from moondesk.placement.field_stop import find_field, hides
from moondesk.placement.keypoints import UNDATED, match_keypoints
from moondesk.placement.limb import Circle, fit_limb
from moondesk.placement.matching import Pyramid
from moondesk.placement.orientation import Rings, best_turns, rings, unroll
from moondesk.placement.refinement import Placement, Start, coarse, hold_pose, refine
from moondesk.placement.solver import Solution
from moondesk.records import FieldStop, Float32Array, Limb, NotFound, Place, Pose, TimeReadings
from moondesk.sentences import sentence

#: Radius of the frames in which turns are tried, px.
TURNS_PX = 90.0
#: Below this correlation the clock's sky is not believed and the window is searched too.
GOOD_TURN = 0.5
#: Above it the other limbs are not tried; else so many.
CLEAR_TURN, MOST_LIMBS = 0.7, 3
#: Distinct keypoints that agree: the wrong hand reaches ten at most.
GOOD_KEYPOINTS = 15.0
#: A smaller circle, in shares of the picture's shorter side, is the whole disc only where nothing else shines.
SMALL_SHARE = 1 / 6
#: A pose from the limb that is this well agreed with needs no second opinion from keypoints.
SETTLED_MATCHES, SETTLED_AGREE = 25, 0.45


class Limbs:
    """The limbs of a picture's circles, the best first, each fitted when first asked for; copies are left out.

    least_px: smallest radius in pixels of the picture.
    """

    def __init__(self, luminance: Float32Array, circles: tuple[Circle, ...], least_px: float = 0.0) -> None:
        self._fits = _fit_limbs(luminance, circles, least_px)
        self._known: list[Limb] = []

    def __iter__(self) -> Iterator[Limb]:
        yield from self._known
        for limb in self._fits:
            self._known.append(limb)
            yield limb


def _fit_limbs(luminance: Float32Array, circles: tuple[Circle, ...], least_px: float) -> Iterator[Limb]:
    distinct: list[Limb] = []
    for circle in circles:
        limb = fit_limb(luminance, circle)
        if isinstance(limb, NotFound) or limb.radius_px < least_px:
            continue
        if all(
            np.hypot(k.x - limb.x, k.y - limb.y) + abs(k.radius_px - limb.radius_px) > 0.03 * limb.radius_px + 1
            for k in distinct
        ):
            distinct.append(limb)
            yield limb


def find_pose(
    luminance: Float32Array,
    limbs: Iterable[Limb],
    taken: TimeReadings,
    place: Place | None,
    mirrored: bool | None = None,
) -> Placement | NotFound:
    """The pose of the Moon in a linear-light picture (H, W), in its pixels; NotFound where no surface agrees.

    limbs: the best first, of these three at most are tried; iterated more than once (see `Limbs`).
    mirrored: the hand that is settled beforehand; the other is then only measured, as the rival.
    """
    picture = Pyramid(_display(luminance))
    return _within_field(picture, luminance, _anywhere(picture, luminance, limbs, taken, place, mirrored), taken)


def _within_field(
    picture: Pyramid, luminance: Float32Array, found: Placement | NotFound, taken: TimeReadings
) -> Placement | NotFound:
    """Placed again by what lies inside the eyepiece's field alone, where that hides a part of the lit Moon."""
    if isinstance(found, NotFound):
        return found
    picture.field = find_field(luminance, found.pose)
    if picture.field is None or not hides(picture.field, found.pose):
        return replace(found, evidence=replace(found.evidence, field=picture.field))
    limb = found.limb
    if limb is not None and _same_circle(limb, picture.field):
        limb = None  # it is the field's edge
    again = refine(picture, Start(found.pose, found.sky, limb, 1.0), found.pose, found.pose.rival_score, taken)
    return again if isinstance(again, Placement) else found


def _same_circle(limb: Limb, field: FieldStop) -> bool:
    apart = np.hypot(limb.x - field.x, limb.y - field.y) + abs(limb.radius_px - field.radius_px)
    return bool(apart < 0.08 * limb.radius_px)


def _anywhere(
    picture: Pyramid,
    luminance: Float32Array,
    limbs: Iterable[Limb],
    taken: TimeReadings,
    place: Place | None,
    mirrored: bool | None,
) -> Placement | NotFound:
    starts = _by_turns(picture, limbs, taken, place)
    found = _settle(picture, starts, taken, mirrored)
    if _is_settled(found):
        return found
    if starts and all(s.sky.utc is not None for s in starts):
        # a sky of the clock or the window looked right and was not: an old picture has the phase, not the libration
        free = _settle(picture, _by_turns(picture, limbs, taken, place, dated=False), taken, mirrored)
        if _is_settled(free):
            return free
        found = _better(found, free)
    if any(_whole(limb, picture.image) for limb in islice(limbs, 1)):
        return found  # a whole disc that its limb could not place has no surface that keypoints could
    if any(_smooth(limb, luminance) for limb in islice(limbs, 1)):
        return found  # nor has a ball, a lamp, the Sun
    other = _settle(picture, _by_keypoints(picture.image, taken, place), taken, mirrored)
    return _better(found, other)


def _is_settled(found: Placement | NotFound) -> bool:
    """Needs no second opinion."""
    return isinstance(found, Placement) and found.pose.n_matches >= SETTLED_MATCHES and found.pose.score > SETTLED_AGREE


def _better(found: Placement | NotFound, other: Placement | NotFound) -> Placement | NotFound:
    if isinstance(found, Placement) and isinstance(other, Placement):
        return max(found, other, key=lambda p: p.pose.score * np.sqrt(p.pose.n_matches))
    return other if isinstance(other, Placement) else found


def refine_starts(
    luminance: Float32Array,
    starts: list[tuple[Pose, SkyHypothesis]],
    limb: Limb | None,
    taken: TimeReadings,
    mirrored: bool | None = None,
) -> Placement | NotFound:
    """As `find_pose`, from poses found by other means (best first), each under its sky; limb weighs in if given."""
    picture = Pyramid(_display(luminance))
    found = _settle(picture, [Start(pose, sky, limb, 1.0) for pose, sky in starts], taken, mirrored)
    return _within_field(picture, luminance, found, taken)


def place_as_given(
    luminance: Float32Array, pose: Pose, sky: SkyHypothesis, limb: Limb | None, taken: TimeReadings
) -> Placement:
    """A pose that is not to be moved: only the Sun is taken from the picture's light."""
    picture = Pyramid(_display(luminance))
    picture.field = find_field(luminance, pose)
    return hold_pose(picture, pose, sky, limb, taken)


def _display(luminance: Float32Array) -> Float32Array:
    return np.sqrt(np.maximum(luminance, 0.0)).astype(np.float32)


def _whole(limb: Limb, display: Float32Array) -> bool:
    """The limb is long, its whole circle lies inside the frame, and all about it is dark: no crater's ring."""
    height, width = display.shape
    r = limb.radius_px
    if not (limb.arc_deg >= 150 and r <= limb.x <= width - 1 - r and r <= limb.y <= height - 1 - r):
        return False
    if r < SMALL_SHARE * min(height, width) and not _alone(limb, display):
        return False  # a circle beside something larger: an inset, a lamp, a planet on a poster
    angle = np.radians(np.arange(0, 360, 3.0))
    rings = [
        cv2.remap(
            display,
            (limb.x + k * r * np.cos(angle)).astype(np.float32)[:, None],
            (limb.y + k * r * np.sin(angle)).astype(np.float32)[:, None],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
        ).ravel()
        for k in (0.9, 1.15)
    ]
    return bool(np.percentile(rings[1], 90) < 0.5 * np.percentile(rings[0], 90))


def _alone(limb: Limb, display: Float32Array) -> bool:
    """Nearly all light of the picture comes from the limb's disc and its glow."""
    light = display.astype(np.float32) ** 2 - float(np.median(display)) ** 2
    light[light < 0.01] = 0.0
    near = np.zeros(display.shape, np.uint8)
    cv2.circle(near, (round(limb.x), round(limb.y)), round(1.5 * limb.radius_px), 1, -1)
    return bool(light[near > 0].sum() > 0.8 * light.sum())


def _smooth(limb: Limb, luminance: Float32Array) -> bool:
    """A disc edged all round without any markings: no part of the Moon, which may show a ring of its own, is that."""
    look = look_at(luminance, None, limb)
    return look.all_round > 0.9 and look.marks < SMOOTH_MARKS and look.rough < SMOOTH_ROUGH


def _by_turns(
    picture: Pyramid, limbs: Iterable[Limb], taken: TimeReadings, place: Place | None, dated: bool = True
) -> list[Start]:
    """Trials from each limb, turned to every side under the skies that the time allows, or (not dated) under all."""
    trials: list[Start] = []
    ways: tuple[Callable[[], tuple[SkyHypothesis, ...]], ...] = (
        lambda: by_clock(taken, place),
        lambda: by_window(taken, place),
        any_time,
    )
    for allowed in ways if dated else (any_time,):
        if trials and max(t.merit for t in trials) > GOOD_TURN:
            break
        skies = allowed()
        if not skies:
            continue
        for limb in islice(limbs, MOST_LIMBS):
            trials += _turns(picture, limb, skies)
            if max(t.merit for t in trials) > CLEAR_TURN:
                break
    trials.sort(key=lambda t: -t.merit)
    return trials if trials and trials[0].merit > 0.2 else []


def _by_keypoints(display: Float32Array, taken: TimeReadings, place: Place | None) -> list[Start]:
    """Trials from keypoints, under the clock's sky first and wider only where that finds nothing."""
    trials: list[Start] = []
    ways: tuple[Callable[[], tuple[SkyHypothesis, ...]], ...] = (
        lambda: by_clock(taken, place),
        lambda: by_window(taken, place, 24.0),
        lambda: UNDATED,
    )
    for allowed in ways:
        skies = allowed()
        for s in match_keypoints(display, skies):
            trials.append(
                Start(
                    _pose(display, s.sky, (s.x, s.y, s.radius_px), s.north_screen_deg, s.mirrored),
                    s.sky,
                    None,
                    float(s.inliers),
                )
            )
        if trials and max(t.merit for t in trials) >= GOOD_KEYPOINTS:
            break
    return sorted(trials, key=lambda t: -t.merit)


def _settle(
    picture: Pyramid, trials: list[Start], taken: TimeReadings, hand: bool | None = None
) -> Placement | NotFound:
    """The best start of each hand tried on coarse patches; the better (or given) hand refined, the other its rival."""
    solved: list[tuple[Start, Solution]] = []
    clear = bool(trials) and trials[0].limb is not None and trials[0].merit > CLEAR_TURN
    for mirrored in (False, True):
        ours = [t for t in trials if t.pose.mirrored == mirrored]
        tried = [(t, coarse(picture, t)) for t in (ours[:1] if clear else _distinct(ours))]
        if tried:
            solved.append(max(tried, key=lambda s: _weight(s[1])))
    solved.sort(key=lambda s: (hand is not None and s[0].pose.mirrored is not hand, -_weight(s[1])))
    if not solved or (hand is not None and solved[0][0].pose.mirrored is not hand):
        return _none_placed()
    trial, best = solved[0]
    rival = solved[1][1].agree if len(solved) > 1 else 0.0
    if best.pose.n_matches < 4 and trial.merit <= GOOD_TURN:
        return _none_placed()
    return refine(picture, trial, best.pose, rival, taken)


def _none_placed() -> NotFound:
    return NotFound("pose", sentence("nothing_agrees"), sentence("check_date"))


def _weight(solution: Solution) -> float:
    return float(solution.agree * np.sqrt(solution.pose.n_matches))


def _distinct(trials: list[Start]) -> list[Start]:
    """The best two turns of every limb: a wrong circle under a crescent's sky may look better than the right one."""
    kept: list[Start] = []
    for t in trials:
        same = [k for k in kept if k.limb is t.limb]
        if len(same) < 2 and all(
            abs((k.pose.north_screen_deg - t.pose.north_screen_deg + 180) % 360 - 180) >= 8 for k in same
        ):
            kept.append(t)
    return kept


def _turns(picture: Pyramid, limb: Limb, skies: tuple[SkyHypothesis, ...]) -> list[Start]:
    small = picture.near(1.3 * TURNS_PX / limb.radius_px)
    scale = small.shape[1] / picture.image.shape[1]
    seen = rings(*unroll(small, (limb.x + 0.5) * scale - 0.5, (limb.y + 0.5) * scale - 0.5, limb.radius_px * scale))
    found: list[Start] = []
    for sky in skies:
        for turn in best_turns(seen, _predict_rings(sky)):
            circle = limb.x, limb.y, limb.radius_px
            start = _pose(picture.image, sky, circle, turn.north_screen_deg, turn.mirrored)
            found.append(Start(start, sky, limb, turn.correlation))
    return found


@lru_cache(maxsize=64)
def _predict_rings(sky: SkyHypothesis) -> Rings:
    """The disc under a sky, unrolled; kept, for the skies of undated pictures are always the same."""
    model = disc_model(sky.libration_lat_deg, sky.libration_lon_deg, TURNS_PX, sky.distance_radii)
    predicted = np.sqrt(light(model, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg))
    predicted = np.asarray(cv2.GaussianBlur(predicted, (0, 0), 0.7), np.float32)
    return rings(*unroll(predicted, model.centre, model.centre, TURNS_PX))


def _pose(
    display: Float32Array, sky: SkyHypothesis, circle: tuple[float, float, float], north: float, mirrored: bool
) -> Pose:
    height, width = display.shape
    x, y, radius_px = circle
    return Pose(
        x=x,
        y=y,
        radius_px=radius_px,
        north_screen_deg=north,
        mirrored=mirrored,
        libration_lat_deg=sky.libration_lat_deg,
        libration_lon_deg=sky.libration_lon_deg,
        sub_solar_lat_deg=sky.sub_solar_lat_deg,
        sub_solar_lon_deg=sky.sub_solar_lon_deg,
        distance_radii=sky.distance_radii,
        axis_x=(width - 1) / 2,
        axis_y=(height - 1) / 2,
        axis_scale_px=float(np.hypot(width, height) / 2),
    )
