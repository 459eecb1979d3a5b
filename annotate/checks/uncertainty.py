"""How far a name may be off: the pose's covariance as wide as scenes showed it to be, and what it knows nothing of."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from moondesk.checks.colour_shift import colours_apart
from moondesk.checks.limb_witness import outline_off, side_confirmed
from moondesk.moon.geometry import disc_axes, disc_to_pixel, lift, project, unit_vector
from moondesk.placement.evidence import Evidence, extra_pct, shift_pct
from moondesk.placement.refinement import Placement, slimness
from moondesk.placement.solver import pixel_sigma
from moondesk.records import FeatureMark, FloatArray, Picture, Pose
from moondesk.visibility.marks import FLOOR_PCT_RADIUS

#: The formal covariance takes patches as independent; they share map errors, blur and overlap (tests/benchmarks/RESULTS.md). Those of
#: a crescent all lie along one arc: its share grows with this power of its slimness.
COVARIANCE_SCALE, CRESCENT_POWER = 11.0, 1.4
#: A name less certain than this (%R), and than this share of the feature's radius, is none.
NO_NAME_PCT, NO_NAME_SHARE = 1.5, 0.5
#: Points over the disc, and the sine of the Sun's height from which one counts as lit.
LIT_POINTS, LIT_SINE = 400, 0.05
#: Display-linear light that counts as burnt out, and how much of the disc's middle is asked, radii.
BURNT, MIDDLE = 0.97, 0.8


def widening_factor(pose: Pose) -> float:
    """By how much the formal covariance of a pose is too small, as found on scenes."""
    return float(COVARIANCE_SCALE / slimness(pose) ** CRESCENT_POWER)


def with_sigma(pose: Pose) -> Pose:
    """Covariance widened to what was found on scenes, and the typical uncertainty over the visible disc."""
    covariance = tuple(widening_factor(pose) * c for c in pose.covariance)
    wide = replace(pose, covariance=covariance)
    angle = np.radians(np.arange(0, 360, 30))
    rings = [
        np.column_stack([np.cos(r) * np.ones(12), np.sin(r) * np.cos(angle), np.sin(r) * np.sin(angle)])
        for r in np.radians([15.0, 35.0, 60.0])
    ]
    sigma = pixel_sigma(wide, np.vstack(rings))
    return replace(wide, sigma_pct_radius=float(np.hypot(100 * np.median(sigma) / pose.radius_px, FLOOR_PCT_RADIUS)))


def with_evidence(placed: Placement, picture: Picture) -> Placement:
    """Sigma scaled, and all that the picture says for and against the pose. placed: in its working pixels."""
    pose = with_sigma(placed.pose)
    evidence = replace(placed.evidence, colours_pct=colours_apart(picture, pose), burnt=burnt_share(picture, pose))
    look = evidence.look
    outline = outline_off(picture.luminance, pose, evidence.field) if look is not None else None
    if look is not None and outline is not None and not side_confirmed(look, pose, outline):
        evidence = replace(evidence, edge_side=outline.side, edge_off_pct=outline.off_pct)
    lit = _sunlit_points(pose, picture)
    if look is not None and len(look.uv) and len(lit):
        evidence = replace(evidence, bent_pct=float(np.percentile(shift_pct(look, lit)[0], 95)))
        pose = replace(
            pose, sigma_pct_radius=float(np.hypot(pose.sigma_pct_radius, np.median(extra_pct(evidence, lit))))
        )
    return replace(placed, pose=pose, evidence=evidence)


def _sunlit_points(pose: Pose, picture: Picture) -> FloatArray:
    """(M, 2) disc points spread evenly over what is lit and inside the picture, up to its very edge."""
    number = np.arange(LIT_POINTS) + 0.5
    radius, turn = 0.985 * np.sqrt(number / LIT_POINTS), np.pi * (1 + 5**0.5) * number
    uv = np.column_stack([radius * np.cos(turn), radius * np.sin(turn)])
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    lit = (
        lift(uv[:, 0], uv[:, 1], axes, pose.distance_radii)
        @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
        > LIT_SINE
    )
    x, y = disc_to_pixel(pose, uv[:, 0], uv[:, 1])
    height, width = picture.luminance.shape
    shown: FloatArray = uv[lit & (x >= 0) & (y >= 0) & (x <= width - 1) & (y <= height - 1)]
    return shown


def burnt_share(picture: Picture, pose: Pose) -> float:
    """Share of the disc's middle, inside the picture, that is burnt out."""
    height, width = picture.luminance.shape
    step = max(int(pose.radius_px / 100), 1)
    reach = MIDDLE * pose.radius_px
    y = np.arange(max(int(pose.y - reach), 0), min(int(pose.y + reach) + 1, height), step)
    x = np.arange(max(int(pose.x - reach), 0), min(int(pose.x + reach) + 1, width), step)
    if not (len(x) and len(y)):
        return 0.0
    inside = (x[None, :] - pose.x) ** 2 + (y[:, None] - pose.y) ** 2 < reach**2
    values = picture.luminance[np.ix_(y, x)][inside]
    return float((values > BURNT).mean()) if values.size else 0.0


def with_uncertainty(marks: tuple[FeatureMark, ...], pose: Pose, evidence: Evidence) -> tuple[FeatureMark, ...]:
    """The marks of a pose with what its covariance knows nothing of; what is too uncertain to be named is not seen."""
    if not marks:
        return marks
    surface = unit_vector([m.feature.lat_deg for m in marks], [m.feature.lon_deg for m in marks])
    disc = project(surface, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
    more: FloatArray = extra_pct(evidence, np.column_stack([disc.u, disc.v])) / 100 * pose.radius_px
    least = NO_NAME_PCT / 100 * pose.radius_px
    told = list(marks)
    for k, (mark, extra) in enumerate(zip(marks, more.tolist(), strict=True)):
        if extra > 0.1 * mark.sigma_px:  # less adds half a percent
            sigma = math.hypot(mark.sigma_px, extra)
            named = sigma < max(least, NO_NAME_SHARE * mark.radius_px)
            told[k] = replace(mark, sigma_px=sigma, seen=mark.seen if named else 0.0)
    return tuple(told)
