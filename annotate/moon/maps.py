"""The package's reference maps of the Moon: albedo, relief, and the local horizon for cast shadows.

Grids are equirectangular, row 0 at the north pole, longitude -180..180, cell centres at half steps. They are built by
tests/builders/build_maps.py from agency data (credits in data/maps.json). This module, `catalogue` and
`keypoints` read files, and nothing but the package's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import cv2
import numpy as np

from moondesk.records import MOON_RADIUS_KM, Float32Array

RELIEF_STEP_M, RELIEF_BASE_M = 10.0, -10_000.0
HORIZON_STEP_DEG, HORIZON_BASE_DEG = 0.4, -5.0


@dataclass(frozen=True, eq=False)
class Maps:
    """albedo: (H, W) float32, proportional to normal albedo, mean about 1.

    surface: (h, w, 4) float32: unit normal of the relief in the mean-Earth frame (x, y, z), and height in lunar radii.
    horizon_deg: (h, w, 2) float32: elevation of the local horizon due east and due west.
    """

    albedo: Float32Array
    surface: Float32Array
    horizon_deg: Float32Array


def _read(name: str) -> np.ndarray:
    packed = np.frombuffer(files("moondesk").joinpath("data", name).read_bytes(), np.uint8)
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_UNCHANGED))


@cache
def maps() -> Maps:
    """The maps, read once. Arrays are read-only; sources stand at the top of the module.

    >>> maps().albedo.shape
    (1350, 2700)
    """
    albedo = _read("albedo.png").astype(np.float32) / 128.0
    height = (_read("relief.png").astype(np.float32) * RELIEF_STEP_M + RELIEF_BASE_M) / (MOON_RADIUS_KM * 1000.0)
    rows, cols = height.shape
    lat = np.radians(90.0 - (np.arange(rows) + 0.5) * 180.0 / rows)[:, None].astype(np.float32)
    lon = np.radians(-180.0 + (np.arange(cols) + 0.5) * 360.0 / cols)[None, :].astype(np.float32)
    step = np.float32(np.pi / rows)
    to_east = np.roll(height, -1, axis=1) - np.roll(height, 1, axis=1)
    padded = np.pad(height, ((1, 1), (0, 0)), mode="edge")
    to_north = padded[:-2] - padded[2:]
    # slopes per radian of arc; the cosine is held off zero in the polar rows, where a cell is narrower than its height
    slope_e = to_east / (2 * step * np.maximum(np.cos(lat), np.float32(0.02)))
    slope_n = to_north / (2 * step)
    radius = 1.0 + height
    cl, sl, cb, sb = np.cos(lon), np.sin(lon), np.cos(lat), np.sin(lat)
    nx = radius * cb * cl + slope_e * sl + slope_n * sb * cl
    ny = radius * cb * sl - slope_e * cl + slope_n * sb * sl
    nz = radius * sb - slope_n * cb + 0.0 * cl
    norm = np.sqrt(nx * nx + ny * ny + nz * nz)
    surface = np.stack([nx / norm, ny / norm, nz / norm, height], axis=-1).astype(np.float32)
    both = _read("horizon.png").astype(np.float32) * HORIZON_STEP_DEG + HORIZON_BASE_DEG
    horizon = np.stack([both[:rows], both[rows:]], axis=-1)
    for array in (albedo, surface, horizon):
        array.setflags(write=False)
    return Maps(albedo, surface, horizon)


def sample(grid: Float32Array, lat_deg: Float32Array, lon_deg: Float32Array) -> Float32Array:
    """Bilinear samples of a grid.

    Parameters: a grid of a map, its rows from north to south; 2-D arrays of latitude and longitude in degrees.
    Returns: float32 of shape (H, W[, channels]).

    The last columns wrap round the far side's meridian by clamping: half a cell there is wrong, out of sight.

    >>> at = np.zeros((1, 1), np.float32)
    >>> dark, bright = (sample(maps().albedo, at + lat, at + lon).item() for lat, lon in ((33, -16), (-43.3, -11.2)))
    >>> dark < 0.6 * bright  # Mare Imbrium and Tycho
    True
    """
    rows, cols = grid.shape[:2]
    col = ((lon_deg + 180.0) * (cols / 360.0) - 0.5).astype(np.float32)
    row = ((90.0 - lat_deg) * (rows / 180.0) - 0.5).astype(np.float32)
    return np.asarray(cv2.remap(grid, col, row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32)
