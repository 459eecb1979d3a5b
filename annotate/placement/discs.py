"""What a disc that is not placed looks like: smooth, burnt out, empty, marked; the numbers, not the verdict.

The Moon's seas remain after an even shading is taken away; a ball, a lamp, the Sun and a dinner plate are that shading
and little else. Bars were set on rendered and real discs (tests/benchmarks/RESULTS.md): what is left, as a share of the level, is
0.08 to 0.22 for the Moon, below 0.05 for lamps, balls and Suns, at any turn of the light.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import cv2
import numpy as np

from moondesk.records import Float32Array, Limb

#: Below these a disc has no markings: what an even shading leaves, the scatter and the rms. The
#: faintest of the Moon's, out of focus by a tenth of its radius, leaves 0.05.
SMOOTH_MARKS, SMOOTH_ROUGH = 0.045, 0.10
#: Linear light above which a pixel is burnt out: 95 % of the range of an sRGB file.
BURNT = 0.9


@dataclass(frozen=True, kw_only=True)
class Look:
    """Display values (root of linear light, 0..1) within 0.8 of the radius, smoothed by a 25th of it."""

    #: Median inside, and on the ring at 1.1 to 1.3 radii (0 where that lies outside the frame).
    level: float
    around: float
    #: Share (0..1) of the pixels that are burnt out.
    burnt: float
    #: What an even shading (quadratic in x and y) of the lit part leaves, as shares of that part's level: the robust
    #: scatter, which overlooks a few spots, and the root mean square, which does not.
    marks: float
    rough: float
    #: The even shading: its slope per radius, and by how much it falls off from the middle to one radius.
    slope: float
    fall: float
    #: Width of the edge in radii, from a quarter to three quarters of its step.
    softness: float
    #: Share (0..1) of the circle on which there is an edge, and of the disc that lies inside the frame.
    all_round: float
    framed: float
    #: Degrees of the circle on which the limb was measured.
    arc_deg: float
    #: Median (red - blue) / (red + green + blue) of linear light, 0 for grey.
    redness: float


def look_at(luminance: Float32Array, redness: Float32Array | None, limb: Limb) -> Look:
    """All in pixels of the working picture. Where hardly any of the disc lies inside the frame all is 0."""
    height, width = luminance.shape
    reach = 1.35 * limb.radius_px
    x0, x1 = max(int(limb.x - reach), 0), min(int(limb.x + reach) + 2, width)
    y0, y1 = max(int(limb.y - reach), 0), min(int(limb.y + reach) + 2, height)
    nothing = Look(**{field.name: 0.0 for field in fields(Look)})
    if x1 - x0 < 8 or y1 - y0 < 8:
        return nothing
    light = luminance[y0:y1, x0:x1]
    shown = cv2.GaussianBlur(np.sqrt(np.maximum(light, 0.0)), (0, 0), max(0.5, limb.radius_px / 25))
    y, x = np.mgrid[y0:y1, x0:x1]
    u, v = (x - limb.x) / limb.radius_px, (y - limb.y) / limb.radius_px
    r = np.hypot(u, v)
    inner, ring = r < 0.8, (r > 1.1) & (r < 1.3)
    if inner.sum() < 40:
        return nothing
    values, level = shown[inner].astype(float), float(np.median(shown[inner]))
    # of a ball lit from the side only the lit part: its terminator is no even shading
    lit = values > 0.5 * np.percentile(values, 95)
    ui, vi, values = u[inner][lit], v[inner][lit], values[lit]
    design = np.column_stack([np.ones(ui.size), ui, vi, ui * ui, vi * vi, ui * vi])
    shading, *_ = np.linalg.lstsq(design, values, rcond=None)
    left = values - design @ shading
    near = np.abs(left) < 2.5 * left.std()  # a shiny spot or sunspots must not bend the shading
    shading, *_ = np.linalg.lstsq(design[near], values[near], rcond=None)
    left = values - design @ shading
    scale = max(float(np.median(values)), 0.02)
    softness, all_round = _edge(luminance, limb)
    colour = 0.0 if redness is None else float(np.median(redness[y0:y1, x0:x1][inner]))
    return Look(
        level=level,
        around=float(np.median(shown[ring])) if ring.any() else 0.0,
        burnt=float(np.mean(light[inner] > BURNT)),
        marks=1.4826 * float(np.median(np.abs(left - np.median(left)))) / scale,
        rough=float(left.std()) / scale,
        slope=float(np.hypot(shading[1], shading[2])) / scale,
        fall=-0.5 * float(shading[3] + shading[4]) / scale,
        softness=softness,
        all_round=all_round,
        framed=float(inner.sum() / (np.pi * (0.8 * limb.radius_px) ** 2)),
        arc_deg=limb.arc_deg,
        redness=colour,
    )


def _edge(luminance: Float32Array, limb: Limb) -> tuple[float, float]:
    """Softness and share of the circle of the edge, from profiles of linear light along 72 radii."""
    radii, angle = np.linspace(0.7, 1.3, 61), np.radians(np.arange(0.0, 360.0, 5.0))
    x = limb.x + limb.radius_px * np.cos(angle)[:, None] * radii
    y = limb.y + limb.radius_px * np.sin(angle)[:, None] * radii
    profile = cv2.remap(
        luminance, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    # the brightest just inside: a crescent is narrower than the disc's outer third, and what is within it earthshine
    smooth = cv2.blur(profile, (3, 1))
    step = smooth[:, :27].max(axis=1) - profile[:, -10:].mean(axis=1)
    most = float(np.percentile(step, 90))
    if most <= 0:
        return 1.0, 0.0
    mean = profile[step > 0.6 * most].mean(axis=0)
    share = (mean - mean[-10:].mean()) / max(float(mean[:10].mean() - mean[-10:].mean()), 1e-6)
    # outermost crossings, so that bands and spots inside do not count
    outer = [radii[np.flatnonzero(share > part)[-1]] for part in (0.25, 0.75)]
    return float(outer[0] - outer[1]), float(np.mean(step > 0.25 * most))
