"""Turned rectangles and ellipses in the plane, many at once: does one touch another?

Everything is in pixels, x right, y down. A rectangle's angle is that of its long side, degrees counter-clockwise as
displayed from the direction to the right; a leader line is a thin rectangle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annotate.records import FloatArray

BoolArray = NDArray[np.bool_]
IndexArray = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Rects:
    """n rectangles: centres x, y, half sizes along and across, unit vector of the long side (ux, uy)."""

    x: FloatArray
    y: FloatArray
    half_w: FloatArray
    half_h: FloatArray
    ux: FloatArray
    uy: FloatArray

    def __len__(self) -> int:
        return len(self.x)

    def take(self, index: IndexArray | BoolArray) -> Rects:
        return Rects(*(a[index] for a in (self.x, self.y, self.half_w, self.half_h, self.ux, self.uy)))

    def grow(self, px: float) -> Rects:
        return Rects(self.x, self.y, self.half_w + px, self.half_h + px, self.ux, self.uy)

    def extent(self) -> tuple[FloatArray, FloatArray]:
        """Half width and half height of the upright rectangle round each."""
        ax, ay = np.abs(self.ux), np.abs(self.uy)
        return self.half_w * ax + self.half_h * ay, self.half_w * ay + self.half_h * ax

    def corners(self) -> tuple[FloatArray, FloatArray]:
        """x and y of the four corners in order round the rectangle, shape (n, 4)."""
        sx, sy = np.array([-1.0, 1.0, 1.0, -1.0]), np.array([-1.0, -1.0, 1.0, 1.0])
        a, b = self.half_w[:, None] * sx, self.half_h[:, None] * sy
        ux, uy = self.ux[:, None], self.uy[:, None]
        return self.x[:, None] + a * ux - b * uy, self.y[:, None] + a * uy + b * ux

    def points(self, along: int, across: int) -> tuple[FloatArray, FloatArray]:
        """x and y of a grid of points that spans each rectangle, shape (n, along * across)."""
        s, t = (g.ravel() for g in np.meshgrid(np.linspace(-1, 1, along), np.linspace(-1, 1, across)))
        a, b = self.half_w[:, None] * s, self.half_h[:, None] * t
        ux, uy = self.ux[:, None], self.uy[:, None]
        return self.x[:, None] + a * ux - b * uy, self.y[:, None] + a * uy + b * ux


def rects(x: FloatArray, y: FloatArray, w: FloatArray, h: FloatArray, angle_deg: FloatArray) -> Rects:
    """Rectangles from centres, full sizes and angles; arguments broadcast."""
    x, y, w, h, angle = (np.atleast_1d(np.asarray(a, float)) for a in np.broadcast_arrays(x, y, w, h, angle_deg))
    t = np.radians(angle)
    return Rects(x, y, w / 2, h / 2, np.cos(t), -np.sin(t))


def segments(x0: FloatArray, y0: FloatArray, x1: FloatArray, y1: FloatArray, thick: float) -> Rects:
    """Lines from (x0, y0) to (x1, y1) as rectangles `thick` pixels across."""
    dx, dy = x1 - x0, y1 - y0
    length = np.hypot(dx, dy)
    safe = np.maximum(length, 1e-9)
    ux = np.where(length > 1e-9, dx / safe, 1.0)
    return Rects(
        (x0 + x1) / 2,
        (y0 + y1) / 2,
        length / 2,
        np.full_like(length, thick / 2),
        ux,
        np.where(length > 1e-9, dy / safe, 0.0),
    )


def touching(a: Rects, b: Rects) -> tuple[IndexArray, IndexArray]:
    """Pairs (index into a, index into b) of rectangles that overlap: separating axes, after upright boxes."""
    ex, ey = (e.astype(np.float32) for e in a.extent())
    fx, fy = (e.astype(np.float32) for e in b.extent())
    ax, ay, bx, by = (v.astype(np.float32) for v in (a.x, a.y, b.x, b.y))
    near = (np.abs(ay[:, None] - by) < ey[:, None] + fy) & (np.abs(ax[:, None] - bx) < ex[:, None] + fx)
    flat = np.flatnonzero(near)
    i, j = flat // max(len(b), 1), flat % max(len(b), 1)
    dx, dy = b.x[j] - a.x[i], b.y[j] - a.y[i]
    cos = np.abs(a.ux[i] * b.ux[j] + a.uy[i] * b.uy[j])
    sin = np.abs(a.ux[i] * b.uy[j] - a.uy[i] * b.ux[j])
    hit = np.abs(dx * a.ux[i] + dy * a.uy[i]) < a.half_w[i] + b.half_w[j] * cos + b.half_h[j] * sin
    hit &= np.abs(-dx * a.uy[i] + dy * a.ux[i]) < a.half_h[i] + b.half_w[j] * sin + b.half_h[j] * cos
    hit &= np.abs(dx * b.ux[j] + dy * b.uy[j]) < b.half_w[j] + a.half_w[i] * cos + a.half_h[i] * sin
    hit &= np.abs(-dx * b.uy[j] + dy * b.ux[j]) < b.half_h[j] + a.half_w[i] * sin + a.half_h[i] * cos
    return i[hit], j[hit]


@dataclass(frozen=True, eq=False)
class Ellipses:
    """n ellipses: centres, longer and shorter semi-axis, unit vector of the shorter one (nx, ny)."""

    x: FloatArray
    y: FloatArray
    a: FloatArray
    b: FloatArray
    nx: FloatArray
    ny: FloatArray

    def __len__(self) -> int:
        return len(self.x)

    def extent(self) -> tuple[FloatArray, FloatArray]:
        """Half width and half height of the upright rectangle round each."""
        return np.hypot(self.a * self.ny, self.b * self.nx), np.hypot(self.a * self.nx, self.b * self.ny)

    def reach(self, dx: FloatArray, dy: FloatArray) -> FloatArray:
        """Distance from the centre to the rim in the unit direction (dx, dy); 0 in no direction."""
        slope = np.hypot((dx * self.ny - dy * self.nx) / self.a, (dx * self.nx + dy * self.ny) / self.b)
        return np.asarray(np.where(slope > 0, 1.0 / np.maximum(slope, 1e-12), 0.0))


def covering(boxes: Rects, ellipses: Ellipses) -> tuple[IndexArray, IndexArray]:
    """Pairs (box, ellipse) that touch. The plane is stretched until the ellipse is the unit circle: exact."""
    ex, ey = (e.astype(np.float32) for e in boxes.extent())
    fx, fy = (e.astype(np.float32) for e in ellipses.extent())
    ax, ay = boxes.x.astype(np.float32), boxes.y.astype(np.float32)
    bx, by = ellipses.x.astype(np.float32), ellipses.y.astype(np.float32)
    near = (np.abs(ay[:, None] - by) < ey[:, None] + fy) & (np.abs(ax[:, None] - bx) < ex[:, None] + fx)
    flat = np.flatnonzero(near)
    i, j = flat // max(len(ellipses), 1), flat % max(len(ellipses), 1)
    cx, cy = boxes.take(i).corners()
    dx, dy = cx - ellipses.x[j, None], cy - ellipses.y[j, None]
    nx, ny = ellipses.nx[j, None], ellipses.ny[j, None]
    p, q = (dx * ny - dy * nx) / ellipses.a[j, None], (dx * nx + dy * ny) / ellipses.b[j, None]
    sx, sy = np.roll(p, -1, axis=1) - p, np.roll(q, -1, axis=1) - q
    along = np.clip(-(p * sx + q * sy) / np.maximum(sx * sx + sy * sy, 1e-12), 0.0, 1.0)
    closest = np.min(np.hypot(p + along * sx, q + along * sy), axis=1)
    turn = p * sy - q * sx  # sides on which the origin lies: all alike where it is inside
    inside = np.all(turn >= 0, axis=1) | np.all(turn <= 0, axis=1)
    hit = inside | (closest < 1.0)
    return i[hit], j[hit]
