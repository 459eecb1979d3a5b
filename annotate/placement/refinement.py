"""From a start to the pose: coarse patches first, then the Sun from the light, fine patches, and the last drift.

    start -> coarse patches -> Sun -> fine patches -> Sun -> drift -> drift -> Pose

Patches are searched for while the pose may be several frame pixels off; once it is within a fraction of one, what is
left is measured as drift, which takes a tenth of the time. How many patches agree is counted on those that were
searched for: they could have been found anywhere.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from moondesk.ephemeris.sky_hypotheses import SkyHypothesis, SunTrack, free_track, sun_track
from moondesk.moon.geometry import phase_angle_deg
from moondesk.moon.relight import DiscModel, disc_model
from moondesk.placement.blur_kernel import smear_of
from moondesk.placement.distortion import solve_with_distortion
from moondesk.placement.evidence import NOTHING_MEASURED, Evidence
from moondesk.placement.matching import (
    Matches,
    NorthUpFrame,
    PatchSearch,
    Prediction,
    Pyramid,
    match_patches,
    predict,
    to_frame,
)
from moondesk.placement.second_look import SecondLook, look_again
from moondesk.placement.solver import Constraints, Prior, Solution, agreement, solve
from moondesk.placement.sun_search import LightFit, NorthUp, fit_light
from moondesk.placement.surface_drift import measure_drift
from moondesk.records import Limb, NotFound, Pose, TimeReadings
from moondesk.sentences import sentence

#: Radius of the frames in which coarse and fine patches are tried, px.
COARSE_PX, FINE_PX = 90.0, 140.0
#: A sky whose libration is less certain than this is searched for in two steps.
WIDE_SIGMA_DEG = 2.0
#: A solution needs as many agreeing patches.
LEAST_MATCHES = 12
#: Where more than a tenth of the neighbourhoods is off by this, %R, a bending is looked for, so often at most; it must
#: leave less than this share.
BENT_PCT, MOST_BENT, ASKED_FOR = 0.25, 2, 0.8
#: Patches that scatter less than this, frame px, need no search any more.
NEARLY_PX = 0.6
#: A drift that moved no point further than this, in radii, is not measured again.
STILL = 0.002
#: How often a free search for the Sun is moved on along its way, 16 degrees at a time.
MOST_TRACKS = 10
#: Models of the disc are made for librations in such steps.
MODEL_STEP_DEG = 0.3
#: A model serves for a pose whose libration is no further off than this.
SAME_MODEL_DEG = 0.4


@dataclass(frozen=True, eq=False)
class Start:
    """A start for the solver: pose under a sky, the limb it came from (None: keypoints), and how well it looked."""

    pose: Pose
    sky: SkyHypothesis
    limb: Limb | None
    merit: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Placement:
    """pose and limb in pixels of the working picture; sky: the hypothesis it came from; track, light: the Sun's search;
    noise_pct_radius: scatter of the patches, percent of the radius; evidence: what else the picture says of it."""

    pose: Pose
    limb: Limb | None
    sky: SkyHypothesis
    track: SunTrack
    light: LightFit
    noise_pct_radius: float
    evidence: Evidence = NOTHING_MEASURED


def coarse(picture: Pyramid, start: Start) -> Solution:
    """The start's pose on a coarse frame: cheap, and good enough to tell hands and turns apart."""
    limb, pose = start.limb, start.pose
    constraints = _constraints(limb, start.sky)
    radius = min(max(COARSE_PX / slimness(pose), 0.4 * _frame_px(pose, picture)), 240.0)
    if start.sky.sigma_deg > WIDE_SIGMA_DEG and limb is not None:
        # the libration may be 8 degrees off, 14 %R at the middle: look that far, on a frame half as fine
        reach = round(0.17 * radius / 2)
        matches = _search_patches(picture, pose, limb, radius / 2, PatchSearch(7, reach, 4, most=200))
        pose = solve(pose, matches, constraints).pose
    matches = _search_patches(picture, pose, limb, radius, PatchSearch(9, 7, 6, most=100))
    return solve(pose, matches, constraints, rounds=8)


@dataclass(frozen=True, eq=False, kw_only=True)
class _Fine:
    """A pose made fine: the patches that were searched for it, the light, the last frame and its counterpart."""

    solution: Solution
    seen: Matches
    track: SunTrack
    light: LightFit
    frame: NorthUpFrame
    prediction: Prediction


def refine(picture: Pyramid, start: Start, coarsely: Pose, rival: float, taken: TimeReadings) -> Placement | NotFound:
    """The start's coarse pose made as good as the picture allows. rival: agreement of the best other hand."""
    limb, sky = start.limb, start.sky
    track, _, pose = _first_light(picture, coarsely, limb, taken, sky)
    fine = _fine(picture, pose, limb, sky, track)
    look = look_again(fine.frame, fine.prediction, fine.solution.pose)
    for _ in range(MOST_BENT):
        # patches out of the solver's reach may ask for a bending that brings them all in
        if len(look.off) < LEAST_MATCHES or np.percentile(np.hypot(*look.smooth.T), 90) < BENT_PCT:
            break
        bent = solve_with_distortion(fine.solution.pose, look.matches, _constraints(limb, sky))
        again = _fine(picture, bent.pose, limb, sky, track)
        more = look_again(again.frame, again.prediction, again.solution.pose)
        if not _less(more, look):
            break
        fine, look = again, more
    share, count = agreement(fine.solution.pose, fine.seen)
    pose = replace(fine.solution.pose, score=share, rival_score=rival, n_matches=count)
    if count < LEAST_MATCHES:
        code = {0: "no_place_agrees", 1: "one_place_agrees"}.get(count, "places_agree")
        return NotFound("pose", sentence(code, count=count), sentence("sharper_or_more"))
    noise = 100 * fine.solution.noise_px / pose.radius_px
    evidence = Evidence(look=look, smear=smear_of(fine.frame, fine.prediction), field=picture.field)
    return Placement(
        pose=pose, limb=limb, sky=sky, track=fine.track, light=fine.light, noise_pct_radius=noise, evidence=evidence
    )


def _less(one: SecondLook, other: SecondLook) -> bool:
    """The first leaves less off than the second, and finds as much."""
    left = [float(np.median(np.hypot(*look.off.T))) if len(look.off) else np.inf for look in (one, other)]
    return left[0] < ASKED_FOR * left[1] and len(one.off) > 0.9 * len(other.off)


def _fine(picture: Pyramid, pose: Pose, limb: Limb | None, sky: SkyHypothesis, track: SunTrack) -> _Fine:
    """Fine patches, the Sun again, and the last drift, from a pose lit by about the right Sun."""
    model = _model(pose, _frame_px(pose, picture))
    constraints = _constraints(limb, sky)
    search = PatchSearch(8, 4, 8, most=250)
    seen = match_patches(to_frame(picture, pose, model), _predict(pose, limb, model), pose, search)
    solution = solve_with_distortion(pose, seen, constraints)
    if _libration_between(pose, solution.pose) > SAME_MODEL_DEG:
        model = _model(solution.pose, model.radius_px)
    # the second time the Sun is nearly known: a few hours either side do, and reaching the end tries them all
    start = _nearest(track, solution.pose.sub_solar_lon_deg)
    fit, pose = relight(picture, solution.pose, limb, track, start, near=True)
    prediction = _predict(pose, limb, model)
    if solution.noise_px < NEARLY_PX * seen.frame_px:
        for _ in range(2):
            matches = measure_drift(to_frame(picture, pose, model), prediction, pose, 8, 8)
            solution = solve_with_distortion(pose, matches, constraints)
            before, pose = pose, solution.pose
            if _distance_between(before, pose) < STILL:
                break
    else:
        seen = match_patches(to_frame(picture, pose, model), prediction, pose, PatchSearch(8, 4, 10))
        solution = solve_with_distortion(pose, seen, constraints)
    return _Fine(
        solution=solution,
        seen=seen,
        track=track,
        light=fit,
        frame=to_frame(picture, solution.pose, model),
        prediction=prediction,
    )


def hold_pose(picture: Pyramid, pose: Pose, sky: SkyHypothesis, limb: Limb | None, taken: TimeReadings) -> Placement:
    """A pose that is not to be moved: only the Sun is taken from the picture's light."""
    track, fit, pose = _first_light(picture, pose, limb, taken, sky)
    return Placement(
        pose=pose,
        limb=limb,
        sky=sky,
        track=track,
        light=fit,
        noise_pct_radius=float("nan"),
        evidence=Evidence(field=picture.field),
    )


def _first_light(
    picture: Pyramid, pose: Pose, limb: Limb | None, taken: TimeReadings, sky: SkyHypothesis
) -> tuple[SunTrack, LightFit, Pose]:
    """The Sun among those that the time allows; among free ones where it lies beyond their end: an old picture's."""
    track = sun_track(taken, sky)
    fit, lit = relight(picture, pose, limb, track, _nearest(track, pose.sub_solar_lon_deg))
    for _ in range(MOST_TRACKS):
        if not fit.at_edge:
            break
        track = free_track(lit.sub_solar_lon_deg)
        fit, lit = relight(picture, pose, limb, track, _nearest(track, lit.sub_solar_lon_deg))
    return track, fit, lit


def relight(
    picture: Pyramid, pose: Pose, limb: Limb | None, track: SunTrack, start: int, near: bool = False
) -> tuple[LightFit, Pose]:
    """The Sun that the picture's light shows, and the pose lit by it. near: see `fit_light`."""
    radius = float(np.clip(pose.radius_px, 60.0, max(90.0, 0.375 * _frame_px(pose, picture))))
    model = _model(pose, radius)
    frame = to_frame(picture, pose, model)
    blur = max(0.8, 0.4 * _edge_width(limb) * radius / pose.radius_px)
    fit = fit_light(NorthUp(frame.values, frame.inside), model, track, start, blur, near)
    steps = np.arange(len(track.lon_deg))
    # longitudes run backwards in time and wrap: interpolate them unwrapped
    lon = float(np.interp(fit.index, steps, np.unwrap(track.lon_deg, period=360.0)))
    lat = float(np.interp(fit.index, steps, track.lat_deg))
    return fit, replace(pose, sub_solar_lat_deg=lat, sub_solar_lon_deg=(lon + 180.0) % 360.0 - 180.0)


def _nearest(track: SunTrack, lon_deg: float) -> int:
    return int(np.argmin(np.abs((track.lon_deg - lon_deg + 180) % 360 - 180)))


def _libration_between(a: Pose, b: Pose) -> float:
    return float(np.hypot(a.libration_lat_deg - b.libration_lat_deg, a.libration_lon_deg - b.libration_lon_deg))


def _distance_between(a: Pose, b: Pose) -> float:
    """How far at most a point of the disc lies apart under two poses, in radii of the disc."""
    turn = np.radians(abs((a.north_screen_deg - b.north_screen_deg + 180.0) % 360.0 - 180.0) + _libration_between(a, b))
    shape = sum(
        abs(one - other)
        for one, other in (
            (a.flattening, b.flattening),
            (a.radial_k1, b.radial_k1),
            (a.tilt, b.tilt),
            (a.tangential, b.tangential),
        )
    )
    return float(np.hypot(a.x - b.x, a.y - b.y) + abs(a.radius_px - b.radius_px)) / b.radius_px + float(turn) + shape


def _constraints(limb: Limb | None, sky: SkyHypothesis) -> Constraints:
    """The limb, with what all edge points share (the edge's definition under blur, bloom and tone curve), and the
    libration of the sky."""
    priors = (
        Prior("libration_lat_deg", sky.libration_lat_deg, sky.sigma_deg),
        Prior("libration_lon_deg", sky.libration_lon_deg, sky.sigma_deg),
    )
    floor_px = 0.0 if limb is None else 0.003 * limb.radius_px + 0.15 * limb.edge_width_px
    return Constraints(limb, floor_px, priors)


def _edge_width(limb: Limb | None) -> float:
    """Width of the picture's edges, px; without a limb that of a fair picture."""
    return 2.5 if limb is None else limb.edge_width_px


def _frame_px(pose: Pose, picture: Pyramid) -> float:
    """Radius of the fine frame: larger where the frame cuts most of the disc away or only a crescent is lit, so that
    enough patches are left."""
    height, width = picture.image.shape
    share = min(1.0, width * height / (np.pi * pose.radius_px**2))
    return float(np.clip(pose.radius_px, 80.0, min(FINE_PX / (np.sqrt(share) * slimness(pose)), 2.5 * FINE_PX)))


def slimness(pose: Pose) -> float:
    """1 from two fifths lit on; for a crescent in proportion to its width."""
    phase = phase_angle_deg(
        pose.libration_lat_deg, pose.libration_lon_deg, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
    )
    return float(np.clip(1.25 * (1 + np.cos(np.radians(phase))), 0.2, 1.0))


def _model(pose: Pose, radius: float) -> DiscModel:
    """The disc for the pose's libration to MODEL_STEP_DEG: the picture is looked up under the pose itself, so that one
    model serves both hands, the light and the patches."""
    lat, lon = (MODEL_STEP_DEG * round(v / MODEL_STEP_DEG) for v in (pose.libration_lat_deg, pose.libration_lon_deg))
    return _cached_model(lat, lon, round(radius, 1), float(round(pose.distance_radii)))


@lru_cache(maxsize=3)
def _cached_model(lat: float, lon: float, radius: float, distance: float) -> DiscModel:
    return disc_model(lat, lon, radius, distance)


def _predict(pose: Pose, limb: Limb | None, model: DiscModel) -> Prediction:
    """What the pose's Sun makes the model look like, as blurred as the picture."""
    blur = min(max(0.5, 0.4 * _edge_width(limb) * model.radius_px / pose.radius_px), 4.0)
    return predict(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg, blur)


def _search_patches(picture: Pyramid, pose: Pose, limb: Limb | None, radius: float, search: PatchSearch) -> Matches:
    model = _model(pose, radius)
    return match_patches(to_frame(picture, pose, model), _predict(pose, limb, model), pose, search)
