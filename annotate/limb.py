"""The edge of the disc as a circle: hypotheses from edge directions, then a sub-pixel fit of the bright edge.

Several circles are handed on, best first: the eyepiece's field stop is a circle too, and only the texture inside tells
(see `placing`). The terminator is no circle about the disc's centre and gathers less support than the half circle of
the true limb. Fits are geometric with Taubin's start (Al-Sharadqah & Chernov 2009); Kasa's is biased on short arcs.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from annotate.records import Float32Array, FloatArray, Limb, NotFound

#: Longest side on which circles are looked for.
SEARCH_PX = 800
BINS = 180
#: Edges wider than this many times the sharp quarter's are no limb.
SOFT = 1.4


@dataclass(frozen=True)
class Circle:
    """A circle hypothesis in pixels of the image searched; support: degrees of arc with an edge; step: mean contrast
    across the edge in display values (0..1)."""

    x: float
    y: float
    radius: float
    support_deg: float
    step: float


@dataclass(frozen=True, eq=False)
class _Edges:
    xy: FloatArray
    inward: FloatArray  # unit vectors from dark to bright
    strength: FloatArray


def _edges(display: Float32Array, most: int = 2500) -> _Edges:
    """Thin edge points of a display-valued image, the strongest over the whole picture but spread out."""
    smooth = cv2.GaussianBlur(display, (0, 0), 1.4)
    gx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 8)
    gy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 8)
    size = cv2.magnitude(gx, gy)
    # keep points that are the largest along their own gradient: compare with the neighbours one pixel up and down it
    height, width = size.shape
    jj, ii = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    inv = 1.0 / np.maximum(size, 1e-6)
    ux, uy = gx * inv, gy * inv
    ahead = cv2.remap(size, jj + ux, ii + uy, cv2.INTER_LINEAR)
    behind = cv2.remap(size, jj - ux, ii - uy, cv2.INTER_LINEAR)
    noise = float(np.median(size)) * 4.0
    peak = (size >= ahead) & (size > behind) & (size > max(noise, 0.004))
    peak[:3], peak[-3:], peak[:, :3], peak[:, -3:] = False, False, False, False
    y, x = np.nonzero(peak)
    strength = size[y, x]
    if strength.size > most:
        keep = np.argpartition(-strength, most)[:most]
        x, y, strength = x[keep], y[keep], strength[keep]
    a, m, b = behind[y, x], size[y, x], ahead[y, x]
    shift = np.clip(0.5 * (a - b) / np.minimum(a - 2 * m + b, -1e-6), -0.5, 0.5)
    inward = np.stack([ux[y, x], uy[y, x]], axis=1)
    xy = np.stack([x, y], axis=1) + shift[:, None] * inward
    return _Edges(xy.astype(float), inward.astype(float), strength.astype(float))


def _score(edges: _Edges, circles: FloatArray, tolerance: float) -> tuple[FloatArray, FloatArray]:
    """(support in degrees, mean strength) of circles (K, 3) against all edge points."""
    support, strength = np.zeros(len(circles)), np.zeros(len(circles))
    for k, (cx, cy, radius) in enumerate(circles):
        dx, dy = edges.xy[:, 0] - cx, edges.xy[:, 1] - cy
        r = np.hypot(dx, dy)
        inside = np.abs(r - radius) < tolerance
        dx, dy, r = dx[inside], dy[inside], r[inside]
        aligned = -(edges.inward[inside, 0] * dx + edges.inward[inside, 1] * dy) > 0.92 * r
        bins = ((np.arctan2(dy[aligned], dx[aligned]) / np.pi + 1) * BINS / 2).astype(int) % BINS
        # strength of the strongest point in each bin, so that doubled edges do not count twice
        best = np.zeros(BINS)
        np.maximum.at(best, bins, edges.strength[inside][aligned])
        hit = best > 0
        support[k] = hit.sum() * 360.0 / BINS
        strength[k] = best[hit].mean() if hit.any() else 0.0
    return support, strength


def find_circles(luminance: Float32Array, most: int = 5, seed: int = 7) -> tuple[Circle, ...]:
    """Circle hypotheses in a linear-light luminance image, best first, in its pixels. Empty where there is no edge."""
    height, width = luminance.shape
    shrink = max(height, width) / SEARCH_PX
    display = np.sqrt(np.maximum(luminance, 0))
    if shrink > 1:
        display = cv2.resize(display, (round(width / shrink), round(height / shrink)), interpolation=cv2.INTER_AREA)
    shrink = width / display.shape[1]
    edges = _edges(display)
    n = len(edges.xy)
    if n < 12:
        return ()
    rng = np.random.default_rng(seed)  # fixed: the same picture always gives the same answer
    weight = edges.strength / edges.strength.sum()
    first, second = rng.choice(n, 12000, p=weight), rng.choice(n, 12000, p=weight)
    # two points with inward normals: p + R n must meet, so R = -(p - q).(n - m) / |n - m|^2
    dp, dn = edges.xy[first] - edges.xy[second], edges.inward[first] - edges.inward[second]
    bend = (dn * dn).sum(1)
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = -(dp * dn).sum(1) / bend
        miss = np.hypot(*(dp + radius[:, None] * dn).T) / radius
    good = (bend > 0.05) & (radius > 4) & (radius < 3 * max(display.shape)) & (miss < 0.12)
    first, second, radius = first[good], second[good], radius[good]
    if not len(radius):
        return ()
    inward = radius[:, None] * (edges.inward[first] + edges.inward[second])
    centre = 0.5 * (edges.xy[first] + edges.xy[second] + inward)
    circles = np.column_stack([centre, radius])
    # most pairs on the same limb give nearly the same circle: score one of each cell, the fullest cells first
    cell = np.round(np.column_stack([circles[:, :2] / (0.06 * radius[:, None] + 2), 12 * np.log(radius)])).astype(int)
    _, where, count = np.unique(cell, axis=0, return_inverse=True, return_counts=True)
    where = where.ravel()
    order = np.argsort(-count)[:120]
    sums = np.column_stack([np.bincount(where, weights=circles[:, k], minlength=len(count)) for k in range(3)])
    middles = (sums / count[:, None])[order]  # the mean does: a cell is narrow
    tolerance = np.clip(0.02 * middles[:, 2], 1.5, 4.0)
    support, strength = np.zeros(len(middles)), np.zeros(len(middles))
    for k, circle in enumerate(middles):
        better = _refit(edges, circle, tolerance[k])
        middles[k] = better
    support, strength = _score(edges, middles, 1.5)
    # the limb is long and strong; a field stop is long and weak, a lamp strong and short
    merit = np.minimum(support, 200.0) * strength**0.7 * (support > 25) * np.minimum(middles[:, 2], 40.0) ** 0.3
    chosen: list[Circle] = []
    for k in np.argsort(-merit):
        if merit[k] <= 0 or len(chosen) >= most:
            break
        x, y, r = middles[k]
        if any(np.hypot(c.x - x, c.y - y) < 0.08 * r + 1 and abs(c.radius - r) < 0.06 * r + 1 for c in chosen):
            continue
        chosen.append(Circle(float(x), float(y), float(r), float(support[k]), float(strength[k])))
    return tuple(
        Circle((c.x + 0.5) * shrink - 0.5, (c.y + 0.5) * shrink - 0.5, c.radius * shrink, c.support_deg, c.step)
        for c in chosen
    )


def _refit(edges: _Edges, circle: FloatArray, tolerance: float) -> FloatArray:
    """Two rounds of a circle through the edge points near the hypothesis."""
    for width in (2.5 * tolerance, tolerance):
        dx, dy = edges.xy[:, 0] - circle[0], edges.xy[:, 1] - circle[1]
        r = np.hypot(dx, dy)
        near = (np.abs(r - circle[2]) < width) & (-(edges.inward[:, 0] * dx + edges.inward[:, 1] * dy) > 0.92 * r)
        if near.sum() < 8:
            return circle
        fitted = taubin(edges.xy[near])
        if fitted is None or not (0.5 < fitted[2] / circle[2] < 2):
            return circle
        circle = fitted
    return circle


def taubin(xy: FloatArray) -> FloatArray | None:
    """Taubin's algebraic circle (x, y, radius) through points (N, 2); None where they are collinear.

    Newton-free form by the singular value decomposition (Taubin, IEEE PAMI 13, 1991; Chernov's notation).
    """
    middle = xy.mean(axis=0)
    p = xy - middle
    z = (p * p).sum(axis=1)
    mean_z = z.mean()
    if mean_z <= 0:
        return None
    design = np.column_stack([(z - mean_z) / (2 * np.sqrt(mean_z)), p])
    _, _, vt = np.linalg.svd(design, full_matrices=False)
    a = vt[2].copy()
    if abs(a[0]) < 1e-12:
        return None
    a[0] /= 2 * np.sqrt(mean_z)
    a3 = -mean_z * a[0]
    centre = -a[1:] / a[0] / 2
    radius = np.sqrt(max(a[1] ** 2 + a[2] ** 2 - 4 * a[0] * a3, 0.0)) / abs(a[0]) / 2
    return np.array([centre[0] + middle[0], centre[1] + middle[1], radius])


@dataclass(frozen=True, eq=False)
class EdgePoints:
    """Measured points of the bright limb: xy (N, 2) px, inward unit normals (N, 2), sigma_px, edge_width_px."""

    xy: FloatArray
    width_px: float


def limb_points(luminance: Float32Array, circle: Circle, count: int = 360, sharp: bool = True) -> EdgePoints:
    """Where the brightness along each radius crosses half of its step, in linear light; only bright edges.

    sharp: leave out what is softer than the rest (wants a circle that is nearly right, for widths to compare).
    """
    height, width = luminance.shape
    reach = max(4.0, 0.05 * circle.radius)
    step = max(reach / 24, 0.2)
    r = circle.radius + np.arange(-reach, reach + step / 2, step)
    angle = np.arange(count) * (2 * np.pi / count)
    px = (circle.x + np.cos(angle)[:, None] * r[None, :]).astype(np.float32)
    py = (circle.y + np.sin(angle)[:, None] * r[None, :]).astype(np.float32)
    profile = cv2.remap(luminance, px, py, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    framed = ((px > 1) & (py > 1) & (px < width - 2) & (py < height - 2)).all(axis=1)
    n = len(r)
    inner, outer = profile[:, : n // 4].mean(axis=1), profile[:, -n // 4 :].mean(axis=1)
    contrast = inner - outer
    noise = np.abs(np.diff(profile[:, -n // 4 :], axis=1)).mean(axis=1) * 3
    strong = framed & (contrast > np.maximum(noise, 0.15 * np.percentile(contrast[framed], 90) if framed.any() else 1))
    level = 0.5 * (inner + outer)
    # outermost crossing from bright to dark
    above = profile > level[:, None]
    last = n - 1 - np.argmax(above[:, ::-1], axis=1)
    strong &= above.any(axis=1) & (last > n // 8) & (last < n - n // 8)
    k = np.clip(last, 0, n - 2)
    row = np.arange(count)
    a, b = profile[row, k], profile[row, k + 1]
    at = r[k] + step * np.clip((a - level) / np.maximum(a - b, 1e-6), 0, 1)
    steepest = -np.min(np.diff(profile, axis=1), axis=1) / step
    edge_width = 0.8 * contrast / np.maximum(steepest, 1e-6)
    if sharp and strong.any():
        # the limb is as sharp as the picture; the terminator, which passes for it near full Moon, is softer
        strong &= edge_width < SOFT * np.percentile(edge_width[strong], 25) + 0.5 * step
    xy = np.column_stack([circle.x + np.cos(angle) * at, circle.y + np.sin(angle) * at])[strong]
    return EdgePoints(xy, float(np.median(edge_width[strong])) if strong.any() else float("nan"))


def fit_limb(luminance: Float32Array, circle: Circle) -> Limb | NotFound:
    """Robust geometric circle through the bright limb near a hypothesis (Tukey weights), in pixels of the image."""
    fitted = np.array([circle.x, circle.y, circle.radius])
    points = EdgePoints(np.zeros((0, 2)), float("nan"))
    keep = np.zeros(0, bool)
    for round_ in range(3):
        now = Circle(float(fitted[0]), float(fitted[1]), float(fitted[2]), 0.0, 0.0)
        points = limb_points(luminance, now, sharp=round_ > 0)
        if len(points.xy) < 12:
            return _no_limb("too little of a sharp bright edge lies on one circle")
        # start from the hypothesis, not from all points: near full Moon a good part of them is the terminator
        params = fitted.copy()
        for turn in range(12):
            d = points.xy - params[:2]
            r = np.hypot(d[:, 0], d[:, 1])
            residual = r - params[2]
            spread = max(1.4826 * float(np.median(np.abs(residual - np.median(residual)))), 0.03)
            # a hypothesis may be off by some percent; once on the limb, what lies off it is the terminator
            spread = min(spread, max((0.02 if turn < 3 else 0.006) * params[2], 0.4))
            t = residual / (4.685 * spread)
            weight = np.where(np.abs(t) < 1, (1 - t * t) ** 2, 0.0)
            jac = np.column_stack([-d[:, 0] / r, -d[:, 1] / r, -np.ones(len(r))])
            normal = jac.T @ (weight[:, None] * jac) + 1e-9 * np.eye(3)
            change = np.linalg.solve(normal, jac.T @ (weight * residual))
            params = params - change
            if np.abs(change).max() < 1e-4:
                break
        keep = weight > 0
        if not (0.7 < params[2] / circle.radius < 1.4) or keep.sum() < 12:
            return _no_limb("the edge points do not agree on one circle")
        fitted = params
    rms = float(np.sqrt(np.mean(residual[keep] ** 2)))
    # neighbouring points share seeing, blur and relief: count one in five as independent (figures A2)
    covariance = np.linalg.inv(normal) * max(rms, 0.05) ** 2 * 5
    angles = np.degrees(np.arctan2(points.xy[keep, 1] - fitted[1], points.xy[keep, 0] - fitted[0])) % 360
    arc = float(len(np.unique(angles.astype(int) // 2)) * 2)
    return Limb(
        float(fitted[0]), float(fitted[1]), float(fitted[2]), float(np.sqrt(covariance[2, 2])),
        tuple(float(c) for c in covariance.ravel()), rms, arc, int(keep.sum()), points.width_px,
    )


def _no_limb(why: str) -> NotFound:
    advice = "Include more of the Moon's bright edge, in focus and not cut off."
    return NotFound("limb", f"No limb found: {why}.", advice)
