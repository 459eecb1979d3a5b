"""From a picture to a pose: hypotheses, tried against the surface; the best is refined, its best rival kept.

    edge -> circles -> turns of both hands under each sky -> coarse patches -> Sun from light -> fine patches -> Pose

Only the texture decides: a field stop, a lamp or a ball gives a circle, but no patches that agree. Every step's
choice is kept as a number in the pose (score, rival_score, n_matches, covariance), from which `verdict` says how sure
it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from annotate.daylight import LightFit, fit_light
from annotate.keypoints import match_keypoints
from annotate.limb import Circle, fit_limb
from annotate.matching import Matches, match_patches, to_frame
from annotate.orient import best_turns, unroll
from annotate.records import Float32Array, Limb, NotFound, Place, Pose, Taken
from annotate.relight import disc_model, light
from annotate.skies import Sky, SunTrack, any_time, by_clock, by_window, sun_track
from annotate.solver import FLATTENING, LENS, Prior, Solution, solve

#: Radius of the frames in which turns and coarse patches are tried, px.
COARSE_PX = 90.0
FINE_PX = 240.0
#: Below this correlation the clock's sky is not believed and the window is searched too.
GOOD_TURN = 0.5
#: Above it the other limbs are not tried.
CLEAR_TURN = 0.7
#: Distinct keypoints that agree: the wrong hand reaches ten at most.
GOOD_KEYPOINTS = 15.0
#: Steps of the Sun's track searched about a Sun that was already fitted.
NEAR_STEPS = 5
#: A sky whose libration is less certain than this is searched for in two steps.
WIDE_SIGMA_DEG = 2.0
#: A pose from the limb that is this well agreed with needs no second opinion from keypoints.
SETTLED_MATCHES, SETTLED_AGREE = 25, 0.45
#: Flattening or a lens is believed where it takes the misfit below this share of what it was without.
ASKED_FOR = 0.8
#: A solution needs as many agreeing patches.
LEAST_MATCHES = 12


@dataclass(frozen=True, eq=False)
class Placed:
    """pose and limb in pixels of the working picture; sky: the hypothesis it came from; track, light: the Sun's search;
    evidence: (N, N) local correlation between picture and prediction on the north-up frame of radius evidence_px."""

    pose: Pose
    limb: Limb | None
    sky: Sky
    track: SunTrack
    light: LightFit
    noise_pct_radius: float
    evidence: Float32Array
    evidence_px: float


@dataclass(frozen=True)
class _Trial:
    """A start for the solver: pose under a sky, the limb it came from (None: keypoints), and how well it looked."""

    start: Pose
    sky: Sky
    limb: Limb | None
    merit: float


def candidate_limbs(luminance: Float32Array, circles: tuple[Circle, ...], most: int = 3) -> list[Limb]:
    """Distinct limbs that the circle hypotheses lead to, best first."""
    limbs: list[Limb] = []
    for circle in circles:
        limb = fit_limb(luminance, circle)
        if isinstance(limb, NotFound):
            continue
        if any(np.hypot(k.x - limb.x, k.y - limb.y) + abs(k.radius_px - limb.radius_px) < 0.03 * limb.radius_px + 1
               for k in limbs):
            continue
        limbs.append(limb)
    return limbs[:most]


def find_pose(luminance: Float32Array, limbs: list[Limb], taken: Taken, place: Place | None,
              mirrored: bool | None = None) -> Placed | NotFound:
    """The pose of the Moon in a linear-light picture (H, W), in its pixels; NotFound where no surface agrees.

    mirrored: the hand that is settled beforehand; the other is then only measured, as the rival.
    """
    display = _display(luminance)
    found = _settle(display, _by_turns(display, limbs, taken, place), taken, mirrored)
    if isinstance(found, Placed) and found.pose.n_matches >= SETTLED_MATCHES and found.pose.score > SETTLED_AGREE:
        return found
    if any(_whole(limb, display) for limb in limbs[:1]):
        return found  # a whole disc that its limb could not place has no surface that keypoints could
    other = _settle(display, _by_keypoints(display, taken, place), taken, mirrored)
    if isinstance(found, Placed) and isinstance(other, Placed):
        return max(found, other, key=lambda p: p.pose.score * np.sqrt(p.pose.n_matches))
    return other if isinstance(other, Placed) else found


def refine_starts(luminance: Float32Array, starts: list[tuple[Pose, Sky]], limb: Limb | None, taken: Taken,
                  mirrored: bool | None = None) -> Placed | NotFound:
    """As `find_pose`, from poses found by other means (best first), each under its sky; limb weighs in if given."""
    return _settle(_display(luminance), [_Trial(pose, sky, limb, 1.0) for pose, sky in starts], taken, mirrored)


def place_as_given(luminance: Float32Array, pose: Pose, sky: Sky, limb: Limb | None, taken: Taken) -> Placed:
    """A pose that is not to be moved: only the Sun is taken from the picture's light, and the evidence measured."""
    display, track = _display(luminance), sun_track(taken, sky)
    start = int(np.argmin(np.abs((track.lon_deg - pose.sub_solar_lon_deg + 180) % 360 - 180)))
    fit, pose = _relight(display, pose, limb, track, start)
    return Placed(pose, limb, sky, track, fit, float("nan"), *_evidence(display, pose, limb))


def _display(luminance: Float32Array) -> Float32Array:
    return np.sqrt(np.maximum(luminance, 0.0)).astype(np.float32)


def _whole(limb: Limb, display: Float32Array) -> bool:
    """The limb is long, its whole circle lies inside the frame, and all about it is dark: no crater's ring."""
    height, width = display.shape
    r = limb.radius_px
    if not (limb.arc_deg >= 150 and r <= limb.x <= width - 1 - r and r <= limb.y <= height - 1 - r):
        return False
    angle = np.radians(np.arange(0, 360, 3.0))
    rings = [cv2.remap(display, (limb.x + k * r * np.cos(angle)).astype(np.float32)[:, None],
                       (limb.y + k * r * np.sin(angle)).astype(np.float32)[:, None], cv2.INTER_LINEAR,
                       borderMode=cv2.BORDER_CONSTANT).ravel() for k in (0.9, 1.15)]
    return bool(np.percentile(rings[1], 90) < 0.5 * np.percentile(rings[0], 90))


def _by_turns(display: Float32Array, limbs: list[Limb], taken: Taken, place: Place | None) -> list[_Trial]:
    """Trials from each limb, turned to every side under the skies that the time allows."""
    trials: list[_Trial] = []
    for skies in (by_clock(taken, place), by_window(taken, place), any_time()):
        if not skies or (trials and max(t.merit for t in trials) > GOOD_TURN):
            continue
        for limb in limbs:
            trials += _turns(display, limb, skies)
            if max(t.merit for t in trials) > CLEAR_TURN:
                break
    trials.sort(key=lambda t: -t.merit)
    return trials if trials and trials[0].merit > 0.2 else []


def _by_keypoints(display: Float32Array, taken: Taken, place: Place | None) -> list[_Trial]:
    """Trials from keypoints, under the clock's sky first and wider only where that finds nothing."""
    trials: list[_Trial] = []
    for skies in (by_clock(taken, place), by_window(taken, place, 24.0), any_time(15.0)):
        if not skies:
            continue
        for s in match_keypoints(display, skies):
            trials.append(_Trial(
                _pose(display, s.sky, s.x, s.y, s.radius_px, s.north_screen_deg, s.mirrored), s.sky, None,
                float(s.inliers)))
        if trials and max(t.merit for t in trials) >= GOOD_KEYPOINTS:
            break
    return sorted(trials, key=lambda t: -t.merit)


def _settle(display: Float32Array, trials: list[_Trial], taken: Taken, hand: bool | None = None) -> Placed | NotFound:
    """The best start of each hand tried on coarse patches; the better (or given) hand refined, the other its rival."""
    solved: list[tuple[_Trial, Solution]] = []
    for mirrored in (False, True):
        ours = [t for t in trials if t.start.mirrored == mirrored][:3]
        if ours and ours[0].merit > CLEAR_TURN:
            ours = ours[:1]
        tried = [(t, _coarse(display, t)) for t in _distinct(ours)]
        if tried:
            solved.append(max(tried, key=lambda s: _weight(s[1])))
    solved.sort(key=lambda s: (hand is not None and s[0].start.mirrored is not hand, -_weight(s[1])))
    if not solved or (hand is not None and solved[0][0].start.mirrored is not hand):
        return _nothing()
    trial, best = solved[0]
    rival = solved[1][1].agree if len(solved) > 1 else 0.0
    if best.pose.n_matches < 4 and trial.merit <= GOOD_TURN:
        return _nothing()
    return _refine(display, trial, best, rival, taken)


def _nothing() -> NotFound:
    return NotFound(
        "pose", "Nothing in the picture agrees with the Moon's surface as it must have looked.",
        "Check the date; send a sharper picture that shows more of the disc, with the seas not overexposed.",
    )


def _weight(solution: Solution) -> float:
    return float(solution.agree * np.sqrt(solution.pose.n_matches))


def _distinct(trials: list[_Trial]) -> list[_Trial]:
    kept: list[_Trial] = []
    for t in trials:
        if not any(k.limb is t.limb and abs((k.start.north_screen_deg - t.start.north_screen_deg + 180) % 360 - 180) < 8
                   for k in kept):
            kept.append(t)
    return kept[:2]


def _turns(display: Float32Array, limb: Limb, skies: tuple[Sky, ...]) -> list[_Trial]:
    scale = COARSE_PX / limb.radius_px
    smooth = np.asarray(cv2.GaussianBlur(display, (0, 0), 0.5 / scale), np.float32) if scale < 0.7 else display
    seen, seen_weight = unroll(smooth, limb.x, limb.y, limb.radius_px)
    found: list[_Trial] = []
    for sky in skies:
        model = disc_model(sky.libration_lat_deg, sky.libration_lon_deg, COARSE_PX, sky.distance_radii)
        predicted = np.sqrt(light(model, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg))
        predicted = np.asarray(cv2.GaussianBlur(predicted, (0, 0), 0.7), np.float32)
        values, weight = unroll(predicted, model.centre, model.centre, COARSE_PX)
        for turn in best_turns(seen, seen_weight, values, weight):
            start = _pose(display, sky, limb.x, limb.y, limb.radius_px, turn.north_screen_deg, turn.mirrored)
            found.append(_Trial(start, sky, limb, turn.correlation))
    return found


def _pose(display: Float32Array, sky: Sky, x: float, y: float, radius_px: float, north: float, mirrored: bool) -> Pose:
    height, width = display.shape
    return Pose(
        x, y, radius_px, north, mirrored, sky.libration_lat_deg, sky.libration_lon_deg, sky.sub_solar_lat_deg,
        sky.sub_solar_lon_deg, sky.distance_radii, axis_x=(width - 1) / 2, axis_y=(height - 1) / 2,
        axis_scale_px=float(np.hypot(width, height) / 2),
    )


def _priors(sky: Sky) -> tuple[Prior, ...]:
    return (Prior("libration_lat_deg", sky.libration_lat_deg, sky.sigma_deg),
            Prior("libration_lon_deg", sky.libration_lon_deg, sky.sigma_deg))


def _limb_floor(limb: Limb | None) -> float:
    """What all edge points share: the edge's definition under blur, bloom and tone curve (px)."""
    return 0.0 if limb is None else 0.003 * limb.radius_px + 0.15 * limb.edge_width_px


def _edge_width(limb: Limb | None) -> float:
    """Width of the picture's edges, px; without a limb that of a fair picture."""
    return 2.5 if limb is None else limb.edge_width_px


def _frame_px(pose: Pose, display: Float32Array) -> float:
    """Radius of the fine frame: larger where the frame cuts most of the disc away, so that enough patches are left."""
    height, width = display.shape
    share = min(1.0, width * height / (np.pi * pose.radius_px**2))
    return float(np.clip(pose.radius_px, 80.0, min(FINE_PX / np.sqrt(share), 2.5 * FINE_PX)))


def _matches(display: Float32Array, pose: Pose, limb: Limb | None, radius: float, half: int, reach: int, spacing: int,
             ) -> Matches:
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, radius, pose.distance_radii)
    radiance = light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    frame, inside = to_frame(display, pose, radius)
    blur = max(0.5, 0.4 * _edge_width(limb) * radius / pose.radius_px)
    return match_patches(frame, inside, radiance, model, pose, half, reach, spacing, min(blur, 4.0))


def _coarse(display: Float32Array, trial: _Trial) -> Solution:
    limb, pose = trial.limb, trial.start
    floor, priors = _limb_floor(limb), _priors(trial.sky)
    if trial.sky.sigma_deg > WIDE_SIGMA_DEG and limb is not None:
        # the libration may be 8 degrees off, 14 %R at the middle: look that far, on a frame half as fine
        pose = solve(pose, _matches(display, pose, limb, COARSE_PX / 2, 7, 8, 4), limb, floor, priors).pose
    radius = min(max(COARSE_PX, 0.4 * _frame_px(pose, display)), 240.0)
    return solve(pose, _matches(display, pose, limb, radius, 9, 7, 7), limb, floor, priors)


def _refine(display: Float32Array, trial: _Trial, best: Solution, rival: float, taken: Taken) -> Placed | NotFound:
    limb, pose = trial.limb, best.pose
    track = sun_track(taken, trial.sky)
    start = int(np.argmin(np.abs((track.lon_deg - pose.sub_solar_lon_deg + 180) % 360 - 180)))
    radius = _frame_px(pose, display)
    fit: LightFit | None = None
    solution = best
    for turn in range(2):
        # the second time the Sun is nearly known: a few hours either side do, and reaching the end tries them all
        fit, pose = _relight(display, pose, limb, track, start, None if turn == 0 else NEAR_STEPS)
        start = round(fit.index)
        matches = _matches(display, pose, limb, radius, 10, 5 if turn == 0 else 4, 12)
        plain = replace(pose, flattening=0.0, radial_k1=0.0)
        solution = solve(plain, matches, limb, _limb_floor(limb), _priors(trial.sky))
        solution = _with_terms_asked_for(matches, solution, trial.sky)
        pose = solution.pose
    assert fit is not None
    if pose.n_matches < LEAST_MATCHES:
        return NotFound(
            "pose", f"Only {pose.n_matches} places in the picture agree with the Moon's surface; that does not settle "
            "where it lies.", "A sharper picture, or one that shows more of the lit disc, can be placed.",
        )
    pose = replace(pose, score=solution.agree, rival_score=rival)
    evidence, evidence_px = _evidence(display, pose, limb)
    noise = 100 * solution.noise_px / pose.radius_px
    return Placed(pose, limb, trial.sky, track, fit, noise, evidence, evidence_px)


def _relight(display: Float32Array, pose: Pose, limb: Limb | None, track: SunTrack, start: int,
             span: int | None = None) -> tuple[LightFit, Pose]:
    """The Sun that the picture's light shows, and the pose lit by it."""
    radius = float(np.clip(pose.radius_px, 60.0, max(90.0, 0.5 * _frame_px(pose, display))))
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, radius, pose.distance_radii)
    frame, inside = to_frame(display, pose, radius)
    blur = max(0.8, 0.4 * _edge_width(limb) * radius / pose.radius_px)
    fit = fit_light(frame, inside, model, track, start, blur, span=span)
    steps = np.arange(len(track.lon_deg))
    # longitudes run backwards in time and wrap: interpolate them unwrapped
    lon = float(np.interp(fit.index, steps, np.unwrap(track.lon_deg, period=360.0)))
    lat = float(np.interp(fit.index, steps, track.lat_deg))
    return fit, replace(pose, sub_solar_lat_deg=lat, sub_solar_lon_deg=(lon + 180.0) % 360.0 - 180.0)


def _with_terms_asked_for(matches: Matches, plain: Solution, sky: Sky) -> Solution:
    """Flattening and lens terms where they take a good part of the misfit away, else the plain solution."""
    if len(matches.surface) < 60:
        return plain
    starts = {
        FLATTENING: replace(plain.pose, flattening=0.004, flattening_screen_deg=45.0), LENS: plain.pose,
        FLATTENING + LENS: replace(plain.pose, flattening=0.004, flattening_screen_deg=45.0),
    }
    # the circle of the limb is no circle now: the texture alone carries centre and radius
    fits = {extra: solve(start, matches, None, 0.0, _priors(sky), extra) for extra, start in starts.items()}
    single = min(fits[FLATTENING], fits[LENS], key=lambda f: f.noise_px)
    chosen = single if single.noise_px < ASKED_FOR * plain.noise_px else plain
    both = fits[FLATTENING + LENS]
    return both if both.noise_px < ASKED_FOR * chosen.noise_px else chosen


def _evidence(display: Float32Array, pose: Pose, limb: Limb | None) -> tuple[Float32Array, float]:
    """Local correlation (-1..1) of picture and prediction, on the north-up frame of the returned radius."""
    radius = _frame_px(pose, display)
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, radius, pose.distance_radii)
    predicted = np.sqrt(light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg))
    blur = max(0.5, min(0.4 * _edge_width(limb) * radius / pose.radius_px, 4))
    predicted = cv2.GaussianBlur(predicted, (0, 0), blur)
    frame, inside = to_frame(display, pose, radius)
    weight = (model.inside & inside).astype(np.float32)
    box = (13, 13)

    def mean(a: Float32Array) -> Float32Array:
        return np.asarray(cv2.blur(a, box), np.float32)

    mass = np.maximum(mean(weight), 1e-3)
    a, b = frame * weight, predicted * weight
    ma, mb = mean(a) / mass, mean(b) / mass
    cov = mean(a * b) / mass - ma * mb
    va, vb = mean(a * a) / mass - ma * ma, mean(b * b) / mass - mb * mb
    floor = 4e-5  # display noise of 0.6 %: below it there is nothing to be seen
    return (cov / np.sqrt(np.maximum(va, floor) * np.maximum(vb, floor))).astype(np.float32), radius
