"""Distortions of the whole view: where a point of the plain picture is seen in the bent one, and back.

Each has `seen(x, y)`, plain to displayed pixels (nan where the point is not displayed, or twice), and `plain(x, y)`,
displayed to plain pixels, its inverse. The renderer looks up every displayed pixel through `plain`, the truth goes
through `seen`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

Pair = tuple[np.ndarray, np.ndarray]


class Bend(Protocol):
    def seen(self, x: np.ndarray, y: np.ndarray) -> Pair: ...

    def plain(self, x: np.ndarray, y: np.ndarray) -> Pair: ...


@dataclass(frozen=True)
class Afocal:
    """A camera behind an eyepiece: radial terms k1, k2 and tangential ones p1, p2 about the field's middle (x0, y0),
    at distances in units of scale_px (Brown 1966, in the form that camera calibration commonly uses)."""

    x0: float
    y0: float
    scale_px: float
    k1: float
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0

    def seen(self, x: np.ndarray, y: np.ndarray) -> Pair:
        u, v = (x - self.x0) / self.scale_px, (y - self.y0) / self.scale_px
        u, v = self._bent(u, v)
        return self.x0 + u * self.scale_px, self.y0 + v * self.scale_px

    def plain(self, x: np.ndarray, y: np.ndarray) -> Pair:
        u0, v0 = (x - self.x0) / self.scale_px, (y - self.y0) / self.scale_px
        u, v = u0, v0
        for _ in range(12):
            bu, bv = self._bent(u, v)
            u, v = u + (u0 - bu), v + (v0 - bv)
        return self.x0 + u * self.scale_px, self.y0 + v * self.scale_px

    def _bent(self, u: np.ndarray, v: np.ndarray) -> Pair:
        # beyond the field nothing is asked for: held, so that the far corners of the frame do not fold back
        r2 = np.minimum(u * u + v * v, 2.5)
        grow = 1.0 + self.k1 * r2 + self.k2 * r2 * r2
        return (u * grow + 2 * self.p1 * u * v + self.p2 * (r2 + 2 * u * u),
                v * grow + self.p1 * (r2 + 2 * v * v) + 2 * self.p2 * u * v)  # fmt: skip


@dataclass(frozen=True)
class Keystone:
    """A picture seen at a slant: d -> d / (1 + tilt (d along the direction) / scale_px) about (x0, y0)."""

    x0: float
    y0: float
    scale_px: float
    tilt: float
    screen_deg: float

    def seen(self, x: np.ndarray, y: np.ndarray) -> Pair:
        return self._scaled(x, y, self.tilt)

    def plain(self, x: np.ndarray, y: np.ndarray) -> Pair:
        return self._scaled(x, y, -self.tilt)

    def _scaled(self, x: np.ndarray, y: np.ndarray, tilt: float) -> Pair:
        t = np.radians(self.screen_deg)
        dx, dy = x - self.x0, y - self.y0
        share = 1.0 + tilt * (-np.sin(t) * dx - np.cos(t) * dy) / self.scale_px
        return self.x0 + dx / share, self.y0 + dy / share


@dataclass(frozen=True)
class Shear:
    """Rows moved sideways in proportion to their height, and heights stretched, about (x0, y0)."""

    x0: float
    y0: float
    shear: float
    stretch: float

    def seen(self, x: np.ndarray, y: np.ndarray) -> Pair:
        dy = y - self.y0
        return x + self.shear * dy, self.y0 + self.stretch * dy

    def plain(self, x: np.ndarray, y: np.ndarray) -> Pair:
        dy = (y - self.y0) / self.stretch
        return x - self.shear * dy, self.y0 + dy


@dataclass(frozen=True)
class Wobble:
    """A shaking hand under a rolling shutter: displayed row y shows the view moved by waves of y.

    waves: (amplitude right px, amplitude down px, length px, phase in turns) each.
    """

    waves: tuple[tuple[float, float, float, float], ...]

    def seen(self, x: np.ndarray, y: np.ndarray) -> Pair:
        row = y
        for _ in range(20):
            row = y + self._moved(row)[1]
        return x + self._moved(row)[0], row

    def plain(self, x: np.ndarray, y: np.ndarray) -> Pair:
        right, down = self._moved(y)
        return x - right, y - down

    def _moved(self, row: np.ndarray) -> Pair:
        right, down = np.zeros_like(row, float), np.zeros_like(row, float)
        for a_right, a_down, length, turns in self.waves:
            swing = np.sin(2 * np.pi * (row / length + turns))
            right, down = right + a_right * swing, down + a_down * swing
        return right, down


@dataclass(frozen=True)
class Stitch:
    """Two exposures joined at row `seam`: from there down the view is `scale` larger about (x0, seam) and moved."""

    x0: float
    seam: float
    scale: float
    right: float
    down: float

    def seen(self, x: np.ndarray, y: np.ndarray) -> Pair:
        low_x = self.x0 + self.scale * (x - self.x0) + self.right
        low_y = self.seam + self.scale * (y - self.seam) + self.down
        above, below = y < self.seam, low_y >= self.seam
        lost = above == below  # in the gap, or on both parts
        return np.where(lost, np.nan, np.where(above, x, low_x)), np.where(lost, np.nan, np.where(above, y, low_y))

    def plain(self, x: np.ndarray, y: np.ndarray) -> Pair:
        below = y >= self.seam
        low_x = self.x0 + (x - self.x0 - self.right) / self.scale
        low_y = self.seam + (y - self.seam - self.down) / self.scale
        return np.where(below, low_x, x), np.where(below, low_y, y)
