"""The Earth's shadow on the Moon as an observer on the ground sees it.

Every point of the surface has its own distance from the shadow's axis in space. An observer looks on from up to an
Earth's radius beside that axis, so on the bulge of the near side the edge lies up to 1.7 %R from where it would lie on
a flat disc.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from moondesk.ephemeris.aspect import MOON_LIGHT_DAYS, lunar_axes, moon_and_sun, unix_seconds_of
from moondesk.ephemeris.earth_shadow import eclipse_state, shadow_at
from moondesk.ephemeris.timescales import tt_days
from moondesk.moon.geometry import disc_axes, disc_to_pixel, lift, project
from moondesk.records import MOON_RADIUS_KM, Pose
from tests.scenes.optics import disc_of
from tests.scenes.spec import SceneSpec

#: Light deep in the umbra as a share of the full Moon's, red, green, blue: a middling eclipse (from memory: Danjon's
#: L = 2 to 3; the Moon 10 to 14 magnitudes fainter in the middle, coppery).
UMBRA = (2.5e-4, 0.6e-4, 0.2e-4)


@dataclass(frozen=True, eq=False)
class ShadowCone:
    """Axis and radii of the shadow in the Moon's mean-Earth frame, lunar radii from the Moon's centre.

    middle: (3,) the axis's point nearest to the Moon's centre; along: (3,) unit vector away from the Sun.
    """

    middle: np.ndarray
    along: np.ndarray
    umbra: float
    penumbra: float


def cone_at(when_utc: datetime) -> ShadowCone:
    """The shadow at an instant; its angular radii are `shadow_at`'s, by Danjon's rule (source there)."""
    seen = np.array([float(tt_days(np.array([unix_seconds_of(when_utc)]))[0]) - MOON_LIGHT_DAYS])
    bodies, (_, body) = moon_and_sun(seen), lunar_axes(seen)
    moon, away = bodies.moon_km[0], -bodies.sun_km[0] / np.linalg.norm(bodies.sun_km[0])
    reach, shadow = float(moon @ away), shadow_at(when_utc)
    umbra, penumbra = (reach * np.tan(np.radians(a)) / MOON_RADIUS_KM for a in (shadow.umbra_deg, shadow.penumbra_deg))
    return ShadowCone(body[0] @ (reach * away - moon) / MOON_RADIUS_KM, body[0] @ away, float(umbra), float(penumbra))


def in_shadow(moon: np.ndarray, spec: SceneSpec, pose: Pose) -> np.ndarray:
    """The Moon's light (H, W) as the shadow leaves it, (H, W, 3). ValueError where no part of the disc lies in it."""
    cone = cone_at(spec.when_utc)
    jj, ii = np.meshgrid(np.arange(spec.width, dtype=float), np.arange(spec.height, dtype=float))
    u, v = disc_of(spec, pose, jj, ii)
    shrink = 1.0 / np.maximum(np.hypot(u, v) / 0.9999, 1.0)  # the limb's own edge takes the value beside it
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    away = lift(u * shrink, v * shrink, axes, pose.distance_radii) - cone.middle
    gap = np.linalg.norm(away - (away @ cone.along)[..., None] * cone.along, axis=-1)
    if gap.min() > cone.penumbra:
        raise ValueError(f"no eclipse at {spec.when_utc}")
    depth = np.clip((cone.penumbra - gap) / (cone.penumbra - cone.umbra), 0.0, 1.0)
    # light fades through the penumbra as the Sun's disc is covered, about linearly in its area
    sun = (1.0 - depth) ** 1.3
    lift_up = 1.0 + 6.0 * np.clip(gap / cone.umbra, 0.0, 1.0) ** 6
    light = moon[..., None] * (sun[..., None] + lift_up[..., None] * np.array(UMBRA))
    return light.astype(np.float32)


def shadow_truth(spec: SceneSpec, pose: Pose) -> dict[str, Any]:
    """State of the eclipse, the shadow's middle and the radii of umbra and penumbra in displayed pixels, all at the
    distance of the Moon's centre."""
    cone = cone_at(spec.when_utc)
    side = np.cross(cone.along, (0.0, 0.0, 1.0))
    side /= np.linalg.norm(side)
    points = np.stack([cone.middle, cone.middle + cone.umbra * side, cone.middle + cone.penumbra * side])
    disc = project(points, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    umbra, penumbra = np.hypot(x[1:] - x[0], y[1:] - y[0])
    return {
        "state": eclipse_state(spec.when_utc), "umbra_x": round(float(x[0]), 1), "umbra_y": round(float(y[0]), 1),
        "umbra_radius_px": round(float(umbra), 1), "penumbra_radius_px": round(float(penumbra), 1),
    }  # fmt: skip
