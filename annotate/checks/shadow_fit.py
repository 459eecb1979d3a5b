"""The Earth's shadow read from a picture: at which instant of an eclipse the disc had the light that it shows.

    disc on a frame -> full Moon's light there -> the shadow of each instant of the eclipse -> how alike, by ranks

Ranks, because nobody knows the exposure, the tone curve or how dark the umbra was that night: only that light grows
with the full Moon's, and with the distance from the shadow's axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

import cv2
import numpy as np
from scipy.stats import rankdata

from moondesk.ephemeris.aspect import aspect_at, unix_seconds_of, utc_of
from moondesk.ephemeris.earth_shadow import EclipseState, LunarEclipse, ShadowCone, cone_at, shadow_at
from moondesk.moon.geometry import disc_to_pixel
from moondesk.moon.relight import disc_model, frame_grid, light
from moondesk.records import Float32Array, FloatArray, Pose

#: Radius of the frame on which light and prediction are compared, px, and every which of its pixels.
COMPARE_PX, EVERY = 90.0, 3
#: Outermost part of the disc that is compared, radii: the limb's edge is blurred and the eclipsed one's lost.
WITHIN = 0.95
#: Steps of time, the first coarse, minutes.
COARSE, FINE = 4.0, 1.0
#: Edges that are tried, radii: how soft, how far outside the umbra's own a curved one lies, and where on the disc a
#: straight one; and what is left of the light behind them.
SOFT, CURVED_AWAY, STRAIGHT_EDGES = (0.02, 0.06, 0.15, 0.3, 0.5), np.arange(-0.2, 0.41, 0.1), np.arange(-0.9, 0.91, 0.1)
NIGHT = 0.002
#: Fewer pixels are not compared.
LEAST = 300


@dataclass(frozen=True, kw_only=True)
class ShadowFit:
    """The instant at which the shadow fits best. agreement: of the picture with that light, -1..1, by ranks; plain: with
    the full Moon's alone; sigma_minutes: how well the instant is settled; state, umbral_magnitude: then; dark: how much
    darker what lies in the umbra is than it would be without, 0..1 of the ranks, None where nothing does."""

    utc: datetime
    agreement: float
    plain: float
    sigma_minutes: float
    state: EclipseState
    umbral_magnitude: float
    dark: float | None


@dataclass(frozen=True, eq=False)
class DiscLight:
    """What is compared of a disc: the picture's light and the full Moon's as ranks of mean 0 and length 1, the full
    Moon's as it is, and the ground's vertical (N, 3)."""

    seen: FloatArray
    full: FloatArray
    full_light: FloatArray
    ground: FloatArray


def disc_light(luminance: Float32Array, pose: Pose, when: datetime) -> DiscLight | None:
    """luminance: (H, W) linear light; pose: in its pixels; when: about which the Sun stands. None where too little of the
    disc is in the picture."""
    u, v, _ = frame_grid(COMPARE_PX)
    x, y = disc_to_pixel(pose, u, v)
    height, width = luminance.shape
    blurred = cv2.GaussianBlur(np.asarray(luminance, np.float32), (0, 0), max(pose.radius_px / COMPARE_PX, 0.6))
    seen = cv2.remap(blurred, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR)
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, COMPARE_PX, pose.distance_radii)
    sky = aspect_at(when, None)
    full = light(model, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg)
    use = model.inside & (u * u + v * v < WITHIN**2) & (x > 1) & (y > 1) & (x < width - 2) & (y < height - 2)
    thin = np.zeros_like(use)
    thin[::EVERY, ::EVERY] = True
    use &= thin
    if use.sum() < LEAST:
        return None
    return DiscLight(_ranks(seen[use]), _ranks(full[use]), full[use].astype(float), model.vertical[use].astype(float))


def fit_shadow(disc: DiscLight, eclipse: LunarEclipse, near: datetime | None = None, minutes: float = 0.0) -> ShadowFit:
    """The instant of an eclipse at which its shadow fits best; of those within some minutes of `near`, where given."""
    first, last = unix_seconds_of(eclipse.p1), unix_seconds_of(eclipse.p4)
    if near is not None:
        middle = unix_seconds_of(near)
        first, last = max(first, middle - 60 * minutes), min(last, middle + 60 * minutes)
    last = max(first, last)
    coarse = _agreements(disc, np.arange(first, last + 1.0, 60 * COARSE))
    best = max(coarse, key=lambda one: one[1])[0]
    span = np.arange(max(first, best - 60 * COARSE), min(last, best + 60 * COARSE) + 1.0, 60 * FINE)
    table = sorted({*coarse, *_agreements(disc, span)})
    when, agreement = max(table, key=lambda one: one[1])
    cone, shadow = _cone(when), shadow_at(utc_of(when))
    return ShadowFit(
        utc=utc_of(when), agreement=agreement, plain=float(disc.seen @ disc.full), sigma_minutes=_sigma(table, when),
        state=shadow.state, umbral_magnitude=shadow.umbral_magnitude, dark=_darker(disc, cone),
    )  # fmt: skip


def is_rounder_than_straight(disc: DiscLight, fit: ShadowFit) -> bool:
    """Whether the umbra's curved edge explains a picture better than any straight one, hard or soft: a roof, a wall, a
    branch before a full Moon."""
    curved = fit.agreement
    for minutes in (-12.0, 0.0, 12.0):
        cone = _cone(unix_seconds_of(fit.utc) + 60.0 * minutes)
        gap = cone.distance(disc.ground) - cone.umbra
        curved = max(curved, max(_edged(disc, gap - away, soft) for away in CURVED_AWAY for soft in SOFT))
    return curved > _straight(disc)


def _straight(disc: DiscLight) -> float:
    # the way in which what is missing grows, on the disc
    facing = disc.ground.mean(axis=0) / np.linalg.norm(disc.ground.mean(axis=0))
    one = np.cross(facing, (0.0, 0.0, 1.0))
    one /= np.linalg.norm(one)
    plane = np.stack([disc.ground @ one, disc.ground @ np.cross(facing, one)], axis=1)
    slope, *_ = np.linalg.lstsq(plane, disc.seen - disc.full, rcond=None)
    best = -1.0
    for turn in np.arctan2(slope[1], slope[0]) + np.radians(np.arange(-20.0, 21.0, 10.0)):
        across = plane @ np.array([np.cos(turn), np.sin(turn)])
        best = max(best, max(_edged(disc, across - edge, soft) for edge in STRAIGHT_EDGES for soft in SOFT))
    return best


def _edged(disc: DiscLight, beyond: FloatArray, soft: float) -> float:
    """The agreement of the full Moon behind something dark, whose edge is so soft; beyond: how far outside it, radii."""
    shade = NIGHT + (1.0 - NIGHT) / (1.0 + np.exp(np.clip(-beyond / soft, -30.0, 30.0)))
    return float(disc.seen @ _ranks(disc.full_light * shade))


def _agreements(disc: DiscLight, instants: FloatArray) -> list[tuple[float, float]]:
    return [(float(t), _agreement(disc, _cone(float(t)))) for t in instants]


def _agreement(disc: DiscLight, cone: ShadowCone) -> float:
    """The better of two: light as the cone has it, which tells where the umbra's edge crosses the disc, and ground and
    distance weighed as the picture has them, which tells it in the umbra, whose darkness nobody knows."""
    gap = cone.distance(disc.ground)
    product = float(disc.seen @ _ranks(disc.full_light * cone.light(disc.ground)))
    away = _ranks(gap)
    together = np.stack([disc.full, away], axis=1)
    weights, *_ = np.linalg.lstsq(together, disc.seen, rcond=None)
    if weights[1] <= 0:
        return product
    return max(product, float(np.linalg.norm(together @ weights)))


def _darker(disc: DiscLight, cone: ShadowCone) -> float | None:
    """How far down the ranks the umbra's ground lies below where its full Moon's light would put it."""
    inside = cone.distance(disc.ground) < cone.umbra
    if inside.sum() < LEAST / 10 or (~inside).sum() < LEAST / 10:
        return None
    off = disc.full - disc.seen
    count = len(off)
    # ranks of length 1: the step from rank to rank is sqrt(12 / N^3)
    return float((off[inside].mean() - off[~inside].mean()) / np.sqrt(12.0 / count**3) / count)


def _sigma(table: list[tuple[float, float]], when: float) -> float:
    """Half the stretch of time over which the misfit (1 - agreement^2) stays within a tenth of its least, minutes; never
    below a minute: the shadow's own edge is known no better."""
    least = max(1.0 - max(a for _, a in table) ** 2, 1e-4)
    good = [t for t, a in table if 1.0 - a * a <= 1.1 * least]
    return float(max((max(good) - min(good)) / 120.0, 1.0))


@lru_cache(maxsize=4096)
def _cone(unix: float) -> ShadowCone:
    return cone_at(utc_of(unix))


def _ranks(values: np.ndarray) -> FloatArray:
    ranked = rankdata(values)
    ranked = ranked - ranked.mean()
    length = float(np.linalg.norm(ranked))
    result: FloatArray = ranked / length if length > 0 else ranked
    return result
