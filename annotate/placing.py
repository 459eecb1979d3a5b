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
from annotate.limb import Circle, fit_limb
from annotate.matching import Matches, match_patches, to_frame
from annotate.orient import OUTER, Turn, best_turns, unroll
from annotate.records import Float32Array, Limb, NotFound, Place, Pose, Taken
from annotate.relight import disc_model, light
from annotate.skies import Sky, SunTrack, any_time, by_clock, by_window, sun_track
from annotate.solver import FLATTENING, LENS, Prior, Solution, solve

#: Radius of the frames in which turns and coarse patches are tried, px.
COARSE_PX = 90.0
FINE_PX = 240.0
#: Below this correlation the clock's sky is not believed and the window is searched too.
GOOD_TURN = 0.5
#: A solution needs as many agreeing patches.
LEAST_MATCHES = 12


@dataclass(frozen=True, eq=False)
class Placed:
    """pose and limb in pixels of the working picture; sky: the hypothesis it came from; track, light: the Sun's search;
    evidence: (N, N) local correlation between picture and prediction on the north-up frame of radius evidence_px."""

    pose: Pose
    limb: Limb
    sky: Sky
    track: SunTrack
    light: LightFit
    noise_pct_radius: float
    evidence: Float32Array
    evidence_px: float


@dataclass(frozen=True)
class _Trial:
    turn: Turn
    sky: Sky
    limb: Limb


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


def find_pose(luminance: Float32Array, limbs: list[Limb], taken: Taken, place: Place | None) -> Placed | NotFound:
    """The pose of the Moon in a linear-light picture (H, W), in its pixels; NotFound where no surface agrees."""
    display = np.sqrt(np.maximum(luminance, 0.0)).astype(np.float32)
    trials: list[_Trial] = []
    for skies in (by_clock(taken, place), by_window(taken, place), any_time()):
        if not skies or (trials and max(t.turn.correlation for t in trials) > GOOD_TURN):
            continue
        for limb in limbs:
            trials += _turns(display, limb, skies)
    trials.sort(key=lambda t: -t.turn.correlation)
    if not trials or trials[0].turn.correlation < 0.2:
        return _nothing()
    solved: list[tuple[_Trial, Solution]] = []
    for mirrored in (False, True):
        ours = [t for t in trials if t.turn.mirrored == mirrored][:3]
        tried = [(t, _coarse(display, t)) for t in _distinct(ours)]
        if tried:
            solved.append(max(tried, key=lambda s: _weight(s[1])))
    solved.sort(key=lambda s: -_weight(s[1]))
    trial, best = solved[0]
    rival = solved[1][1].agree if len(solved) > 1 else 0.0
    if best.pose.n_matches < 4 and not trial.turn.correlation > GOOD_TURN:
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
        if not any(k.limb is t.limb and abs((k.turn.north_screen_deg - t.turn.north_screen_deg + 180) % 360 - 180) < 8
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
        found += [_Trial(t, sky, limb) for t in best_turns(seen, seen_weight, values, weight)]
    assert OUTER < 1.0
    return found


def _start(trial: _Trial, display: Float32Array) -> Pose:
    height, width = display.shape
    sky, limb = trial.sky, trial.limb
    return Pose(
        limb.x, limb.y, limb.radius_px, trial.turn.north_screen_deg, trial.turn.mirrored, sky.libration_lat_deg,
        sky.libration_lon_deg, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg, sky.distance_radii,
        axis_x=(width - 1) / 2, axis_y=(height - 1) / 2, axis_scale_px=float(np.hypot(width, height) / 2),
    )


def _priors(sky: Sky) -> tuple[Prior, ...]:
    return (Prior("libration_lat_deg", sky.libration_lat_deg, sky.sigma_deg),
            Prior("libration_lon_deg", sky.libration_lon_deg, sky.sigma_deg))


def _limb_floor(limb: Limb) -> float:
    """What all edge points share: the edge's definition under blur, bloom and tone curve (px)."""
    return 0.003 * limb.radius_px + 0.15 * limb.edge_width_px


def _matches(display: Float32Array, pose: Pose, limb: Limb, radius: float, half: int, reach: int, spacing: int,
             ) -> Matches:
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, radius, pose.distance_radii)
    radiance = light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    frame, inside = to_frame(display, pose, radius)
    blur = max(0.5, 0.4 * limb.edge_width_px * radius / pose.radius_px)
    return match_patches(frame, inside, radiance, model, pose, half, reach, spacing, min(blur, 4.0))


def _coarse(display: Float32Array, trial: _Trial) -> Solution:
    start = _start(trial, display)
    matches = _matches(display, start, trial.limb, COARSE_PX, 9, 7, 7)
    return solve(start, matches, trial.limb, _limb_floor(trial.limb), _priors(trial.sky))


def _refine(display: Float32Array, trial: _Trial, best: Solution, rival: float, taken: Taken) -> Placed | NotFound:
    limb, pose = trial.limb, best.pose
    track = sun_track(taken, trial.sky)
    start = int(np.argmin(np.abs((track.lon_deg - pose.sub_solar_lon_deg + 180) % 360 - 180)))
    radius = float(np.clip(pose.radius_px, 80.0, FINE_PX))
    fit: LightFit | None = None
    solution = best
    for turn in range(2):
        fit, pose = _relight(display, pose, limb, track, start)
        start = round(fit.index)
        matches = _matches(display, pose, limb, radius, 10, 5 if turn == 0 else 4, 12)
        solution = solve(pose, matches, limb, _limb_floor(limb), _priors(trial.sky))
        solution = _with_terms_asked_for(pose, matches, solution, limb, trial.sky)
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


def _relight(display: Float32Array, pose: Pose, limb: Limb, track: SunTrack, start: int) -> tuple[LightFit, Pose]:
    """The Sun that the picture's light shows, and the pose lit by it."""
    radius = float(np.clip(pose.radius_px, 60.0, 110.0))
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, radius, pose.distance_radii)
    frame, inside = to_frame(display, pose, radius)
    blur = max(0.8, 0.4 * limb.edge_width_px * radius / pose.radius_px)
    fit = fit_light(frame, inside, model, track, start, blur)
    steps = np.arange(len(track.lon_deg))
    # longitudes run backwards in time and wrap: interpolate them unwrapped
    lon = float(np.interp(fit.index, steps, np.unwrap(track.lon_deg, period=360.0)))
    lat = float(np.interp(fit.index, steps, track.lat_deg))
    return fit, replace(pose, sub_solar_lat_deg=lat, sub_solar_lon_deg=(lon + 180.0) % 360.0 - 180.0)


def _with_terms_asked_for(pose: Pose, matches: Matches, plain: Solution, limb: Limb, sky: Sky) -> Solution:
    """Flattening and lens terms where they take a good part of the misfit away, else the plain solution."""
    if len(matches.surface) < 60:
        return plain
    chosen = plain
    for extra in (FLATTENING, LENS, FLATTENING + LENS):
        # the circle of the limb is no circle now: the texture alone carries centre and radius
        start = replace(plain.pose, flattening=0.004, flattening_screen_deg=45.0) if extra != LENS else plain.pose
        other = solve(start, matches, None, 0.0, _priors(sky), extra)
        if other.noise_px < (0.8 if chosen is plain else 0.9) * chosen.noise_px and other.agree >= chosen.agree - 0.02:
            chosen = other
    return chosen


def _evidence(display: Float32Array, pose: Pose, limb: Limb) -> tuple[Float32Array, float]:
    """Local correlation (-1..1) of picture and prediction, on the north-up frame of the returned radius."""
    radius = float(np.clip(pose.radius_px, 80.0, FINE_PX))
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, radius, pose.distance_radii)
    predicted = np.sqrt(light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg))
    blur = max(0.5, min(0.4 * limb.edge_width_px * radius / pose.radius_px, 4))
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
