"""The Moon as it must look: the predicted disc for a sub-observer point, lit from any sub-solar point.

The *north-up frame* of a disc of radius R px: array [i, j], u = (j - c) / R to lunar east, v = (c - i) / R to lunar
north, c the middle index. Geometry is computed once for a libration (`disc_model`), light for each Sun (`light`).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.moon.geometry import disc_axes, unit_vector
from moondesk.moon.maps import maps, sample
from moondesk.records import ByteArray, Float32Array

#: Angular diameter of the Sun at the Moon, degrees: the width of a shadow's soft edge.
SUN_DIAMETER_DEG = 0.533


@dataclass(frozen=True, eq=False, kw_only=True)
class DiscModel:
    """What does not change with the light, on an (N, N) north-up frame.

    radius_px, centre: of the frame. inside: (N, N) bool, on the disc. vertical: (N, N, 3) unit vectors, mean-Earth.
    normal: (N, N, 3) of the relief. mu: (N, N) cosine of the emission angle against the relief, 0..1.
    albedo: (N, N). horizon_deg: (N, N, 2) east and west. east: (N, N, 2) x and y of the local east direction.
    """

    radius_px: float
    centre: int
    inside: np.ndarray
    vertical: Float32Array
    normal: Float32Array
    mu: Float32Array
    albedo: Float32Array
    horizon_deg: Float32Array
    observer: Float32Array


def frame_grid(radius_px: float, margin: float = 1.02) -> tuple[Float32Array, Float32Array, int]:
    """Disc coordinates of a north-up frame that holds the disc and a margin.

    Parameters: radius of the disc in px; margin as a factor.
    Returns: u, v of shape (N, N), radii, and the middle's index.

    >>> u, v, middle = frame_grid(10.0, 1.2)
    >>> u.shape, middle, u[middle, middle].item()
    ((25, 25), 12, 0.0)
    """
    centre = int(np.ceil(radius_px * margin))
    axis = (np.arange(2 * centre + 1, dtype=np.float32) - centre) / np.float32(radius_px)
    u, v = np.meshgrid(axis, -axis)
    return u, v, centre


def disc_model(lat0_deg: float, lon0_deg: float, radius_px: float, distance_radii: float = 221.3) -> DiscModel:
    """The disc seen from above (lat0, lon0) at `distance_radii`, on a north-up frame of the given radius in px."""
    u, v, centre = frame_grid(radius_px)
    r2 = u * u + v * v
    inside = r2 < 1.0
    # orthographic height plus the first-order perspective term (exact form in geometry.lift; the rest is < 1e-4)
    d = np.float32(distance_radii)
    w = np.sqrt(np.maximum(1.0 - r2, 0.0))
    shrink = 1.0 - w / d
    a, b = u * shrink, v * shrink
    w = np.sqrt(np.maximum(1.0 - a * a - b * b, 0.0))
    axes = disc_axes(lat0_deg, lon0_deg).astype(np.float32)
    vertical = np.stack([a, b, w], axis=-1) @ axes
    lat = np.degrees(np.arcsin(np.clip(vertical[..., 2], -1, 1)))
    lon = np.degrees(np.arctan2(vertical[..., 1], vertical[..., 0]))
    grids = maps()
    surface = sample(grids.surface, lat, lon)
    normal = surface[..., :3]
    mu = np.clip(normal @ axes[2], 0.02, 1.0)
    return DiscModel(
        radius_px=radius_px,
        centre=centre,
        inside=inside,
        vertical=vertical,
        normal=normal,
        mu=mu,
        albedo=sample(grids.albedo, lat, lon),
        horizon_deg=sample(grids.horizon_deg, lat, lon),
        observer=axes[2],
    )


def limb_darkening_weight(phase_deg: float) -> float:
    """L of the lunar-Lambert law, clamped to 0..1, for a phase angle in degrees.

    Source: McEwen 1991, 1996; cubic in the phase angle, from memory.

    >>> limb_darkening_weight(0.0), round(limb_darkening_weight(90.0), 3)
    (1.0, 0.186)
    """
    a = phase_deg
    return float(np.clip(1.0 - 0.019 * a + 2.42e-4 * a * a - 1.46e-6 * a**3, 0.0, 1.0))


def light(model: DiscModel, sun_lat_deg: float, sun_lon_deg: float) -> Float32Array:
    """The disc as the Sun lights it.

    Parameters: the disc's model; the sub-solar point, degrees.
    Returns: relative radiance (N, N) float32 in linear light, 0 in shadow and off the disc.

    I = A (2 L mu0 / (mu0 + mu) + (1 - L) mu0), the lunar-Lambert law over the relief, with cast shadows from the local
    horizon; a spot darkened by the Sun half below it is half lit. Earthshine and halo are left out.

    >>> half = light(disc_model(0.0, 0.0, 40.0), 0.0, 90.0)
    >>> middle = half.shape[1] // 2
    >>> bool(half[:, :middle - 4].max() == 0), bool(half[:, middle + 4:].max() > 0)  # the east, right, is lit
    (True, True)
    """
    sun = unit_vector(sun_lat_deg, sun_lon_deg).astype(np.float32)
    phase = float(np.degrees(np.arccos(np.clip(model.observer @ sun, -1, 1))))
    weight = limb_darkening_weight(phase)
    mu0 = np.maximum(model.normal @ sun, 0.0)
    lit = model.albedo * (2 * weight * mu0 / (mu0 + model.mu) + (1 - weight) * mu0)
    return np.asarray(lit * sunlit(model, sun), np.float32)


def sunlit(model: DiscModel, sun: Float32Array) -> Float32Array:
    """Share of the Sun's disc above the local horizon (N, N), 0..1; 0 off the disc. sun: mean-Earth unit vector."""
    sine = model.vertical @ sun
    altitude = sine * np.float32(180 / np.pi)  # within 0.1 degrees up to 10 degrees of height, where shadows fall
    # the Sun stands in the east where it lies towards growing longitude: sign of (z x vertical) . sun
    easterly = model.vertical[..., 0] * sun[1] - model.vertical[..., 1] * sun[0] > 0
    horizon = np.where(easterly, model.horizon_deg[..., 0], model.horizon_deg[..., 1])
    share = np.clip((altitude - horizon) / np.float32(SUN_DIAMETER_DEG) + 0.5, 0.0, 1.0)
    return np.where(model.inside, share, 0.0).astype(np.float32)


def as_displayed(radiance: Float32Array, white: float | None = None) -> ByteArray:
    """Linear radiance to 8-bit display values (sRGB-like power 1/2.2), the brightest 0.5 % clipped."""
    if white is None:
        lit = radiance[radiance > 0]
        white = float(np.percentile(lit, 99.5)) if lit.size else 1.0
    return np.asarray(cv2.convertScaleAbs(np.clip(radiance / white, 0, 1) ** (1 / 2.2), alpha=255.0), np.uint8)
