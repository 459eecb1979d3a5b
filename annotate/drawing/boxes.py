"""Turned rectangles and ellipses in the plane, many at once: does one touch another?

Everything is in pixels, x right, y down. A rectangle's angle is that of its long side, degrees counter-clockwise as
displayed from the direction to the right; a leader line is a thin rectangle.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from typing import Any, Self, cast

import numpy as np
from numpy.typing import NDArray

from moondesk.records import FloatArray

BoolArray = NDArray[np.bool_]
IndexArray = NDArray[np.intp]
#: Tells which pixels (x, y) are picture: all of the frame, or in a turned copy those that the original has.
Inside = Callable[[FloatArray, FloatArray], BoolArray]


class Many:
    """A dataclass of n things: arrays, one value for each, or other such classes."""

    def take(self, index: Any) -> Self:
        """Those of an index, a mask or a slice."""
        every = ((f.name, getattr(self, f.name)) for f in fields(cast("Any", self)))
        return type(self)(**{name: v.take(index) if isinstance(v, Many) else v[index] for name, v in every})

    def joined(self, others: Iterable[Self]) -> Self:
        """These and the others after them."""
        others = list(others)
        together = {}
        for f in fields(cast("Any", self)):
            own, more = getattr(self, f.name), [getattr(other, f.name) for other in others]
            together[f.name] = own.joined(more) if isinstance(own, Many) else np.concatenate([own, *more])
        return type(self)(**together)


@dataclass(frozen=True, eq=False, kw_only=True)
class Rects(Many):
    """n rectangles: centres x, y, half sizes along and across, unit vector of the long side (ux, uy)."""

    x: FloatArray
    y: FloatArray
    half_w: FloatArray
    half_h: FloatArray
    ux: FloatArray
    uy: FloatArray

    def __len__(self) -> int:
        return len(self.x)

    def grow(self, px: float) -> Rects:
        return Rects(x=self.x, y=self.y, half_w=self.half_w + px, half_h=self.half_h + px, ux=self.ux, uy=self.uy)

    def extent(self) -> tuple[FloatArray, FloatArray]:
        """Half width and half height of the upright rectangle round each."""
        ax, ay = np.abs(self.ux), np.abs(self.uy)
        return self.half_w * ax + self.half_h * ay, self.half_w * ay + self.half_h * ax

    def points(self, along: int, across: int) -> tuple[FloatArray, FloatArray]:
        """x and y of a grid of points that spans each rectangle, shape (n, along * across)."""
        s, t = (g.ravel() for g in np.meshgrid(np.linspace(-1, 1, along), np.linspace(-1, 1, across)))
        a, b = self.half_w[:, None] * s, self.half_h[:, None] * t
        ux, uy = self.ux[:, None], self.uy[:, None]
        return self.x[:, None] + a * ux - b * uy, self.y[:, None] + a * uy + b * ux


def no_rects() -> Rects:
    none = np.zeros(0)
    return Rects(x=none, y=none, half_w=none, half_h=none, ux=none, uy=none)


def rects(x: FloatArray, y: FloatArray, w: FloatArray, h: FloatArray, angle_deg: FloatArray) -> Rects:
    """Rectangles from centres, full sizes and angles; arguments broadcast."""
    x, y, w, h, angle = (np.atleast_1d(np.asarray(a, float)) for a in np.broadcast_arrays(x, y, w, h, angle_deg))
    t = np.radians(angle)
    return Rects(x=x, y=y, half_w=w / 2, half_h=h / 2, ux=np.cos(t), uy=-np.sin(t))


def segments(x0: FloatArray, y0: FloatArray, x1: FloatArray, y1: FloatArray, thick: float) -> Rects:
    """Lines from (x0, y0) to (x1, y1) as rectangles `thick` pixels across."""
    dx, dy = x1 - x0, y1 - y0
    length = np.hypot(dx, dy)
    safe = np.maximum(length, 1e-9)
    ux = np.where(length > 1e-9, dx / safe, 1.0)
    return Rects(
        x=(x0 + x1) / 2,
        y=(y0 + y1) / 2,
        half_w=length / 2,
        half_h=np.full_like(length, thick / 2),
        ux=ux,
        uy=np.where(length > 1e-9, dy / safe, 0.0),
    )


def _near(a: Rects | Ellipses, b: Rects | Ellipses) -> BoolArray:
    """(n, m): do the upright rectangles round two figures overlap? In single precision, for many of them."""
    ends = []
    for figure in (a, b):
        ex, ey = figure.extent()
        ends.append([e.astype(np.float32) for e in (figure.x - ex, figure.x + ex, figure.y - ey, figure.y + ey)])
    (a0, a1, a2, a3), (b0, b1, b2, b3) = ends
    near = a0[:, None] < b1
    near &= a1[:, None] > b0
    near &= a2[:, None] < b3
    near &= a3[:, None] > b2
    return near


def overlaps(a: Rects, b: Rects) -> BoolArray:
    """(n, m): which rectangles overlap: upright boxes, then separating axes where one of a pair is turned."""
    near = _near(a, b)
    # the upright boxes round them have settled the axes of a level rectangle
    for turned, along in ((a.uy[:, None] != 0, True), (b.uy != 0, False)):
        if not turned.any():
            continue
        flat = np.flatnonzero(near & turned)
        i, j = np.divmod(flat, max(len(b), 1))
        p, q, k, n = (a, b, i, j) if along else (b, a, j, i)
        ux, uy, vx, vy, w, h = p.ux[k], p.uy[k], q.ux[n], q.uy[n], q.half_w[n], q.half_h[n]
        dx, dy = q.x[n] - p.x[k], q.y[n] - p.y[k]
        cos, sin = np.abs(ux * vx + uy * vy), np.abs(ux * vy - uy * vx)
        hit = np.abs(dx * ux + dy * uy) < p.half_w[k] + w * cos + h * sin
        hit &= np.abs(dy * ux - dx * uy) < p.half_h[k] + w * sin + h * cos
        near.ravel()[flat] = hit
    return near


def touching(a: Rects, b: Rects) -> tuple[IndexArray, IndexArray]:
    """Pairs (index into a, index into b) of rectangles that overlap."""
    return np.divmod(np.flatnonzero(overlaps(a, b)), max(len(b), 1))


@dataclass(frozen=True, eq=False, kw_only=True)
class Ellipses(Many):
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
    """Pairs (box, ellipse) that touch.

    In the box's own axes the ellipse is the form p A p < 1; its least value over the box is found by moving along each
    axis in turn, which for a convex form on a box ends at the least value (three rounds come within a percent of it).
    """
    i, j = np.divmod(np.flatnonzero(_near(boxes, ellipses)), max(len(ellipses), 1))
    ux, uy, w, h = boxes.ux[i], boxes.uy[i], boxes.half_w[i], boxes.half_h[i]
    dx, dy = boxes.x[i] - ellipses.x[j], boxes.y[i] - ellipses.y[j]
    du, dv = dx * ux + dy * uy, dy * ux - dx * uy  # the box's centre from the ellipse's
    nx, ny = ellipses.nx[j], ellipses.ny[j]
    nu, nv = nx * ux + ny * uy, ny * ux - nx * uy
    ia, ib = ellipses.a[j] ** -2, ellipses.b[j] ** -2
    uu, vv, uv = nv * nv * ia + nu * nu * ib, nu * nu * ia + nv * nv * ib, nu * nv * (ib - ia)
    u0, u1, v0, v1 = du - w, du + w, dv - h, dv + h
    v = np.minimum(np.maximum(v0, 0.0), v1)
    for _ in range(3):
        u = np.minimum(np.maximum(-uv * v / uu, u0), u1)
        v = np.minimum(np.maximum(-uv * u / vv, v0), v1)
    hit = uu * u * u + 2 * uv * u * v + vv * v * v < 1.0
    return i[hit], j[hit]


@dataclass(frozen=True)
class TurnedBox:
    """A rectangle in pixels as drawing counts them: (0, 0) is the corner of the first pixel, not its centre."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        return self.y1 - self.y0

    @property
    def middle(self) -> tuple[float, float]:
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2

    def grow(self, px: float) -> TurnedBox:
        return TurnedBox(self.x0 - px, self.y0 - px, self.x1 + px, self.y1 + px)

    def around(self, x: Any, y: Any) -> Any:
        """Whether points, numbers or arrays, lie inside."""
        return (x > self.x0) & (x < self.x1) & (y > self.y0) & (y < self.y1)

    def touches(self, other: TurnedBox) -> bool:
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1

    def holds(self, other: TurnedBox) -> bool:
        """Whether the other lies in it, to a hundredth of a pixel."""
        return (
            other.x0 >= self.x0 - 0.01
            and other.y0 >= self.y0 - 0.01
            and other.x1 <= self.x1 + 0.01
            and other.y1 <= self.y1 + 0.01
        )
