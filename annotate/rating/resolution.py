"""Resolution actually reached on the Moon, km: what limb, texture and finest detail say, put together.

The figure is the full width at half maximum of the Gaussian blur that would show the Moon as the picture does, at the
disc's centre, with any sharpening undone as far as its traces tell: sharpening cannot show what blur and noise have
taken. Two things hold it down. The *blur* comes from the limb (any scale, a quarter of the pictures have none), from
the fall of the texture's gain (12 km and coarser) and from the picture's own power (close-ups). The *loss* of coherence
with the relit Moon sets a limit that no filter lifts. The worse of both counts, nearly (a twelfth-power sum).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from annotate.rating.detail import Detail, measure_detail
from annotate.rating.edge import Edge, measure_edge
from annotate.rating.texture import Texture, measure_texture
from annotate.records import MOON_RADIUS_KM, ByteArray, NotFound, Pose

FWHM = 2.3548
#: By how much a halo widens the claim, for what is left of sharpening when its traces are undone: this much per share
#: of the step, half as much between the two bounds, where cameras' own sharpening lies. The same per share that the
#: gain lifts above 1 by more than LIFT_USUAL (all fitted on scenes).
HALO_COST, HALO_CAMERA = 4.0, (0.03, 0.06)
LIFT_COST, LIFT_USUAL = 2.5, 0.15
#: By how much noise widens what the limb says, per display value of a pixel's deviation: noise at black and white hides
#: the traces of sharpening (2 to 4 % at 0.03 of noise).
NOISE_COST = 1.5
#: Uncertainties of the logarithm: of the limb beyond its own, of the gain at long periods and of the power.
EDGE_LN, GAIN_LN, DETAIL_LN = 0.08, 0.12, 0.3
#: Gain's width below which the maps' own softness shows, km.
MAPS_KM = 12.0
WORSE = 12.0


@dataclass(frozen=True)
class Resolution:
    """km: full width at half maximum on the Moon at the disc's centre; ln_sigma: one standard deviation of its
    logarithm; px: the same in pixels. source: what said it ("limb", "texture", "detail", joined by "and").

    What it is made of: blur_km, the blur alone; lost_km, the width at which texture is lost in noise (0 where none was
    compared); halo: overshoot of sharpening, share of the limb's step, and lift: of the texture's gain above 1 (0 where
    nothing shows them).
    """

    km: float
    ln_sigma: float
    px: float
    source: str
    blur_km: float
    lost_km: float = 0.0
    halo: float = 0.0
    lift: float = 0.0


def measure_resolution(grey: ByteArray, green: ByteArray, pose: Pose, guess_px: float) -> Resolution | NotFound:
    """grey, green: (H, W) luma and green channel of the full picture (at the limb black and white cut each channel on
    its own); pose: in its pixels; guess_px: about the blur's sigma (half of the limb's edge width). NotFound where
    neither limb nor surface tells."""
    km_per_px = MOON_RADIUS_KM / pose.radius_px
    edge = measure_edge(green, pose, guess_px)
    texture = measure_texture(grey, pose)
    said = []
    if isinstance(edge, Edge):
        doubt = 1.0 + NOISE_COST * edge.noise
        said.append(("limb", doubt * FWHM * edge.sigma_px * km_per_px, float(np.hypot(EDGE_LN, edge.ln_sigma))))
    if isinstance(texture, Texture):
        said += _from_texture(grey, pose, texture, edge)
    if not said:
        return NotFound("resolution", "Neither the limb nor the surface shows how sharp the picture is.",
                        "Judge its sharpness by eye.")
    halo = edge.halo if isinstance(edge, Edge) else 0.0
    lost, lift = (texture.width_km, texture.lift) if isinstance(texture, Texture) else (0.0, 0.0)
    weight = np.array([1.0 / s**2 for _, _, s in said])
    blur = float(np.exp(np.average([np.log(max(km, 0.2)) for _, km, _ in said], weights=weight)))
    km = reached_km(blur, lost, halo, lift)
    sources = [name for (name, _, _), w in zip(said, weight, strict=True) if w > 0.2 * weight.max()]
    if lost > blur and "texture" not in sources:
        sources.append("texture")
    return Resolution(km, float(weight.sum() ** -0.5), km / km_per_px, " and ".join(sources), blur, lost, halo, lift)


def reached_km(blur_km: float, lost_km: float, halo: float, lift: float) -> float:
    """The worse of blur and loss, nearly, the blur widened by what traces of sharpening leave in doubt."""
    low, high = HALO_CAMERA
    widened = 1.0 + HALO_COST * (halo - 0.5 * (min(max(halo, low), high) - low))
    widened *= 1.0 + LIFT_COST * max(lift - LIFT_USUAL, 0.0)
    return float(((widened * blur_km) ** WORSE + lost_km**WORSE) ** (1 / WORSE))


def _from_texture(grey: ByteArray, pose: Pose, texture: Texture, edge: Edge | NotFound,
                  ) -> list[tuple[str, float, float]]:
    """What the gain says, and where it says too little without a limb, the finest detail: (name, km, ln sigma)."""
    said = []
    gain = texture.gain_km
    if np.isfinite(gain) and gain > 0.5 * MAPS_KM:
        said.append(("texture", gain, float(np.hypot(GAIN_LN, 0.3 * (MAPS_KM / gain) ** 2))))
    if not isinstance(edge, Edge) and not gain > 1.5 * MAPS_KM:
        detail = measure_detail(grey, pose)
        if isinstance(detail, Detail):
            both = (detail.blur_km**WORSE + detail.noise_km**WORSE) ** (1 / WORSE)
            said.append(("detail", both, DETAIL_LN))
        elif not said:
            said.append(("texture", MAPS_KM, 0.4))
    return said
