"""How far a placement may be trusted, and what a picture without one is. "Wrong and sure" is the worst that can happen.

Bars were set on rendered scenes and real photographs (DEVELOPERS.md, decisions): right placements have hundreds of
agreeing patches and a rival far below; wrong ones have neither.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from annotate.records import Limb, Status
from annotate.refining import Placed

#: Below these a solution is not shown as a placement at all.
LEAST_AGREE = 0.30
#: Refraction flattens no more than this (Saemundsson's formula, Moon about 2 degrees up): more is taken askew.
MOST_FLATTENED = 0.058
#: Above these it may be said on air.
SURE_AGREE, SURE_MATCHES, SURE_RIVAL, SURE_NOISE_PCT, SURE_SIGMA_PCT = 0.55, 25, 0.6, 1.2, 0.35
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


def judge_placement(placed: Placed) -> Trust:
    pose = placed.pose
    if pose.score < LEAST_AGREE or (pose.score < 0.5 and pose.rival_score > 0.8 * pose.score):
        return Trust(False, False, f"Only {100 * pose.score:.0f} % of the places tried agree with the Moon's surface.")
    if pose.flattening > MOST_FLATTENED:
        out = f"The disc is {100 * pose.flattening:.0f} % out of round"
        return Trust(True, False, f"{out}: taken at the very horizon, or askew from a screen?")
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


@dataclass(frozen=True)
class Without:
    """What a picture without a placement is: status, reason, advice."""

    status: Status
    reason: str
    advice: str


SMALL_ADVICE = (
    "Zoom in or hold the phone to an eyepiece: a disc of 50 pixels or more across can be placed on the Moon. "
    "Lower the exposure until the seas show."
)
SUN_CAUTION = "If this is the Sun: never point a camera or telescope at it without a proper front filter."


def without_placement(limbs: list[Limb], shrink: float, spot_radius_px: float | None, reason: str, advice: str,
                      smooth_disc: bool) -> Without:
    """limbs: in working pixels; spot_radius_px: of the one bright small disc, full resolution, None where none;
    smooth_disc: the largest disc has no texture at all."""
    if spot_radius_px is not None and spot_radius_px < LEAST_RADIUS_PX:
        return Without(
            "disc_only", f"The bright disc is only {2 * spot_radius_px:.0f} pixels wide: too small to tell features.",
            SMALL_ADVICE,
        )
    whole = [limb for limb in limbs if limb.arc_deg >= 120 and limb.radius_px * shrink >= LEAST_RADIUS_PX]
    if not whole:
        return Without("unplaced", reason, advice)
    if smooth_disc:
        return Without(
            "not_moon", "The disc shows none of the Moon's seas and craters: a planet, a lamp, the Sun, or too bright.",
            f"Send the original, less exposed. {SUN_CAUTION}",
        )
    return Without("unplaced", reason, advice)


def texture_of(luminance: np.ndarray, limb: Limb) -> float:
    """Spread of the display values within 0.7 of the disc's radius, as a share of their mean (working pixels)."""
    y, x = np.ogrid[: luminance.shape[0], : luminance.shape[1]]
    inner = (x - limb.x) ** 2 + (y - limb.y) ** 2 < (0.7 * limb.radius_px) ** 2
    values = np.sqrt(np.maximum(luminance[inner], 0))
    return float(values.std() / values.mean()) if values.size and values.mean() > 0 else 0.0
