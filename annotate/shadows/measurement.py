"""One shadow in a picture: its two edges fitted along the Sun's direction, then its height; or why it cannot be told.

    luminance + pose + a point near the crest -> SunLine -> edges -> ShadowHeight | NotFound

The model of the light over level ground: full before the crest, falling evenly to nothing where the ray grazes it (the
ground turns away from the Sun there), dark, and back to full over the penumbra, whose width follows from the Sun's
diameter; all of it blurred by the picture. Every line beside the middle one gives its own shadow, and their scatter is
part of the uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import least_squares

from moondesk.checks.evening import time_to_state
from moondesk.moon.relight import SUN_DIAMETER_DEG
from moondesk.quality.texture import FWHM
from moondesk.records import Annotation, Float32Array, FloatArray, NotFound, Pose
from moondesk.shadows.heights import ShadowHeight, height_km, slopes
from moondesk.shadows.profiles import SunLine, sun_line

#: A shadow must be so many widths of the blur long; the Sun so high at its tip, degrees, and no higher.
LEAST_WIDTHS, SUN_DEG = 2.0, (1.2, 12.0)
#: Light that a first look and the fit may leave in the shadow (a wall in grazing light is dim, not dark), and that must
#: be on either side of it, as shares of level ground's.
DARK, DEEP, LIT = 0.35, 0.1, 0.45
#: A height less certain than this share of itself is not told.
MOST_SIGMA = 0.25
#: In widths of the blur, from rendered scenes: by how much start and tip are found outside the shadow, and their errors
#: beside the fit's own; the crest's error in its soft width.
START_BIAS, TIP_BIAS = 0.06, 0.07
START_WIDTHS, TIP_WIDTHS, CREST_SHARE = 0.165, 0.23, 0.1
#: Light that may be left before the tip, over the darkest of the shadow, as a share of the step at the tip: more is dim
#: ground behind the real tip, which made heights up to 80 % too large (rendered scenes).
MOST_DIM = 0.08
#: How well the light alone tells the Sun's place, degrees (0.43 h in the median, 90 % within 1.1 h, at 0.51 degrees an
#: hour); the motion of the Sun over the Moon, degrees a minute (360 in a synodic month); what remains with a good clock.
LIGHT_SIGMA_DEG, SUN_DEG_A_MINUTE, LEAST_SIGMA_DEG = 0.35, 0.0085, 0.03
_ASIDE = np.linspace(-1.0, 1.0, 5)


@dataclass(frozen=True, kw_only=True)
class _ShadowEdges:
    """start, tip: km along the line; sigmas from the fit; soft: width over which the light falls before the start."""

    start: float
    tip: float
    start_sigma: float
    tip_sigma: float
    soft: float


def shadow_at(
    luminance: Float32Array,
    pose: Pose,
    point: tuple[float, float],
    reach_km: float,
    blur_px: float,
    sun_sigma_deg: float,
) -> ShadowHeight | NotFound:
    """The shadow that begins within about reach_km of a point.

    luminance: (H, W) linear light, any scale; pose: in its pixels, with the Sun; point: its latitude and longitude,
    degrees; blur_px: one standard deviation of the
    picture's blur; sun_sigma_deg: of the Sun's height. NotFound says what keeps it from being measured.
    """
    wide = min(0.15 * reach_km, 6.0)
    line = sun_line(luminance, pose, point, (1.2 * reach_km, 4.0 * reach_km), wide * _ASIDE)
    if line is None:
        return _no("Part of it is outside the picture, or too near to the limb.")
    blur_km = blur_px * line.km_per_px
    found = _edges(line, line.light.mean(axis=0), blur_km, reach_km)
    if isinstance(found, NotFound):
        return found
    length = found.tip - found.start - (START_BIAS + TIP_BIAS) * FWHM * blur_km
    sun = float(np.interp(found.tip, line.km, line.sun_deg))
    if length < LEAST_WIDTHS * FWHM * blur_km:
        return _no(
            f"The shadow is about {length:.0f} km long, too short for the picture's blur of {FWHM * blur_km:.0f} km."
        )
    if not SUN_DEG[0] < sun < SUN_DEG[1]:
        return _no(f"The Sun stands {sun:.1f} degrees high at the shadow's tip: too {'low' if sun < 5 else 'high'}.")
    if _dim_before_tip(line, found, blur_km) > MOST_DIM:
        return _no("Dim ground follows the shadow: where it ends is not clear.")
    beside = [_edges(line, one, blur_km, reach_km, found) for one in line.light]
    lengths = [e.tip - e.start for e in beside if isinstance(e, _ShadowEdges)]
    if len(lengths) < 3:
        return _no("The shadow's edges are not found beside its middle: it is broken or merges with others.")
    scatter = float(np.std(lengths, ddof=1)) / np.sqrt(len(lengths))
    edge = np.hypot(START_WIDTHS, TIP_WIDTHS) * FWHM * blur_km
    length_sigma = float(
        np.sqrt(found.start_sigma**2 + found.tip_sigma**2 + edge**2 + scatter**2 + (CREST_SHARE * found.soft) ** 2)
    )
    by_length, by_sun = slopes(length, sun)
    sigma = float(np.hypot(by_length * length_sigma, by_sun * sun_sigma_deg))
    height = height_km(length, sun)
    if sigma > MOST_SIGMA * height:
        return _no(f"Its height comes out only to {100 * sigma / height:.0f} %.")
    return ShadowHeight(
        height_m=1000 * height,
        sigma_m=1000 * sigma,
        length_km=length,
        length_sigma_km=length_sigma,
        sun_altitude_deg=sun,
        start=_point_at(line, found.start),
        tip=_point_at(line, found.tip),
        resolution_km=FWHM * blur_km,
    )


def sun_of(annotation: Annotation) -> tuple[Pose, float] | None:
    """The pose of a placed picture with the Sun as well as it is known, and the standard deviation of its height,
    degrees: by the clock where picture and clock agree, else by the light. None for a picture without a sure pose."""
    pose, aspect, time = annotation.pose, annotation.aspect, annotation.time
    if pose is None or not annotation.sure:
        return None
    if aspect is None or time is None or time.source == "picture" or time_to_state(annotation) is None:
        return pose, LIGHT_SIGMA_DEG
    by_clock = replace(pose, sub_solar_lat_deg=aspect.sub_solar_lat_deg, sub_solar_lon_deg=aspect.sub_solar_lon_deg)
    sigma = float(np.hypot(SUN_DEG_A_MINUTE * time.sigma_minutes, LEAST_SIGMA_DEG))
    return (by_clock, sigma) if sigma < LIGHT_SIGMA_DEG else (pose, LIGHT_SIGMA_DEG)


def _no(reason: str) -> NotFound:
    return NotFound("shadow", reason, "Say nothing of its height, or choose a sharper picture with a lower Sun.")


def _point_at(line: SunLine, km: float) -> tuple[float, float]:
    x, y, z = (float(np.interp(km, line.km, line.vectors[:, k])) for k in range(3))
    return float(np.degrees(np.arctan2(z, np.hypot(x, y)))), float(np.degrees(np.arctan2(y, x)))


def _edges(
    line: SunLine, light: FloatArray, blur_km: float, reach_km: float, near: _ShadowEdges | None = None
) -> _ShadowEdges | NotFound:
    """The shadow's edges on one line; near: those of the mean line, from which its own are sought."""
    km, step = line.km, float(line.km[1] - line.km[0])
    level = light / line.flat
    bright = float(np.percentile(level, 75))
    smooth = gaussian_filter1d(level / max(bright, 1e-9), 0.5 * blur_km / step)
    first_look = _first_look(km, smooth, reach_km) if near is None else (near.start, near.tip)
    if isinstance(first_look, NotFound):
        return first_look
    start, tip = first_look
    margin = max(5.0 * blur_km, 0.35 * (tip - start))
    first, last = np.searchsorted(km, [start - margin, tip + margin])
    first, last = max(int(first), 0), min(int(last), len(km))
    window = slice(first, last)
    if last - first < 12:
        return _no("Too little of it is in the picture.")
    tip_sun = float(np.interp(tip, km, line.sun_deg))
    if tip_sun <= 0.3:
        return _no("The shadow runs into the night.")
    soft_tip = (tip - start) * np.radians(SUN_DIAMETER_DEG) / np.tan(np.radians(tip_sun))
    x, y, flat = km[window], light[window], line.flat[window]
    scale = bright * float(np.median(flat))

    def model(p: FloatArray) -> FloatArray:
        begin, end, soft, before, after, deep = p
        share = np.where(
            x < 0.5 * (begin + end),
            before * np.clip((begin - x) / max(soft, 0.2 * step), 0, 1),
            after * np.clip((x - end) / max(soft_tip, 0.2 * step) + 0.5, 0, 1),
        )
        return np.asarray(gaussian_filter1d((share + deep) * flat * bright, blur_km / step, mode="nearest"))

    guess = np.array([start, tip, max(0.1 * (tip - start), blur_km), 1.0, 0.9, 0.03])
    low = np.array([x[0], x[0], 0.1 * step, 0.05, 0.05, 0.0])
    high = np.array([x[-1], x[-1], max(0.5 * (tip - start), 4 * blur_km), 4.0, 4.0, 0.6])
    fit = least_squares(
        lambda p: (model(p) - y) / scale,
        np.clip(guess, low + 1e-6, high - 1e-6),
        bounds=(low, high),
        x_scale=[blur_km, blur_km, blur_km, 1.0, 1.0, 0.1],
    )
    begin, end, soft, before, after, deep = fit.x
    if end - begin < step or before < LIT or after < LIT:
        return _no("The ground before or behind it is as dark as the shadow itself.")
    if deep > DEEP * min(before, after):
        return _no("It is dim there, not dark: a slope in grazing light, no shadow.")
    if end > x[-1] - 1.5 * blur_km or begin < x[0] + 1.5 * blur_km:
        return _no("The shadow's edges are not both in the open.")
    free = max(len(x) * step / max(FWHM * blur_km, step) - 6.0, 2.0)  # samples nearer than the blur say the same
    normal = fit.jac.T @ fit.jac
    covariance = np.linalg.pinv(normal) * (2.0 * fit.cost / len(x)) * (len(x) / free)
    return _ShadowEdges(
        start=float(begin),
        tip=float(end),
        start_sigma=float(np.sqrt(max(covariance[0, 0], 0))),
        tip_sigma=float(np.sqrt(max(covariance[1, 1], 0))),
        soft=float(soft),
    )


def _first_look(km: FloatArray, smooth: FloatArray, reach_km: float) -> tuple[float, float] | NotFound:
    """Where the longest dark stretch about the point begins and ends, km. smooth: light as a share of level ground's."""
    runs = [
        (a, b)
        for a, b in _runs(smooth < DARK + 0.15)
        if km[a] < 0.9 * reach_km and km[b] > -0.6 * reach_km and a > 0 and smooth[a : b + 1].min() < DARK
    ]
    if not runs:
        return _no("No shadow begins there in this light.")
    a, b = max(runs, key=lambda r: r[1] - r[0])
    if b >= len(km) - 2:
        return _no("The shadow runs into the night or into another one.")
    return float(km[a]), float(km[b])


def _dim_before_tip(line: SunLine, edges: _ShadowEdges, blur_km: float) -> float:
    """Mean light of the shadow's last part, outside the tip's blur, over its darkest, as a share of the step there."""
    level, wide = line.light.mean(axis=0) / line.flat, FWHM * blur_km
    last = (line.km > edges.tip - 0.45 * (edges.tip - edges.start)) & (line.km < edges.tip - 0.9 * wide)
    behind = (line.km > edges.tip + wide) & (line.km < edges.tip + 3.0 * wide)
    if not (last.any() and behind.any()):
        return 0.0
    darkest = float(level[(line.km > edges.start) & (line.km < edges.tip)].min())
    return (float(level[last].mean()) - darkest) / max(float(np.median(level[behind])) - darkest, 1e-9)


def _runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """First and last index of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
