"""How a picture is bent: which terms of air, lens and tilt are solved for, and when they are believed.

A round disc needs none. Air near the horizon flattens; a lens bends about the picture's middle; a picture taken askew
has a tilt; a phone held to an eyepiece looks through it off the middle. More terms always fit better, so each step must
take a good part of the misfit away, and the last two must do so on patches too that they were not fitted to.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from moondesk.moon.geometry import disc_axes, project
from moondesk.placement.matching import Matches
from moondesk.placement.solver import (
    FLATTENING,
    LENS,
    TANGENTIAL,
    TILT,
    Constraints,
    Prior,
    Solution,
    gain_of,
    predict_pixels,
    solve,
)
from moondesk.records import FloatArray, Pose

#: Flattening or a lens is believed where it takes the misfit below this share of what it was without; solved for
#: only where a linear step promises at least the second.
ASKED_FOR, PROMISED = 0.8, 0.9
#: A tilt or an eyepiece, which bend most, only below this share, also of patches that were left out of the fit.
BENT = 0.6
#: Fewer patches do not settle any of them.
LEAST = 60
#: Shares of the radius (common practice: wide phone lenses reach 0.1; an eyepiece at the disc's edge no more).
MOST_FLATTENING, MOST_K1, MOST_TILT, MOST_TANGENTIAL = 0.25, 0.2, 0.2, 0.1
#: Side of the squares, radii, of which every other one is left out.
SQUARE = 0.3

SKEWED, EYEPIECE = FLATTENING + TILT, FLATTENING + LENS + TANGENTIAL


def solve_with_distortion(pose: Pose, matches: Matches, constraints: Constraints) -> Solution:
    """Without any bending; with it only where it takes a good part of the misfit away."""
    plain = solve(_without_distortion(pose), matches, constraints)
    if len(matches.surface) < LEAST or gain_of(plain, matches, FLATTENING + LENS + TANGENTIAL) > PROMISED:
        return plain
    # of few patches the scatter itself is uncertain, by the root of their number
    enough = min(ASKED_FOR, 1.0 - 2.5 / np.sqrt(len(matches.surface)))
    chosen, priors = plain, constraints.priors
    for extras, share in (((FLATTENING, LENS), enough), ((FLATTENING + LENS,), enough), ((SKEWED, EYEPIECE), BENT)):
        # the circle of the limb is no circle now: the texture alone carries centre and radius
        fits = [
            (extra, solve(_start(plain.pose, extra), matches, Constraints(priors=priors), extra)) for extra in extras
        ]
        extra, best = min(fits, key=lambda f: f[1].noise_px)
        if (
            best.noise_px < share * chosen.noise_px
            and _possible(best.pose)
            and (share > BENT or _survives_holdout(plain.pose, matches, priors, extra, chosen.pose.parameters[6:]))
        ):
            chosen = best
    return chosen


def _without_distortion(pose: Pose) -> Pose:
    return replace(pose, flattening=0.0, radial_k1=0.0, tilt=0.0, tangential=0.0)


def _start(pose: Pose, extra: tuple[str, ...]) -> Pose:
    """A vector of no size has no direction to begin with."""
    bent = replace(pose, flattening=0.004, flattening_screen_deg=45.0) if extra != LENS else pose
    if extra == SKEWED:
        bent = replace(bent, tilt=0.002, tilt_screen_deg=45.0)
    return replace(bent, tangential=0.002, tangential_screen_deg=45.0) if extra == EYEPIECE else bent


def _survives_holdout(
    pose: Pose, matches: Matches, priors: tuple[Prior, ...], extra: tuple[str, ...], simpler: tuple[str, ...]
) -> bool:
    """Fitted to every other square of the disc, the terms also serve the squares between, better than the simpler."""
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    disc = project(matches.surface, axes, pose.distance_radii)
    odd = (np.floor(disc.u / SQUARE) + np.floor(disc.v / SQUARE)) % 2 > 0
    left: list[float] = []
    for names in (extra, simpler):
        missed: list[FloatArray] = []
        for fitted in (odd, ~odd):
            fit = solve(
                _start(pose, names) if names else pose, _part(matches, fitted), Constraints(priors=priors), names
            )
            missed.append(np.hypot(*(matches.xy[~fitted] - predict_pixels(fit.pose, matches.surface[~fitted])).T))
        left.append(float(np.median(np.concatenate(missed))))
    return left[0] < BENT * left[1]


def _part(matches: Matches, which: np.ndarray) -> Matches:
    return replace(
        matches,
        surface=matches.surface[which],
        xy=matches.xy[which],
        correlation=matches.correlation[which],
        sharpness=matches.sharpness[which],
    )


def _possible(pose: Pose) -> bool:
    """No air flattens and no lens bends more than this; a small disc's few patches can ask for it all the same."""
    lens = abs(pose.radial_k1)
    if pose.tangential:  # an eyepiece's field may be much smaller than the picture
        lens *= min((pose.radius_px / pose.axis_scale_px) ** 2, 1.0)
    return (
        pose.flattening < MOST_FLATTENING
        and lens < MOST_K1
        and pose.tilt < MOST_TILT
        and pose.tangential < MOST_TANGENTIAL
    )
