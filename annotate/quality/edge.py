"""How sharp the limb stands: the mean profile across it, and the blur and the sharpening that explain it.

The Moon's edge is a step that every picture carries. Profiles across the sunlit limb are averaged (so noise can only
widen the mean, never steepen it), and a step is fitted to them that was blurred in linear light, put through the tone
curve and then sharpened by an unsharp mask, as cameras do. What comes back is the blur *before* the sharpening.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.special import ndtr

from moondesk.moon.geometry import disc_axes, disc_to_pixel, unit_vector
from moondesk.records import ByteArray, FloatArray, NotFound, Pose

#: Sun's height from which the limb counts as lit, degrees, or half of the phase angle where that is less: at full Moon
#: the Sun stands low all round, and the limb is bright all the same.
LEAST_SUN_DEG = 12.0
#: Display value from which a pixel is burnt out, and the share of a ray's inner part that may be.
BURNT, MOST_BURNT = 0.975, 0.05
#: Points across the edge per pixel or per sigma; rays are joined over arcs of this length, on which relief is one step.
ARC_DEG = 2.0
#: Strength of the S curve (0 none); what a level of the mean profile can be trusted to, display values.
S_CURVE, LEVEL = 0.15, 0.004
MOST_STEPS = 30


@dataclass(frozen=True, kw_only=True)
class Edge:
    """sigma_px: Gaussian blur of the whole chain before sharpening, full-resolution pixels; ln_sigma: one standard
    deviation of its logarithm. sharpening: amount of the unsharp mask that explains the edge; halo: overshoot inside
    the edge, share of the step in display values. noise: of a pixel, display values. arc_deg: limb it was measured on.
    """

    sigma_px: float
    ln_sigma: float
    sharpening: float
    mask_px: float
    halo: float
    noise: float
    arc_deg: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Profile:
    """Mean display value (0..1) at distances x (pixels, outwards) from the limb's half level; spread: one standard
    deviation of each mean; noise: of a single pixel, for what white and black cut off of it."""

    x: FloatArray
    value: FloatArray
    spread: FloatArray
    noise: float
    arc_deg: float


def limb_profile(grey: ByteArray, pose: Pose, guess_px: float) -> Profile | None:
    """grey: (H, W) luma of the picture; guess_px: about the blur's sigma. None where too little of the limb serves."""
    height, width = grey.shape
    radius = pose.radius_px
    reach = float(min(max(6.0 * guess_px + 2.0, 6.0), 0.3 * radius))
    guess_px = min(guess_px, reach / 5)
    step = float(np.clip(guess_px / 5, 0.2, 1.0))
    x = np.arange(-np.ceil(reach / step), np.ceil(reach / step) + 1) * step
    count = int(np.clip(2 * radius, 180, 1080))
    angle = np.arange(count) * (2 * np.pi / count)
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    sun = axes @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    cos, sin = np.cos(angle), np.sin(angle)
    phase = float(np.degrees(np.arccos(np.clip(sun[2], -1, 1))))
    lit = cos * sun[0] + sin * sun[1] > np.sin(np.radians(min(LEAST_SUN_DEG, 0.5 * phase)))
    if not lit.any():
        return None
    cos, sin, turn = cos[lit], sin[lit], np.degrees(angle[lit])
    r = 1.0 + x / radius
    px, py = disc_to_pixel(pose, np.outer(cos, r), np.outer(sin, r))
    framed = ((px > 1) & (py > 1) & (px < width - 2) & (py < height - 2)).all(axis=1)
    if framed.sum() < count / 36:
        return None
    px, py, turn = px[framed], py[framed], turn[framed]
    rays = cv2.remap(grey, px.astype(np.float32), py.astype(np.float32), cv2.INTER_CUBIC).astype(np.float64) / 255.0
    inner = x < -min(2.5 * guess_px + 2.0, 0.6 * reach)  # further in than an overshoot of sharpening
    clean = (rays[:, inner] > BURNT).mean(axis=1) < MOST_BURNT
    contrast = rays[:, x < -guess_px].mean(axis=1) - rays[:, x > 2 * guess_px].mean(axis=1)
    strong = contrast > 0.5 * np.percentile(contrast, 90)
    keep = clean & strong
    if keep.sum() < count / 36:
        return None
    rays, turn = rays[keep], turn[keep]
    arc = np.unique((turn / ARC_DEG).astype(int), return_inverse=True)[1]
    number = np.bincount(arc)
    means = np.stack([np.bincount(arc, weights=rays[:, k]) for k in range(len(x))], axis=1) / number[:, None]
    shifted, at = _align_arcs(means, x, guess_px)
    if len(shifted) < 5:
        return None
    # arcs whose edge lies far off the others are something else: a mountain, a star, the field's edge
    off = np.abs(at - np.median(at))
    good = off < 3 * max(1.4826 * float(np.median(off)), 0.1)
    shifted = shifted[good]
    value = shifted.mean(axis=0)
    spread = shifted.std(axis=0) / np.sqrt(len(shifted))
    # neighbouring rays see nearly the same ground
    apart = np.abs(np.diff(rays[:, x < -guess_px], axis=0))
    noise = float(np.median(apart)) / 0.6745 / np.sqrt(2.0)
    return Profile(x=x, value=value, spread=spread, noise=noise, arc_deg=float(keep.sum() * 360.0 / count))


def _align_arcs(means: FloatArray, x: FloatArray, guess_px: float) -> tuple[FloatArray, FloatArray]:
    """Arcs moved so that each crosses half of its step at 0: (arcs, points), and where each crossed."""
    inside, outside = means[:, x < -1.5 * guess_px].mean(axis=1), means[:, x > 2.5 * guess_px].mean(axis=1)
    level = 0.5 * (inside + outside)
    above = means > level[:, None]
    last = len(x) - 1 - np.argmax(above[:, ::-1], axis=1)
    row = np.flatnonzero((last < len(x) - 1) & (last > 0) & above.any(axis=1))
    k = last[row]
    a, b = means[row, k], means[row, k + 1]
    at = x[k] + (x[1] - x[0]) * np.clip((a - level[row]) / np.maximum(a - b, 1e-9), 0, 1)
    return np.stack([np.interp(x + s, x, m) for s, m in zip(at, means[row], strict=True)]), at


def _tone(linear: FloatArray) -> FloatArray:
    """Linear light to display values: the sRGB curve (IEC 61966-2-1) and the mild S curve that cameras add to it."""
    v = np.maximum(linear, 0.0)
    shown = np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 1e-9) ** (1 / 2.4) - 0.055)
    return np.asarray(shown + S_CURVE * shown * (1.0 - shown) * (2.0 * shown - 1.0))


def _linear(shown: float) -> float:
    return float(shown / 12.92 if shown <= 0.04045 else ((shown + 0.055) / 1.055) ** 2.4)


class _Step:
    """The blurred, toned and sharpened step at a profile's points, padded so that the mask sees past their ends.

    Parameters: ln sigma, amount of the mask, ln of its sigma, shift, light of the bright side, its rise inwards per
    unit, light of the sky (linear); lengths in the unit of x.
    """

    def __init__(self, x: FloatArray, noise: float) -> None:
        self.step, self.pad, self.noise = float(x[1] - x[0]), len(x) // 2, max(noise, 1e-3)
        far = np.arange(1, self.pad + 1) * self.step
        self.wide = np.concatenate([x[0] - far[::-1], x, x[-1] + far])

    def light(self, p: FloatArray) -> FloatArray:
        """(K, points) display values before black and white cut them off, for parameters (K, 7); all rows take the
        width of the first row's mask."""
        sigma, amount, shift, bright, rise, sky = (p[:, k, None] for k in (0, 1, 3, 4, 5, 6))
        t = self.wide - shift
        inner = bright * np.maximum(1.0 - rise * np.minimum(t, 0.0), 0.05)
        plain = _tone(sky + inner * ndtr(-t / np.exp(sigma)))
        soft = gaussian_filter1d(plain, float(np.exp(p[0, 2])) / self.step, axis=1, mode="nearest", truncate=3.0)
        return np.asarray((plain + amount * (plain - soft))[:, self.pad : len(self.wide) - self.pad])

    def shown(self, p: FloatArray) -> FloatArray:
        """The same as means over noisy pixels, each cut off at black and white: noise lifts the blackest."""
        v, s = self.light(p), self.noise
        above, below = v / s, (v - 1.0) / s
        density = np.exp(-0.5 * above * above), np.exp(-0.5 * below * below)
        lifted = v * ndtr(above) + s * _DENSITY * density[0]
        return np.asarray(lifted - ((v - 1.0) * ndtr(below) + s * _DENSITY * density[1]))


_DENSITY = float(1.0 / np.sqrt(2.0 * np.pi))
#: Steps of the numerical derivatives of the parameters.
_NUDGE = np.array([0.02, 0.02, 0.05, 0.02, 0.003, 0.001, 0.001])
#: What is expected before looking, deviations from 0: masks have amounts of a few and about the blur's width (common
#: practice), the limb darkens slowly.
_PRIOR_SIGMA = np.array([np.inf, 2.5, 0.5, 1.0, np.inf, 0.1, np.inf])


def fit_edge(profile: Profile, guess_px: float) -> Edge:
    """The blur and the sharpening that explain a profile; guess_px: where to start, and the unit that is fitted in, so
    that a picture and its enlargement give the same."""
    x, value = profile.x / guess_px, profile.value
    model = _Step(x, profile.noise)
    weight = 1.0 / np.hypot(LEVEL, profile.spread)
    inside, sky = float(np.median(value[x < -2])), float(value[-max(len(x) // 8, 2) :].mean())
    bright = max(_linear(inside) - _linear(sky), 1e-3)
    # the Moon does not brighten towards its limb: what does is a halo
    low = np.array([np.log(0.3), 0.0, np.log(0.3), -1.5, 0.3 * bright, -0.01, 0.0])
    high = np.array([np.log(5.0), 6.0, np.log(4.0), 1.5, 4 * bright + 1e-3, 0.3, 0.9])
    best: tuple[float, FloatArray, FloatArray] | None = None
    for amount in (0.3, 1.5):
        start = np.array([0.0, amount, 0.0, 0.0, bright, 0.0, _linear(sky)])
        found = _descend(model, value, weight, start, low, high)
        if best is None or found[0] < best[0]:
            best = found
    assert best is not None
    cost, p, normal = best
    plain = p.copy()
    plain[1] = 0.0
    both = [model.light(q[None])[0] for q in (p, plain)]
    halo = float(np.max(both[0] - both[1])) / max(inside - sky, 0.05)
    covariance = np.linalg.inv(normal + 1e-9 * np.eye(7)) * max(cost / (len(x) - 7), 1.0)
    return Edge(
        sigma_px=guess_px * float(np.exp(p[0])),
        ln_sigma=float(np.sqrt(covariance[0, 0])),
        sharpening=float(p[1]),
        mask_px=guess_px * float(np.exp(p[2])),
        halo=halo,
        noise=profile.noise,
        arc_deg=profile.arc_deg,
    )


def _descend(
    model: _Step, value: FloatArray, weight: FloatArray, start: FloatArray, low: FloatArray, high: FloatArray
) -> tuple[float, FloatArray, FloatArray]:
    """Levenberg and Marquardt's descent, kept within bounds: (sum of squares, parameters, normal matrix)."""
    tight = 1.0 / _PRIOR_SIGMA
    p, damping = np.clip(start, low, high), 1e-2

    def misfit(q: FloatArray, shown: FloatArray) -> FloatArray:
        return np.concatenate([(shown - value) * weight, q * tight])

    now = misfit(p, model.shown(p[None])[0])
    cost, normal = float(now @ now), np.eye(7)
    for _ in range(MOST_STEPS):
        # all but the mask's width share one filter
        rows = p + np.diag(_NUDGE)
        rows[2, 2] = p[2]
        shown = model.shown(np.vstack([p, rows]))
        wider = p.copy()
        wider[2] += _NUDGE[2]
        shown[3] = model.shown(wider[None])[0]
        slope = np.vstack([((shown[1:] - shown[0]) / _NUDGE[:, None] * weight).T, np.diag(tight)])
        normal, pull = slope.T @ slope, slope.T @ now
        # at a bound, what would leave it stays
        free = ~(((p <= low) & (pull > 0)) | ((p >= high) & (pull < 0)))
        for _ in range(5):
            damped = normal + damping * np.diag(np.diag(normal) + 1e-6)
            move = np.zeros(7)
            move[free] = np.linalg.solve(damped[np.ix_(free, free)], -pull[free])
            tried = np.clip(p + move, low, high)
            then = misfit(tried, model.shown(tried[None])[0])
            if then @ then < cost:
                break
            damping *= 6.0
        else:
            break
        gained = cost - float(then @ then)
        p, now, cost, damping = tried, then, float(then @ then), max(damping / 6.0, 1e-6)
        if gained < 1e-4 * cost:
            break
    return cost, p, normal


def measure_edge(grey: ByteArray, pose: Pose, guess_px: float) -> Edge | NotFound:
    """The limb's sharpness in a picture. grey: (H, W) luma; pose: in its pixels; guess_px: about the blur's sigma."""
    for _ in range(3):
        profile = limb_profile(grey, pose, guess_px)
        if profile is None:
            return NotFound("edge", "Too little of the sunlit limb is in the frame and not burnt out.", "")
        edge = fit_edge(profile, guess_px)
        if 0.8 < edge.sigma_px / guess_px < 1.25:
            break
        guess_px = float(np.clip(edge.sigma_px, max(0.4 * guess_px, 0.4), 3.0 * guess_px))
    return edge
