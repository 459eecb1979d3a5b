"""Resolution actually reached on the Moon, km: what limb, texture and finest detail say, put together.

The figure is the full width at half maximum of the Gaussian blur that would show the Moon as the picture does, at the
disc's centre, with any sharpening undone as far as its traces tell: sharpening cannot show what blur and noise have
taken. Two things hold it down. The *blur* comes from the limb (any scale, a quarter of the pictures have none), from
the fall of the texture's gain (12 km and coarser) and, without a limb, from the picture's own power. The *loss* sets a
limit that no filter lifts: of coherence with the relit Moon, of the finest ground in noise, of what a JPEG's coder
rounded to nothing. The worst counts, nearly (a twelfth-power sum).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from moondesk.quality.detail import Detail, measure_detail
from moondesk.quality.edge import Edge, measure_edge
from moondesk.quality.jpeg_coding import coded_periods_px, sunlit_blocks
from moondesk.quality.texture import FWHM, WIDTH_OF_PERIOD, Texture, measure_texture
from moondesk.records import MOON_RADIUS_KM, ByteArray, NotFound, Pose
from moondesk.sentences import sentence


@dataclass(frozen=True)
class _Charge:
    """By how much traces of sharpening widen the claim, for what is left of sharpening when they are undone: halo per
    share of the limb's step, half as much between the bounds of HALO_CAMERA, and none from most on, where the fit
    itself makes the blur too wide; lift per share that the gain lifts above 1 by more than LIFT_USUAL."""

    halo: float
    most: float
    lift: float


#: Where cameras' own sharpening lies, and a usual lift. What is charged to the resolution itself, and more to the focus
#: (fitted on scenes): a blurred picture has lost its halo and must not gain by that what it lost in detail.
HALO_CAMERA, LIFT_USUAL = (0.03, 0.06), 0.15
OWN, FOCUS = _Charge(4.0, HALO_CAMERA[1], 1.0), _Charge(5.0, 0.15, 2.5)
#: By how much noise widens what the limb says, per display value of a pixel's deviation: noise at black and white hides
#: the traces of sharpening (2 to 4 % at 0.03 of noise).
NOISE_COST = 2.0
#: Uncertainties of the logarithm: of the limb beyond its own, of the gain at long periods and of the power.
EDGE_LN, GAIN_LN, DETAIL_LN = 0.08, 0.12, 0.3
#: The power's two widths come of one fit and are uncertain in opposite senses: so much of the logarithm of the one is
#: taken from the other where it is to say what noise has taken (of none, 0.3, 0.5 and 1 tried).
SHRUNK = 0.3
#: Gain's width below which the maps' own softness shows, km.
MAPS_KM = 12.0
WORSE = 12.0


@dataclass(frozen=True, kw_only=True)
class Resolution:
    """km: full width at half maximum on the Moon at the disc's centre; ln_sigma: one standard deviation of its
    logarithm; px: the same in pixels. source: what said it ("limb", "texture", "detail", "coding", joined by "and").

    focus_km: the same for judging the focus: wider by all that traces of sharpening leave in doubt.

    What it is made of: blur_km, the blur alone; lost_km, the width at which texture is lost in noise or coding (0 where
    neither shows); halo: overshoot of sharpening, share of the limb's step, and lift: of the texture's gain above 1 (0
    where nothing shows them).
    """

    km: float
    ln_sigma: float
    px: float
    source: str
    focus_km: float
    blur_km: float
    lost_km: float = 0.0
    halo: float = 0.0
    lift: float = 0.0


def measure_resolution(
    grey: ByteArray, green: ByteArray, pose: Pose, guess_px: float, noise: float = 0.0
) -> Resolution | NotFound:
    """grey, green: (H, W) luma and green channel of the full picture, or of a part of it that begins whole blocks of 8
    px from its corner (at the limb black and white cut each channel on its own); pose: in its pixels; guess_px: about
    the blur's sigma (half of the limb's edge width); noise: of a pixel, display
    values. NotFound where neither limb nor surface tells."""
    km_per_px = MOON_RADIUS_KM / pose.radius_px
    edge = measure_edge(green, pose, guess_px)
    texture = measure_texture(grey, pose)
    lost, lost_to_focus = (
        WIDTH_OF_PERIOD * period_px * km_per_px
        for period_px in coded_periods_px(grey, sunlit_blocks(grey, pose), noise)
    )
    said, lift = [], 0.0
    lost_in = "coding"
    if isinstance(edge, Edge):
        doubt = 1.0 + NOISE_COST * edge.noise
        said.append(("limb", doubt * FWHM * edge.sigma_px * km_per_px, float(np.hypot(EDGE_LN, edge.ln_sigma))))
    if isinstance(texture, Texture):
        lift = texture.lift
        gain = texture.gain_km
        fine = measure_detail(grey, pose) if not gain > 1.5 * MAPS_KM else None
        detail = fine if isinstance(fine, Detail) else None
        if np.isfinite(gain) and gain > 0.5 * MAPS_KM:
            said.append(("texture", gain, float(np.hypot(GAIN_LN, 0.3 * (MAPS_KM / gain) ** 2))))
        if detail is not None and not isinstance(edge, Edge):
            said.append(("detail", detail.blur_km, DETAIL_LN))
        elif not said:
            said.append(("texture", MAPS_KM, 0.4))
        fine_km = detail.noise_km ** (1.0 - SHRUNK) * detail.blur_km**SHRUNK if detail else 0.0
        for name, km in (("texture", texture.width_km), ("detail", fine_km)):
            if km > lost:
                lost, lost_in = km, name
    if not said:
        return NotFound("resolution", sentence("sharpness_unknown"), sentence("judge_sharpness"))
    halo = edge.halo if isinstance(edge, Edge) else 0.0
    weight = np.array([1.0 / s**2 for _, _, s in said])
    blur = float(np.exp(np.average([np.log(max(km, 0.2)) for _, km, _ in said], weights=weight)))
    km = _resolution_km(blur, lost, halo, lift, OWN)
    sources = [name for (name, _, _), w in zip(said, weight, strict=True) if w > 0.2 * weight.max()]
    if lost > blur and lost_in not in sources:
        sources.append(lost_in)
    focus_km = _resolution_km(blur, max(lost, lost_to_focus), halo, lift, FOCUS)
    return Resolution(
        km=km,
        ln_sigma=float(weight.sum() ** -0.5),
        px=km / km_per_px,
        source=" and ".join(sources),
        focus_km=focus_km,
        blur_km=blur,
        lost_km=lost,
        halo=halo,
        lift=lift,
    )


def _resolution_km(blur_km: float, lost_km: float, halo: float, lift: float, charge: _Charge) -> float:
    """The worse of blur and loss, nearly, the blur widened by what traces of sharpening leave in doubt."""
    low, high = HALO_CAMERA
    counted = min(halo, charge.most)
    widened = 1.0 + charge.halo * (counted - 0.5 * (min(max(counted, low), high) - low))
    widened *= 1.0 + charge.lift * max(lift - LIFT_USUAL, 0.0)
    return float(((widened * blur_km) ** WORSE + lost_km**WORSE) ** (1 / WORSE))
