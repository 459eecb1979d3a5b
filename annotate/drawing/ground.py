"""What lies under each spot of a picture, looked up rather than computed: sunlit, whose sea, on which side of a line.

A grid over the part of the frame that shows the disc, somewhat finer than the letters, is taken to the Moon once; a
name's box then asks at a few points of it. Places are right to half a cell, a quarter of a letter's height.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from moondesk.drawing.boxes import IndexArray, Inside
from moondesk.drawing.seas import sea_map
from moondesk.moon.geometry import disc_axes, disc_to_pixel, lift, pixel_to_disc, unit_vector
from moondesk.records import Float32Array, FloatArray, Pose

#: Cells along the longer side of the part that is surveyed.
CELLS = 128


@dataclass(frozen=True, eq=False, kw_only=True)
class Ground:
    """Flat arrays over the cells, a ring of empty ones round them (sky, or no picture).

    sun: sine of the Sun's height, -1 for empty. sea: number of the sea, -1 for none. piece: 0 for empty, else which
    side of equator, zero meridian and terminator. cell_px2: area of a cell. (x0, y0): centre of the first of the ring.
    """

    x0: float
    y0: float
    step: float
    columns: int
    rows: int
    sun: Float32Array
    sea: NDArray[np.int16]
    piece: NDArray[np.uint8]

    def at(self, x: FloatArray, y: FloatArray) -> IndexArray:
        """Index of the cell that holds each point."""
        column = np.clip((x - self.x0) / self.step + 0.5, 0, self.columns - 1).astype(np.intp)
        row = np.clip((y - self.y0) / self.step + 0.5, 0, self.rows - 1).astype(np.intp)
        return row * self.columns + column

    def lit_px2(self) -> float:
        """Area of the sunlit ground in the picture."""
        return self.step**2 * float(np.count_nonzero(self.sun > 0))


def survey(width: int, height: int, pose: Pose, inside: Inside) -> Ground:
    """The ground of a picture of width x height pixels; `inside` tells which of them are picture."""
    t = np.radians(np.arange(0.0, 360.0, 6.0))
    limb_x, limb_y = disc_to_pixel(pose, np.cos(t), np.sin(t))
    left, right = max(float(limb_x.min()), 0.0), min(float(limb_x.max()), width - 1.0)
    top, bottom = max(float(limb_y.min()), 0.0), min(float(limb_y.max()), height - 1.0)
    step = max(right - left, bottom - top, 1.0) / (CELLS - 1)
    columns, rows = (max(int(np.ceil(k / step)), 0) + 3 for k in (right - left, bottom - top))
    x0, y0 = left - step, top - step
    x, y = np.meshgrid(x0 + step * np.arange(columns), y0 + step * np.arange(rows))
    u, v = pixel_to_disc(pose, x, y)
    on = (u * u + v * v < 1.0) & inside(x, y)
    on[[0, -1]], on[:, [0, -1]] = False, False
    on = on.ravel()
    sun, sea = np.full(on.size, -1.0, np.float32), np.full(on.size, -1, np.int16)
    piece = np.zeros(on.size, np.uint8)
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    spot = lift(u.ravel()[on], v.ravel()[on], axes, pose.distance_radii)
    sine = spot @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    sun[on] = sine
    lat, lon = np.degrees(np.arcsin(np.clip(spot[:, 2], -1, 1))), np.degrees(np.arctan2(spot[:, 1], spot[:, 0]))
    sea[on] = sea_map().owner_at(lat, lon)
    piece[on] = 1 + (lat > 0) + 2 * (lon > 0) + 4 * (sine > 0)
    return Ground(x0=x0, y0=y0, step=step, columns=columns, rows=rows, sun=sun, sea=sea, piece=piece)
