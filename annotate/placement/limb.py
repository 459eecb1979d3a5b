"""The edge of the disc as a circle: hypotheses from edge directions, then a sub-pixel fit of the bright edge.

Several circles are handed on, best first: the eyepiece's field stop is a circle too, and only the texture inside tells
(see `search`). The terminator is no circle about the disc's centre and gathers less support than the half circle of
the true limb. Fits are geometric with Taubin's start (Al-Sharadqah & Chernov 2009); Kasa's is biased on short arcs.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from moondesk.records import Float32Array, FloatArray, Limb, NotFound
from moondesk.sentences import sentence

#: About the longest side on which circles are looked for, and at most that of a second, finer look for small ones.
SEARCH_PX, FINE_SEARCH_PX = 600, 1100
#: A circle of this radius (px searched) and support is clear: no finer look is needed.
CLEAR_PX, CLEAR_DEG = 20.0, 90.0
#: Strongest edge points kept; pairs of them drawn; circles scored of those that the pairs make.
POINTS, PAIRS, SCORED = 1500, 5000, 40
#: Support of a circle is counted in bins of two degrees.
BINS = 180
#: Edges wider than this many times the sharp quarter's are no limb.
SOFT = 1.4


IndexArray = NDArray[np.intp]


@dataclass(frozen=True, kw_only=True)
class Circle:
    """A circle hypothesis in pixels of the image searched; support: degrees of arc with an edge; step: mean contrast
    across the edge in display values (0..1)."""

    x: float
    y: float
    radius: float
    support_deg: float
    step: float


@dataclass(frozen=True, eq=False)
class _EdgePoints:
    xy: FloatArray
    inward: FloatArray  # unit vectors from dark to bright
    strength: FloatArray


def find_circles(luminance: Float32Array, most: int = 5, seed: int = 7) -> tuple[Circle, ...]:
    """Circle hypotheses in a linear-light luminance image, best first, in its pixels. Empty where there is no edge.

    seed: fixed, so that the same picture always gives the same answer.
    """
    side = max(luminance.shape)
    block = max(1, round(side / SEARCH_PX))
    finer = min(block, max(1, int(np.ceil(side / FINE_SEARCH_PX))))
    found = _search(luminance, block, most, seed)
    if finer == block or (found and found[0].radius > CLEAR_PX * block and found[0].support_deg > CLEAR_DEG):
        return found
    return _search(luminance, finer, most, seed) or found


def _search(luminance: Float32Array, block: int, most: int, seed: int) -> tuple[Circle, ...]:
    """Circles on the picture reduced by whole blocks of pixels: averaging those is several times faster."""
    height, width = luminance.shape[0] // block, luminance.shape[1] // block
    if min(height, width) < 8:
        return ()
    small = luminance[: height * block, : width * block]
    if block > 1:
        small = np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_AREA), np.float32)
    edges = _edges(np.sqrt(np.maximum(small, 0)))
    middles = _hypotheses(edges, 3.0 * max(height, width), seed)
    if not len(middles):
        return ()
    tolerance = np.clip(0.02 * middles[:, 2], 1.5, 4.0)
    middles = _refit(edges, _refit(edges, middles, 2.5 * tolerance), tolerance)
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
        chosen.append(
            Circle(x=float(x), y=float(y), radius=float(r), support_deg=float(support[k]), step=float(strength[k]))
        )
    return tuple(
        Circle(
            x=(c.x + 0.5) * block - 0.5,
            y=(c.y + 0.5) * block - 0.5,
            radius=c.radius * block,
            support_deg=c.support_deg,
            step=c.step,
        )
        for c in chosen
    )


def _edges(display: Float32Array) -> _EdgePoints:
    """Thin edge points of a display-valued image, the strongest over the whole picture."""
    smooth = cv2.GaussianBlur(display, (0, 0), 1.4)
    gx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 8)
    gy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 8)
    size = cv2.magnitude(gx, gy)
    size[:3], size[-3:], size[:, :3], size[:, -3:] = 0, 0, 0, 0
    noise = float(np.median(size[3:-3:3, 3:-3:3])) * 4.0
    flat = np.flatnonzero(size > max(noise, 0.004))
    m = size.ravel()[flat]
    if m.size > 8 * POINTS:  # thinning leaves about one in four
        keep = np.argpartition(-m, 8 * POINTS)[: 8 * POINTS]
        flat, m = flat[keep], m[keep]
    y, x = np.divmod(flat, size.shape[1])
    ux, uy = gx.ravel()[flat] / m, gy.ravel()[flat] / m
    # keep points that are the largest along their own gradient: compare with the neighbours one pixel up and down it
    behind, ahead = (
        (
            cv2.remap(size, (x + s * ux).astype(np.float32), (y + s * uy).astype(np.float32), cv2.INTER_LINEAR).ravel()
            for s in (-1, 1)
        )
        if len(flat)
        else (m, m)
    )
    peak = np.flatnonzero((m >= ahead) & (m > behind))
    if peak.size > POINTS:
        peak = peak[np.argpartition(-m[peak], POINTS)[:POINTS]]
    at, inward = np.column_stack([x, y])[peak], np.column_stack([ux, uy])[peak].astype(float)
    a, top, b = (k[peak].astype(np.float64) for k in (behind, m, ahead))
    shift = np.clip(0.5 * (a - b) / np.minimum(a - 2 * top + b, -1e-6), -0.5, 0.5)
    return _EdgePoints(at + shift[:, None] * inward, inward, top)


def _hypotheses(edges: _EdgePoints, largest: float, seed: int) -> FloatArray:
    """(K, 3) circles that pairs of edge points agree on, the most often met first."""
    n = len(edges.xy)
    if n < 12:
        return np.zeros((0, 3))
    share = np.cumsum(edges.strength)
    first, second = np.searchsorted(share, np.random.default_rng(seed).random((2, PAIRS)) * share[-1])
    # two points with inward normals: p + R n must meet, so R = -(p - q).(n - m) / |n - m|^2
    dp, dn = edges.xy[first] - edges.xy[second], edges.inward[first] - edges.inward[second]
    bend = (dn * dn).sum(1)
    radius = -(dp * dn).sum(1) / np.maximum(bend, 1e-9)
    miss = ((dp + radius[:, None] * dn) ** 2).sum(1)
    good = (bend > 0.05) & (radius > 3.5) & (radius < largest) & (miss < (0.12 * radius) ** 2)
    first, second, radius = first[good], second[good], radius[good]
    inward = radius[:, None] * (edges.inward[first] + edges.inward[second])
    circles = np.column_stack([0.5 * (edges.xy[first] + edges.xy[second] + inward), radius])
    # most pairs on the same limb give nearly the same circle: score one of each cell, the fullest cells first
    cell = np.column_stack([circles[:, :2] / (0.06 * radius[:, None] + 2), 12 * np.log(radius)])
    key = cell.round().astype(np.int64) @ np.array([1, 1 << 20, 1 << 40])
    _, where, count = np.unique(key, return_inverse=True, return_counts=True)
    order = np.argsort(-count, kind="stable")[:SCORED]
    sums = np.column_stack([np.bincount(where, weights=circles[:, k], minlength=len(count)) for k in range(3)])
    return np.asarray((sums / np.maximum(count, 1)[:, None])[order])  # the mean does: a cell is narrow


def _near(edges: _EdgePoints, circles: FloatArray, tolerance: FloatArray) -> tuple[IndexArray, IndexArray, FloatArray]:
    """Pairs (circle, edge point) of which the point lies within the circle's tolerance (K,) of it and its gradient
    points inwards, and (pairs, 2) the point from the circle's centre."""
    centre, radius = circles[:, :2], circles[:, 2]
    # |p - c|^2 by one matrix product, from the middle of the points so that single precision does (0.01 px)
    middle = edges.xy.mean(axis=0)
    p, c = (edges.xy - middle).astype(np.float32), (centre - middle).astype(np.float32)
    away = -2.0 * (c @ p.T)
    away += (p * p).sum(1)
    base = (c * c).sum(1)
    low, high = np.maximum(radius - tolerance, 0.0) ** 2 - base, (radius + tolerance) ** 2 - base
    flat = np.flatnonzero((away > low[:, None].astype(np.float32)) & (away < high[:, None].astype(np.float32)))
    k, n = np.divmod(flat, len(edges.xy))
    d = edges.xy[n] - centre[k]
    along = edges.inward[n, 0] * d[:, 0] + edges.inward[n, 1] * d[:, 1]
    aligned = (along < 0) & (along * along > 0.92**2 * (d[:, 0] ** 2 + d[:, 1] ** 2))
    return k[aligned], n[aligned], d[aligned]


def _score(edges: _EdgePoints, circles: FloatArray, tolerance: float) -> tuple[FloatArray, FloatArray]:
    """(support in degrees, mean strength) of circles (K, 3) against all edge points."""
    k, n, d = _near(edges, circles, np.full(len(circles), tolerance))
    bins = ((np.arctan2(d[:, 1], d[:, 0]) / np.pi + 1) * BINS / 2).astype(int) % BINS
    # strength of the strongest point in each bin, so that doubled edges do not count twice
    flat = np.zeros(len(circles) * BINS)
    np.maximum.at(flat, k * BINS + bins, edges.strength[n])
    best = flat.reshape(-1, BINS)
    hit = (best > 0).sum(axis=1)
    return hit * 360.0 / BINS, best.sum(axis=1) / np.maximum(hit, 1)


def _refit(edges: _EdgePoints, circles: FloatArray, tolerance: FloatArray) -> FloatArray:
    """Each circle (K, 3) through the edge points near it (Taubin); left as it is where they are few or say no."""
    k, _, d = _near(edges, circles, tolerance)
    scale = 1.0 / circles[:, 2]
    x, y = d[:, 0] * scale[k], d[:, 1] * scale[k]  # the hypothesis is the unit circle about 0

    def mean(values: FloatArray) -> FloatArray:
        return np.bincount(k, weights=values, minlength=len(circles)) / np.maximum(count, 1)

    count = np.bincount(k, minlength=len(circles))
    mx, my = mean(x), mean(y)
    x, y = x - mx[k], y - my[k]
    z = x * x + y * y
    mz = np.maximum(mean(z), 1e-12)
    z = (z - mz[k]) / (2 * np.sqrt(mz[k]))
    xx, xy, yy, zx, zy, zz = mean(x * x), mean(x * y), mean(y * y), mean(z * x), mean(z * y), mean(z * z)
    moments = np.stack([zz, zx, zy, zx, xx, xy, zy, xy, yy], axis=1).reshape(-1, 3, 3)
    a = np.linalg.eigh(moments)[1][:, :, 0]  # as in `taubin`: eigenvectors of the least eigenvalues
    lead = a[:, 0] / (2 * np.sqrt(mz))
    safe = np.where(np.abs(lead) < 1e-9, 1.0, lead)
    cx, cy = mx - a[:, 1] / safe / 2, my - a[:, 2] / safe / 2
    radius = np.sqrt(np.maximum(a[:, 1] ** 2 + a[:, 2] ** 2 + 4 * mz * lead**2, 0.0)) / np.abs(safe) / 2
    good = (count >= 8) & (np.abs(lead) >= 1e-9) & (radius > 0.5) & (radius < 2)
    fitted = np.column_stack([circles[:, :2] + np.column_stack([cx, cy]) / scale[:, None], radius / scale])
    return np.where(good[:, None], fitted, circles)


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
    """Measured points of the bright limb: xy (N, 2) px; width_px: median width of the edge (nan without points)."""

    xy: FloatArray
    width_px: float


def _median(values: FloatArray) -> float:
    """The upper median: np.median's own checks cost more than its work on a few hundred numbers."""
    return float(np.partition(values, len(values) // 2)[len(values) // 2])


def limb_points(luminance: Float32Array, circle: Circle, count: int = 360, sharp: bool = True) -> EdgePoints:
    """Where the brightness along each radius crosses half of its step, in linear light; only bright edges.

    sharp: leave out what is softer than the rest (wants a circle that is nearly right, for widths to compare).
    """
    height, width = luminance.shape
    reach = max(4.0, 0.05 * circle.radius)
    step = max(reach / 24, 0.2)
    r = circle.radius + np.arange(-reach, reach + step / 2, step)
    n = len(r)
    angle = np.arange(count) * (2 * np.pi / count)
    cos, sin = np.cos(angle), np.sin(angle)
    # the whole of each radius must lie in the frame: both its ends do
    ends = r[[0, -1]]
    ex, ey = circle.x + np.outer(cos, ends), circle.y + np.outer(sin, ends)
    framed = ((ex > 1) & (ey > 1) & (ex < width - 2) & (ey < height - 2)).all(axis=1)
    if not framed.any():
        return EdgePoints(np.zeros((0, 2)), float("nan"))
    cos, sin = cos[framed], sin[framed]
    px = (circle.x + np.outer(cos, r)).astype(np.float32)
    py = (circle.y + np.outer(sin, r)).astype(np.float32)
    profile = cv2.remap(luminance, px, py, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    fall = profile[:, :-1] - profile[:, 1:]
    inner, outer = profile[:, : n // 4].mean(axis=1), profile[:, -n // 4 :].mean(axis=1)
    contrast = inner - outer
    noise = np.abs(fall[:, 1 - n // 4 :]).mean(axis=1) * 3
    strong = contrast > np.maximum(noise, 0.15 * np.partition(contrast, 9 * len(cos) // 10)[9 * len(cos) // 10])
    level = 0.5 * (inner + outer)
    # outermost crossing from bright to dark
    above = profile > level[:, None]
    last = n - 1 - np.argmax(above[:, ::-1], axis=1)
    strong &= (last > n // 8) & (last < n - n // 8) & above[np.arange(len(cos)), last]
    row = np.flatnonzero(strong)
    k = last[row]
    at = r[k] + step * np.clip((profile[row, k] - level[row]) / np.maximum(fall[row, k], 1e-6), 0, 1)
    edge_width = 0.8 * step * contrast[row] / np.maximum(fall[row].max(axis=1), 1e-6)
    if sharp and len(row):
        # the limb is as sharp as the picture; the terminator, which passes for it near full Moon, is softer
        quarter = np.partition(edge_width, len(row) // 4)[len(row) // 4]
        keep = edge_width < SOFT * quarter + 0.5 * step
        row, at, edge_width = row[keep], at[keep], edge_width[keep]
    xy = np.column_stack([circle.x + cos[row] * at, circle.y + sin[row] * at])
    return EdgePoints(xy, _median(edge_width) if len(row) else float("nan"))


def fit_limb(luminance: Float32Array, circle: Circle) -> Limb | NotFound:
    """Robust geometric circle through the bright limb near a hypothesis (Tukey weights), in pixels of the image."""
    fitted = np.array([circle.x, circle.y, circle.radius])
    points = EdgePoints(np.zeros((0, 2)), float("nan"))
    keep = np.zeros(0, bool)
    # two rounds on every other radius bring the circle onto the limb; the third measures
    for round_, count, enough in ((0, 180, 0.02), (1, 180, 0.02), (2, 360, 1e-3)):
        now = Circle(x=float(fitted[0]), y=float(fitted[1]), radius=float(fitted[2]), support_deg=0.0, step=0.0)
        points = limb_points(luminance, now, count, sharp=round_ > 0)
        if len(points.xy) < count // 30:
            return NotFound("limb", sentence("no_limb_sharp"), sentence("more_limb"))
        # start from the hypothesis, not from all points: near full Moon a good part of them is the terminator
        params = fitted.copy()
        for turn in range(12):
            d = points.xy - params[:2]
            r = np.sqrt(d[:, 0] * d[:, 0] + d[:, 1] * d[:, 1])
            residual = r - params[2]
            spread = max(1.4826 * _median(np.abs(residual - _median(residual))), 0.03)
            # a hypothesis may be off by some percent; once on the limb, what lies off it is the terminator
            spread = min(spread, max((0.02 if turn < 3 else 0.006) * params[2], 0.4))
            t = residual / (4.685 * spread)
            weight = np.maximum(1 - t * t, 0.0) ** 2
            jac = np.empty((len(r), 3))
            jac[:, :2], jac[:, 2] = d / -r[:, None], -1.0
            weighted = jac.T * weight
            normal = weighted @ jac + 1e-9 * np.eye(3)
            change = np.linalg.solve(normal, weighted @ residual)
            params = params - change
            if np.abs(change).max() < enough and turn >= 3:
                break
        keep = weight > 0
        if not (0.7 < params[2] / circle.radius < 1.4) or keep.sum() < count // 30:
            return NotFound("limb", sentence("no_limb_agreed"), sentence("more_limb"))
        fitted = params
    rms = float(np.sqrt(np.mean(residual[keep] ** 2)))
    # neighbouring points share seeing, blur and relief: count one in five as independent (figures A2)
    covariance = np.linalg.inv(normal) * max(rms, 0.05) ** 2 * 5
    angles = np.degrees(np.arctan2(points.xy[keep, 1] - fitted[1], points.xy[keep, 0] - fitted[0])) % 360
    arc = float(len(np.unique(angles.astype(int) // 2)) * 2)
    return Limb(
        x=float(fitted[0]),
        y=float(fitted[1]),
        radius_px=float(fitted[2]),
        sigma_px=float(np.sqrt(covariance[2, 2])),
        covariance=tuple(float(c) for c in covariance.ravel()),
        rms_px=rms,
        arc_deg=arc,
        n_points=int(keep.sum()),
        edge_width_px=points.width_px,
    )
