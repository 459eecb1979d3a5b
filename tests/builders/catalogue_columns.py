"""The derived columns of annotate/data/features.csv: what the maps say about each feature (see build_catalogue.py).

All are whole numbers, so that the last digit of a floating-point sum decides nothing. A feature of unknown size has
only zeros.

tone    percent by which the feature (out to 0.8 of its radius) is brighter (+) or darker (-) than its surroundings
        (1.25 to 2 radii). Flat dark kinds, whose outlines are far from round: than the mean of their surroundings
        and the whole Moon.
rays    craters only: how bright a splash lies around it. In each of 12 sectors, the excess of 1.25 to 4 radii over 8
        to 10 radii; of these the lower quartile, so that the shore of a sea makes none; no more than the excess of
        the inside over the splash; percent of the whole Moon's mean. A splash belongs to the brightest crater in it:
        a crater loses its rays to one within 2 radii that is 5 percent brighter and has at least 0.7 of its rays and
        0.15 of its size.
alone   craters only: distance to the nearest crater of at least 0.7 of its size, percent of its own size, at most 999.
relief  hundreds of metres. Craters: mean height of the highest of the rings 0.9 to 1.2 radii above that of the inner
        0.5. Others: from the 10th to the 90th percentile of the heights within 0.5 radii.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import map_coordinates

RADIUS_KM = 1737.4
#: Rings on which the maps are read, in radii of the feature, and bearings per ring (12 sectors of 3).
RINGS = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0, 1.1, 1.2, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 8.0, 9.0, 10.0])
BEARINGS, SECTORS = 36, 12
FLAT = ("sea", "ocean", "lake", "bay", "marsh", "plain")
NAMES = ("tone", "rays", "alone", "relief")


def vectors(lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
    """Unit vectors of shape (..., 3)."""
    b, l0 = np.radians(lat_deg), np.radians(lon_deg)
    return np.stack([np.cos(b) * np.cos(l0), np.cos(b) * np.sin(l0), np.sin(b)], axis=-1)


def read_rings(grid: np.ndarray, lat: np.ndarray, lon: np.ndarray, size_km: np.ndarray) -> np.ndarray:
    """Values of an equirectangular grid (row 0 at +90, column 0 at -180), shape (N, len(RINGS), BEARINGS)."""
    b, l0 = np.radians(lat)[:, None, None], np.radians(lon)[:, None, None]
    d = np.minimum(RINGS * (size_km[:, None] / 2 / RADIUS_KM), np.pi)[:, :, None]
    t = np.arange(BEARINGS) * (2 * np.pi / BEARINGS)
    sine = np.sin(b) * np.cos(d) + np.cos(b) * np.sin(d) * np.cos(t)
    east = np.arctan2(np.sin(t) * np.sin(d) * np.cos(b), np.cos(d) - np.sin(b) * sine)
    height, width = grid.shape
    y = (90.0 - np.degrees(np.arcsin(np.clip(sine, -1, 1)))) * (height / 180.0) - 0.5
    x = ((np.degrees(l0 + east) + 180.0) % 360.0) * (width / 360.0) - 0.5
    # rows are clamped by hand: wrapping them would read the other pole
    return np.asarray(map_coordinates(grid, [np.clip(y, 0, height - 1), x], order=1, mode="grid-wrap"))


def over(rings: np.ndarray, low: float, high: float) -> np.ndarray:
    """Mean over the rings from `low` to `high` radii, weighted by area; the bearings stay: shape (N, BEARINGS)."""
    chosen = (low <= RINGS) & (high >= RINGS)
    weights = np.maximum(RINGS[chosen], 0.1) * np.gradient(RINGS)[chosen]
    return np.asarray(np.einsum("nrb,r->nb", rings[:, chosen], weights / weights.sum()))


def nearest_rival(lat: np.ndarray, lon: np.ndarray, size: np.ndarray) -> np.ndarray:
    """Distance to the nearest crater of at least 0.7 of its size, in units of its own size, at most 9.99."""
    order = np.argsort(-size, kind="stable")
    points, sizes = vectors(lat[order], lon[order]), size[order]
    alone = np.zeros(len(size))
    for rank, index in enumerate(order):
        rivals = int(np.searchsorted(-sizes, -0.7 * sizes[rank], side="right"))
        cosines = points[:rivals] @ points[rank]
        cosines[rank] = -1.0
        alone[index] = min(np.arccos(np.clip(cosines.max(), -1, 1)) * RADIUS_KM / sizes[rank], 9.99)
    return alone


def own_rays(lat: np.ndarray, lon: np.ndarray, size: np.ndarray, rays: np.ndarray, inside: np.ndarray) -> np.ndarray:
    """Rays, taken from every crater that has a brighter one in its splash."""
    points, kept = vectors(lat, lon), rays.copy()
    for i in np.flatnonzero(rays > 0):
        near = points @ points[i] > np.cos(min(2.0 * size[i] / 2 / RADIUS_KM, np.pi))
        rival = near & (inside > 1.05 * inside[i]) & (rays >= 0.7 * rays[i]) & (size >= 0.15 * size[i])
        if rival.any():
            kept[i] = 0.0
    return kept


def derived(
    kinds: Sequence[str],
    lat: np.ndarray,
    lon: np.ndarray,
    size_km: np.ndarray,
    albedo: np.ndarray,
    heights_m: np.ndarray,
) -> dict[str, np.ndarray]:
    """The columns NAMES as integer arrays of shape (N,), for features of these kinds, places and sizes."""
    rows = albedo.shape[0]
    weights = np.cos(np.radians(90.0 - (np.arange(rows) + 0.5) * 180.0 / rows))
    whole = float(albedo.mean(axis=1) @ weights / weights.sum())
    flat = np.array([k in FLAT for k in kinds])
    crater = np.array([k == "crater" for k in kinds]) & (size_km > 0)

    parts: list[tuple[np.ndarray, ...]] = []
    for start in range(0, len(lat), 500):
        cut = slice(start, start + 500)
        rings = read_rings(albedo, lat[cut], lon[cut], size_km[cut])
        ground = read_rings(heights_m, lat[cut], lon[cut], size_km[cut])
        sectors = (over(rings, 1.25, 4.0) - over(rings, 8.0, 10.0)).reshape(-1, SECTORS, BEARINGS // SECTORS).mean(-1)
        rim = ground[:, (RINGS >= 0.9) & (RINGS <= 1.2)].mean(axis=-1).max(axis=-1)
        within = ground[:, RINGS <= 0.4].reshape(len(rings), -1)
        parts.append((
            over(rings, 0.0, 0.8).mean(-1), over(rings, 1.25, 2.0).mean(-1), over(rings, 1.25, 4.0).mean(-1),
            np.quantile(sectors, 0.25, axis=-1), rim - over(ground, 0.0, 0.4).mean(-1),
            np.quantile(within, 0.9, axis=-1) - np.quantile(within, 0.1, axis=-1),
        ))  # fmt: skip
    inside, around, splash, excess, depth, rough = (np.concatenate(column) for column in zip(*parts, strict=True))

    base = np.where(flat, (around + whole) / 2, around)
    rays = np.where(crater, np.clip(np.minimum(excess, inside - splash) / whole, 0.0, None), 0.0)
    rays[crater] = own_rays(lat[crater], lon[crater], size_km[crater], rays[crater], inside[crater])
    alone = np.zeros(len(lat))
    alone[crater] = nearest_rival(lat[crater], lon[crater], size_km[crater])
    relief = np.clip(np.where(crater, depth, rough), 0.0, None)
    columns = {"tone": 100 * (inside - base) / base, "rays": 100 * rays, "alone": 100 * alone, "relief": relief / 100}
    return {name: np.where(size_km > 0, np.rint(columns[name]), 0).astype(int) for name in NAMES}
