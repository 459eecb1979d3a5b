"""The sunlit Moon itself: relief, small craters, cast shadows and reflected light on a patch that faces the observer.

A *patch* is an orthographic view along the line of sight, rows down and columns right as on the screen, so that a
surface point with unit vector (p right, q up, w to the observer) lies at column (p - p0) s, row (q0 - q) s. It shares
the maps with the core but nothing else: shadows come from marching along the Sun's rays over the heights, the
reflectance follows Hapke, and craters below the maps' resolution are added.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from moondesk.moon.maps import maps, sample

KM = 1737.4
#: Angular radius of the Sun, radians (0.267 degrees): half-width of a shadow's soft edge.
SUN_RADIUS = 0.00466
#: No ground stands higher above the mean sphere than this, radii (maps: 0.0060).
HIGHEST = 0.0064


@dataclass(frozen=True, eq=False)
class Patch:
    """scale: px per radius. p0, q0: coordinates of the first column and row. vertical: (H, W, 3) in (p, q, w);
    height: (H, W) radii; normal: (H, W, 3); albedo: (H, W); on: (H, W) bool, on the near hemisphere."""

    scale: float
    p0: float
    q0: float
    vertical: np.ndarray
    height: np.ndarray
    normal: np.ndarray
    albedo: np.ndarray
    on: np.ndarray

    def at(self, p: np.ndarray, q: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Columns and rows (float32) of surface directions."""
        return ((p - self.p0) * self.scale).astype(np.float32), ((self.q0 - q) * self.scale).astype(np.float32)


@dataclass(frozen=True, eq=False)
class SmallCraters:
    """vector: (N, 3) mean-Earth; radius: (N,) radii; fresh: (N,) 0..1, brightness of the splash; worn: (N,) 0..1;
    draw: (N,) uniform, to thin them out on seas."""

    vector: np.ndarray
    radius: np.ndarray
    fresh: np.ndarray
    worn: np.ndarray
    draw: np.ndarray


@cache
def small_craters(seed: int = 20260, count: int = 90_000) -> SmallCraters:
    """Craters of 1.4 to 13 km over the whole sphere, their cumulative number falling as diameter^-2.

    (The slope of the production function near these sizes, common practice; density and places are invented.)
    """
    rng = np.random.default_rng(seed)
    vector = rng.normal(size=(count, 3))
    vector /= np.linalg.norm(vector, axis=1, keepdims=True)
    u = rng.random(count)
    diameter = 1.4 / np.sqrt(1.0 - u * (1.0 - (1.4 / 13.0) ** 2))
    return SmallCraters(
        vector.astype(np.float32), (diameter / 2 / KM).astype(np.float32),
        rng.random(count) ** 4, rng.random(count), rng.random(count),
    )  # fmt: skip


def build_patch(axes: np.ndarray, box: tuple[float, float, float, float], scale: float, fine: bool, seed: int) -> Patch:
    """axes: rows right, up, towards the observer (mean-Earth unit vectors). box: p_min, p_max, q_min, q_max."""
    p_min, p_max, q_min, q_max = box
    cols, rows = int(np.ceil((p_max - p_min) * scale)) + 1, int(np.ceil((q_max - q_min) * scale)) + 1
    p = (p_min + np.arange(cols) / scale).astype(np.float32)[None, :] + np.zeros((rows, 1), np.float32)
    q = (q_max - np.arange(rows) / scale).astype(np.float32)[:, None] + np.zeros((1, cols), np.float32)
    r2 = p * p + q * q
    w = np.sqrt(np.maximum(1.0 - r2, 1e-6))
    shrink = np.where(r2 > 1.0, 1.0 / np.sqrt(np.maximum(r2, 1.0)), 1.0).astype(np.float32)
    vertical = np.stack([p * shrink, q * shrink, w], axis=-1)
    fixed = vertical @ axes.astype(np.float32)
    lat = np.degrees(np.arcsin(np.clip(fixed[..., 2], -1, 1)))
    lon = np.degrees(np.arctan2(fixed[..., 1], fixed[..., 0]))
    albedo = sample(maps().albedo, lat, lon)
    height = _cubic(np.ascontiguousarray(maps().surface[..., 3]), lat, lon)
    if fine:
        _add_small_craters(height, albedo, vertical, axes, (p_min, q_max, scale))
        albedo *= 1.0 + 0.05 * _mottle(albedo.shape, scale, seed)
    h_q, h_p = np.gradient(height, 1.0 / scale)
    h_q = -h_q
    # gradient on the sphere of a height given over (p, q): the flat gradient less its part along the vertical
    along = p * h_p + q * h_q
    normal = np.stack([vertical[..., 0] * (1 + along) - h_p, vertical[..., 1] * (1 + along) - h_q, w * (1 + along)], -1)
    normal /= np.sqrt(np.einsum("...i,...i", normal, normal))[..., None]
    rim = r2 > 0.9985  # differences across the limb mean nothing
    normal[rim] = vertical[rim]
    return Patch(scale, p_min, q_max, vertical, height, normal, albedo, r2 < 1.0)


def _cubic(grid: np.ndarray, lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    rows, cols = grid.shape
    wrapped = cv2.copyMakeBorder(grid, 2, 2, 4, 4, cv2.BORDER_WRAP)
    col = ((lon + 180.0) * (cols / 360.0) - 0.5 + 4).astype(np.float32)
    row = ((90.0 - lat) * (rows / 180.0) - 0.5 + 2).astype(np.float32)
    return cv2.remap(wrapped, col, row, cv2.INTER_CUBIC)


def _mottle(shape: tuple[int, int], scale: float, seed: int) -> np.ndarray:
    """Random texture of unit deviation with octaves from 3 km to 40 km as seen at the disc's centre."""
    rng = np.random.default_rng(seed + 77)
    total = np.zeros(shape, np.float32)
    for size_km in (3.0, 6.0, 12.0, 24.0):
        step = size_km / KM * scale
        if step >= 1.0:
            coarse = rng.normal(size=(int(shape[0] / step) + 3, int(shape[1] / step) + 3)).astype(np.float32)
            total += 0.6 * cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return total


def _add_small_craters(
    height: np.ndarray, albedo: np.ndarray, vertical: np.ndarray, axes: np.ndarray, frame: tuple[float, float, float]
) -> None:
    p0, q0, scale = frame
    every = small_craters()
    local = every.vector @ axes.T.astype(np.float32)
    col, row = (local[:, 0] - p0) * scale, (q0 - local[:, 1]) * scale
    rows, cols = height.shape
    # nothing is gained from craters under two pixels across
    near = (local[:, 2] > 0.12) & (every.radius * scale > 1.0)
    inside = near & (col > 2) & (row > 2) & (col < cols - 3) & (row < rows - 3)
    chosen = np.flatnonzero(inside)
    if not len(chosen):
        return
    ground = cv2.GaussianBlur(albedo, (0, 0), 2)[row[chosen].astype(int), col[chosen].astype(int)]
    # seas are younger: a tenth of the highlands' craters (Neukum 1983, from memory)
    chosen = chosen[every.draw[chosen] < np.where(ground > 0.95, 1.0, 0.12)]
    for i in chosen[np.argsort(-every.radius[chosen])][:6000]:
        radius = float(every.radius[i])
        reach = int(np.ceil(2.2 * radius * scale)) + 1
        c, r = int(col[i]), int(row[i])
        window = np.s_[max(r - reach, 0) : r + reach + 1, max(c - reach, 0) : c + reach + 1]
        gap = vertical[window] - local[i]
        t2 = np.einsum("...i,...i", gap, gap) / radius**2
        t = np.sqrt(t2)
        # a bowl a fifth as deep as wide with a rim a fifth of that (fresh simple craters: Pike 1977, from memory)
        depth = 0.4 * radius * (0.85 - 0.5 * float(every.worn[i]))
        bowl = np.where(t < 1.0, 1.2 * t2 - 1.0, 0.2 * np.maximum(t, 1.0) ** -3.5)
        height[window] += depth * np.where(t < 2.2, bowl, 0.0)
        albedo[window] *= 1.0 + 0.5 * float(every.fresh[i]) * np.exp(-t2 / 2.5)


def sunlit_share(patch: Patch, sun: np.ndarray) -> np.ndarray:
    """Share (H, W) 0..1 of the Sun seen from each point: rays marched over the patch's heights.

    sun: unit vector in (p, q, w). Ground beyond the limb or outside the patch casts no shadow; steps grow by a
    tenth, so a steep wall's shadow ends up to a tenth early.
    """
    sine = patch.vertical @ sun.astype(np.float32)
    share = (sine > 0.5).astype(np.float32).reshape(-1)
    active = np.flatnonzero((sine > -0.09) & (sine <= 0.5) & patch.on)
    radius = 1.0 + patch.height.reshape(-1)[active]
    p, q, w = (patch.vertical.reshape(-1, 3)[active, i] * radius for i in range(3))
    steep = sine.reshape(-1)[active] > 0.2
    # a ray this steep has left every mountain behind within 0.06 radii, so only ground so near can block it
    top = np.where(steep, _highest_near(patch, 0.06).reshape(-1)[active], np.float32(HIGHEST))
    blocked = np.full(len(active), -1.0, np.float32)  # tangent of the horizon above the Sun's centre
    s_p, s_q, s_w = (np.float32(c) for c in sun)
    t = 1.3 / patch.scale
    while t < 0.16 and len(active):
        far = np.float32(t)
        x, y, z = p + far * s_p, q + far * s_q, w + far * s_w
        size = np.sqrt(x * x + y * y + z * z)
        col, row = patch.at(x / size, y / size)
        ground = 1.0 + _look_up(patch.height, col, row)
        ground[z < 0.02] = 0.0
        np.maximum(blocked, (ground - size) / far, out=blocked)
        done = (blocked > SUN_RADIUS) | (size > 1.0 + top)
        if np.count_nonzero(done) > 0.1 * len(done):
            share[active[done]] = 0.5 - blocked[done] / (2 * SUN_RADIUS)
            keep = ~done
            active, p, q, w, top, blocked = (a[keep] for a in (active, p, q, w, top, blocked))
        t *= 1.1
    share[active] = 0.5 - blocked / (2 * SUN_RADIUS)
    return np.clip(share, 0.0, 1.0).reshape(sine.shape)


def _highest_near(patch: Patch, reach: float) -> np.ndarray:
    """The highest ground (H, W), radii, within `reach` radii on the screen, or farther."""
    rows, cols = patch.height.shape
    cell = max(int(reach * patch.scale / 4), 1)
    tall, wide = -(-rows // cell), -(-cols // cell)
    filled = np.pad(patch.height, ((0, tall * cell - rows), (0, wide * cell - cols)), constant_values=-1.0)
    coarse = filled.reshape(tall, cell, wide, cell).max(axis=(1, 3))
    coarse = cv2.dilate(coarse, np.ones((11, 11), np.uint8))
    return np.repeat(np.repeat(coarse, cell, axis=0), cell, axis=1)[:rows, :cols]


def _look_up(grid: np.ndarray, col: np.ndarray, row: np.ndarray) -> np.ndarray:
    """Bilinear samples at N points, -1 outside (remap wants maps of less than 32768 columns)."""
    width = 4096
    pad = -len(col) % width
    shape = (-1, width)
    cols, rows = np.pad(col, (0, pad)).reshape(shape), np.pad(row, (0, pad)).reshape(shape)
    outside = {"borderMode": cv2.BORDER_CONSTANT, "borderValue": -1.0}
    return cv2.remap(grid, cols, rows, cv2.INTER_LINEAR, **outside).reshape(-1)[: len(col)]


def reflected(patch: Patch, sun: np.ndarray, law: str, lambert: float) -> np.ndarray:
    """Relative radiance (H, W) in sunlight without cast shadows. sun: unit vector in (p, q, w)."""
    mu0 = np.maximum(patch.normal @ sun.astype(np.float32), 0.0)
    mu = np.maximum(patch.normal[..., 2], 0.02)
    if law == "lunar-lambert":
        return patch.albedo * ((1 - lambert) * 2 * mu0 / (mu0 + mu) + lambert * mu0)
    if law != "hapke":
        raise ValueError(f"unknown law {law!r}: lunar-lambert or hapke")
    # Hapke 1993, eq. 8.89 without roughness: w/4 mu0/(mu0+mu) [(1 + B) P + H H - 1]; parameters invented, plausible
    phase = np.arccos(np.clip(float(sun[2]), -1, 1))
    w = np.clip(0.21 * patch.albedo, 0.02, 0.7)
    surge = 1.0 / (1.0 + np.tan(phase / 2) / 0.05)
    g = -0.3
    grain = (1 - g * g) / (1 + 2 * g * np.cos(phase) + g * g) ** 1.5
    gamma = np.sqrt(1 - w)
    h0, h = (1 + 2 * mu0) / (1 + 2 * mu0 * gamma), (1 + 2 * mu) / (1 + 2 * mu * gamma)
    smooth = mu0 / (mu0 + 0.04)  # unresolved shadows darken ground in grazing light
    return w * mu0 / (mu0 + mu) * ((1 + surge) * grain + h0 * h - 1) * (0.6 + 0.4 * smooth) * 10


def limb_profile(axes: np.ndarray, angles: int = 1440) -> np.ndarray:
    """Apparent height of the limb, radii, at `angles` directions counted from p towards q: shape (angles,)."""
    turn = np.arange(angles) * (2 * np.pi / angles)
    deep = np.radians(np.linspace(-6, 6, 49))
    rim = np.stack([np.cos(turn), np.sin(turn)], -1)
    local = np.concatenate(
        [rim[:, None, :] * np.cos(deep)[None, :, None], np.broadcast_to(np.sin(deep)[None, :, None], (angles, 49, 1))],
        axis=-1,
    )
    fixed = (local @ axes).astype(np.float32)
    lat = np.degrees(np.arcsin(np.clip(fixed[..., 2], -1, 1)))
    lon = np.degrees(np.arctan2(fixed[..., 1], fixed[..., 0]))
    height = sample(np.ascontiguousarray(maps().surface[..., 3]), lat, lon)
    return ((1 + height) * np.cos(deep) - 1).max(axis=1).astype(np.float32)
