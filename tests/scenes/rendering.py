"""`render`: one spec to one photograph with its truth."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from moondesk.ephemeris.aspect import aspect_at
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import sun_altitude_deg, surface_to_pixel
from moondesk.records import MOON_RADIUS_KM, Aspect, Pose
from tests.scenes.develop import develop, encode
from tests.scenes.disturbing import invented, pasted, twice_exposed
from tests.scenes.optics import moonlight, with_sky
from tests.scenes.shadow import in_shadow, shadow_truth
from tests.scenes.spec import Scene, SceneSpec

TRUTH_KINDS = frozenset({"crater", "sea", "ocean", "lake", "bay", "marsh"})


def north_on_screen(aspect: Aspect, sky_north_screen_deg: float, mirrored: bool) -> float:
    """Screen angle of the Moon's north where celestial north stands at that angle before the picture is mirrored."""
    angle = sky_north_screen_deg + aspect.axis_pa_deg
    return (-angle if mirrored else angle) % 360.0


def sky_north_held_upright(aspect: Aspect, tilt_deg: float = 0.0) -> float:
    """Screen angle of celestial north for a camera held level (zenith up), then tilted counter-clockwise."""
    if aspect.parallactic_deg is None:
        raise ValueError("an aspect without a place knows no zenith")
    return (tilt_deg - aspect.parallactic_deg) % 360.0


def true_pose(spec: SceneSpec, aspect: Aspect) -> Pose:
    return Pose(
        x=spec.x, y=spec.y, radius_px=spec.radius_px, north_screen_deg=spec.north_screen_deg, mirrored=spec.mirrored,
        libration_lat_deg=aspect.libration_lat_deg, libration_lon_deg=aspect.libration_lon_deg,
        sub_solar_lat_deg=aspect.sub_solar_lat_deg, sub_solar_lon_deg=aspect.sub_solar_lon_deg,
        distance_radii=aspect.distance_km / MOON_RADIUS_KM,
        flattening=spec.optics.flattening, flattening_screen_deg=spec.optics.flattening_screen_deg,
        radial_k1=spec.optics.radial_k1, axis_x=(spec.width - 1) / 2, axis_y=(spec.height - 1) / 2,
        axis_scale_px=float(np.hypot(spec.width, spec.height)) / 2,
    )  # fmt: skip


def sensor_light(spec: SceneSpec, pose: Pose) -> np.ndarray:
    """All light in front of the sensor, (height, width, 3) float32 linear: Moon, shadow, disturbances, sky, lens."""
    moon, wanted = moonlight(spec, pose), spec.disturbance
    if wanted.pasted:
        sun = replace(pose, sub_solar_lon_deg=pose.sub_solar_lon_deg + wanted.pasted_sun_deg)
        moon = pasted(moon, moonlight(spec, sun), spec, pose)
    moon = twice_exposed(invented(moon, spec, pose), spec)
    return with_sky(in_shadow(moon, spec, pose) if spec.eclipsed else moon, spec, pose)


def render(spec: SceneSpec) -> Scene:
    """The photograph that the spec describes, as file bytes, and everything true about it."""
    aspect = spec.aspect or aspect_at(spec.when_utc, spec.place)
    pose = true_pose(spec, aspect)
    data = encode(develop(sensor_light(spec, pose), spec.film, spec.seed), spec)
    return Scene(spec, data, pose, aspect, truth_row(spec, pose, aspect))


@cache
def _listed() -> tuple[tuple[str, ...], np.ndarray]:
    """Names, and (N, 3) of latitude, longitude and size, of the features whose pixels are told."""
    chosen = [f for f in all_features() if f.parent is None and f.kind in TRUTH_KINDS and f.size_km >= 15]
    return tuple(f.name for f in chosen), np.array([(f.lat_deg, f.lon_deg, f.size_km) for f in chosen])


def truth_row(spec: SceneSpec, pose: Pose, aspect: Aspect) -> dict[str, Any]:
    """What there is to know about the picture; features only inside the frame and an eyepiece's field, and on the near
    side. The limb's radius is that before any bend (of a stitched picture: of its upper part)."""
    names, table = _listed()
    seen = surface_to_pixel(pose, table[:, 0], table[:, 1])
    sun = sun_altitude_deg(table[:, 0], table[:, 1], pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    feature_x, feature_y, limb_x, limb_y = seen.x, seen.y, pose.x, pose.y
    if spec.bend is not None:
        feature_x, feature_y = spec.bend.seen(feature_x, feature_y)
        bent = spec.bend.seen(np.array([pose.x]), np.array([pose.y]))
        if np.isfinite(bent).all():
            limb_x, limb_y = float(bent[0][0]), float(bent[1][0])
    inside = (seen.mu > 0) & _displayed(spec, feature_x, feature_y)
    angle = -pose.north_screen_deg if pose.mirrored else pose.north_screen_deg
    tags = spec.tags
    row = {
        "family": spec.family, "utc": spec.when_utc.isoformat(),
        "lat": spec.place.latitude_deg, "lon": spec.place.longitude_deg,
        "exif_known": {"time": tags.time, "place": tags.place, "offset": tags.time and tags.offset},
        "clock_error_h": tags.clock_error_h, "width": spec.width, "height": spec.height,
        "limb": {"x": round(limb_x, 2), "y": round(limb_y, 2), "radius": round(pose.radius_px, 2)},
        "mirrored": pose.mirrored, "roll_deg": round((angle - aspect.axis_pa_deg) % 360.0, 3),
        "north_screen_deg": round(pose.north_screen_deg % 360.0, 3),
        "phase_angle_deg": round(aspect.phase_angle_deg, 3),
        "sub_observer_lat_lon": [round(pose.libration_lat_deg, 3), round(pose.libration_lon_deg, 3)],
        "sub_solar_lat_lon": [round(pose.sub_solar_lat_deg, 3), round(pose.sub_solar_lon_deg, 3)],
        "axis_pa_deg": round(aspect.axis_pa_deg, 3), "bright_limb_pa_deg": round(aspect.bright_limb_pa_deg, 3),
        "flattening": pose.flattening, "radial_k1": pose.radial_k1, "blur_px": spec.optics.blur_px,
        "features": [
            {"name": names[i], "diameter_km": float(table[i, 2]), "x": round(float(feature_x[i]), 2),
             "y": round(float(feature_y[i]), 2), "sun_alt_deg": round(float(sun[i]), 2)}
            for i in np.flatnonzero(inside)
        ],
        "received_utc": spec.received_utc.isoformat() if spec.received_utc else None,
    }  # fmt: skip
    return row | {"eclipse": shadow_truth(spec, pose)} if spec.eclipsed else row


def _displayed(spec: SceneSpec, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Which pixel positions lie in the frame and, where there is an eyepiece, in its field."""
    inside = (x >= 0) & (y >= 0) & (x <= spec.width - 1) & (y <= spec.height - 1)
    stop = spec.sky.field_stop
    return inside if stop is None else inside & (np.hypot(x - stop.x, y - stop.y) <= stop.radius_px)
