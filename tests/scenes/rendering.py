"""`render`: one spec to one photograph with its truth."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from annotate.moon.catalogue import features
from annotate.moon.geometry import sun_altitude_deg, surface_to_pixel
from annotate.records import MOON_RADIUS_KM, Aspect, Pose
from annotate.sky.ephemeris import aspect_at
from tests.scenes.develop import develop, encode
from tests.scenes.optics import moonlight, with_sky
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


def render(spec: SceneSpec) -> Scene:
    """The photograph that the spec describes, as file bytes, and everything true about it."""
    aspect = spec.aspect or aspect_at(spec.when_utc, spec.place)
    pose = true_pose(spec, aspect)
    light = with_sky(moonlight(spec, pose), spec, pose)
    return Scene(spec, encode(develop(light, spec.film, spec.seed), spec), pose, aspect, truth_row(spec, pose, aspect))


@cache
def _listed() -> tuple[tuple[str, ...], np.ndarray]:
    """Names, and (N, 3) of latitude, longitude and size, of the features whose pixels are told."""
    chosen = [f for f in features() if f.parent is None and f.kind in TRUTH_KINDS and f.size_km >= 15]
    return tuple(f.name for f in chosen), np.array([(f.lat_deg, f.lon_deg, f.size_km) for f in chosen])


def truth_row(spec: SceneSpec, pose: Pose, aspect: Aspect) -> dict[str, Any]:
    """What there is to know about the picture; features only inside the frame and on the near side."""
    names, table = _listed()
    seen = surface_to_pixel(pose, table[:, 0], table[:, 1])
    sun = sun_altitude_deg(table[:, 0], table[:, 1], pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    inside = (seen.mu > 0) & (seen.x >= 0) & (seen.y >= 0) & (seen.x <= spec.width - 1) & (seen.y <= spec.height - 1)
    angle = -pose.north_screen_deg if pose.mirrored else pose.north_screen_deg
    tags = spec.tags
    return {
        "family": spec.family, "utc": spec.when_utc.isoformat(),
        "lat": spec.place.latitude_deg, "lon": spec.place.longitude_deg,
        "exif_known": {"time": tags.time, "place": tags.place, "offset": tags.time and tags.offset},
        "clock_error_h": tags.clock_error_h, "width": spec.width, "height": spec.height,
        "limb": {"x": round(pose.x, 2), "y": round(pose.y, 2), "radius": round(pose.radius_px, 2)},
        "mirrored": pose.mirrored, "roll_deg": round((angle - aspect.axis_pa_deg) % 360.0, 3),
        "north_screen_deg": round(pose.north_screen_deg % 360.0, 3),
        "phase_angle_deg": round(aspect.phase_angle_deg, 3),
        "sub_observer_lat_lon": [round(pose.libration_lat_deg, 3), round(pose.libration_lon_deg, 3)],
        "sub_solar_lat_lon": [round(pose.sub_solar_lat_deg, 3), round(pose.sub_solar_lon_deg, 3)],
        "axis_pa_deg": round(aspect.axis_pa_deg, 3), "bright_limb_pa_deg": round(aspect.bright_limb_pa_deg, 3),
        "flattening": pose.flattening, "radial_k1": pose.radial_k1, "blur_px": spec.optics.blur_px,
        "features": [
            {"name": names[i], "diameter_km": float(table[i, 2]), "x": round(float(seen.x[i]), 2),
             "y": round(float(seen.y[i]), 2), "sun_alt_deg": round(float(sun[i]), 2)}
            for i in np.flatnonzero(inside)
        ],
        "received_utc": spec.received_utc.isoformat() if spec.received_utc else None,
    }  # fmt: skip
