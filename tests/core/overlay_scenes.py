"""Scenes for the tests of the overlay: poses made up by hand, the catalogue's features put there by the geometry."""

from __future__ import annotations

import functools

import numpy as np

from moondesk.drawing.curves import circle_about
from moondesk.moon.catalogue import all_features, feature_arrays
from moondesk.moon.geometry import sun_altitude_deg, surface_to_pixel, unit_vector
from moondesk.records import MOON_RADIUS_KM, Annotation, Clock, ClockVerdict, FeatureMark, Pose, Status, TimeReadings
from moondesk.visibility.prominence import prominence

#: name: (width, height, pose). Whole discs, a crescent, a cut, close-ups, mirrored, small, lens, low Moon.
SCENES: dict[str, tuple[int, int, Pose]] = {
    "half": (1200, 1600, Pose(x=559, y=808, radius_px=422, north_screen_deg=82.0, mirrored=True, libration_lat_deg=0.8, libration_lon_deg=7.5, sub_solar_lat_deg=1.5, sub_solar_lon_deg=93.5)),
    "full": (1600, 1200, Pose(x=1009, y=591, radius_px=505, north_screen_deg=308.0, mirrored=False, libration_lat_deg=-4.0, libration_lon_deg=3.0, sub_solar_lat_deg=1.0, sub_solar_lon_deg=0.0)),
    "crescent": (1600, 1200, Pose(x=838, y=783, radius_px=300, north_screen_deg=25.0, mirrored=False, libration_lat_deg=3.0, libration_lon_deg=-5.0, sub_solar_lat_deg=0.5, sub_solar_lon_deg=-146.0)),
    "cut": (1600, 1200, Pose(x=516, y=569, radius_px=757, north_screen_deg=315.0, mirrored=False, libration_lat_deg=6.0, libration_lon_deg=-6.0, sub_solar_lat_deg=1.0, sub_solar_lon_deg=-97.0)),
    "closeup": (1600, 1200, Pose(x=-528, y=-472, radius_px=1892, north_screen_deg=205.0, mirrored=False, libration_lat_deg=-5.0, libration_lon_deg=2.0, sub_solar_lat_deg=1.2, sub_solar_lon_deg=-100.0)),
    "closeup mirrored": (1600, 1200, Pose(x=1637, y=1095, radius_px=1955, north_screen_deg=20.0, mirrored=True, libration_lat_deg=2.0, libration_lon_deg=4.0, sub_solar_lat_deg=-1.0, sub_solar_lon_deg=-46.0)),
    "small": (1600, 1200, Pose(x=951, y=246, radius_px=42, north_screen_deg=150.0, mirrored=False, libration_lat_deg=1.0, libration_lon_deg=5.0, sub_solar_lat_deg=0.0, sub_solar_lon_deg=110.0)),
    "lens": (1600, 1200, Pose(x=595, y=613, radius_px=482, north_screen_deg=10.0, mirrored=True, libration_lat_deg=2.0, libration_lon_deg=-3.0, sub_solar_lat_deg=1.0, sub_solar_lon_deg=78.0, radial_k1=-0.06, axis_x=800.0,
                              axis_y=600.0, axis_scale_px=1000.0)),
    "low": (1200, 900, Pose(x=600, y=450, radius_px=376, north_screen_deg=40.0, mirrored=False, libration_lat_deg=0.0, libration_lon_deg=3.0, sub_solar_lat_deg=0.0, sub_solar_lon_deg=66.0, flattening=0.12,
                            flattening_screen_deg=0.0)),
}  # fmt: skip


@functools.cache
def marks_for(width: int, height: int, pose: Pose) -> tuple[FeatureMark, ...]:
    """Every named feature of 15 km or more in the frame, with a plain guess at what can be made out."""
    every, table = all_features(), feature_arrays()
    at = surface_to_pixel(pose, table.lat_deg, table.lon_deg)
    inside = (at.mu > 0.02) & (at.x >= 0) & (at.y >= 0) & (at.x <= width - 1) & (at.y <= height - 1)
    named = (~table.lettered & (table.size_km >= 15)) | np.array([f.name == "Mösting A" for f in every])
    chosen = np.flatnonzero(inside & named)
    sun = sun_altitude_deg(table.lat_deg, table.lon_deg, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)[chosen]
    sun_vector = unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    lit = []
    for k in chosen:
        reach = np.degrees(table.size_km[k] / 2 / MOON_RADIUS_KM)
        rings = [circle_about(table.lat_deg[k], table.lon_deg[k], reach * r, 16) for r in (0.3, 0.6, 0.8, 0.95)]
        lit.append(float(np.mean(np.concatenate(rings) @ sun_vector > 0)))
    share = np.array(lit)
    part = table.take(chosen)
    worth = prominence(part, sun, share, at.mu[chosen])
    radius = part.size_km / 2 / MOON_RADIUS_KM * pose.radius_px
    seen = np.clip(radius / 4.0, 0, 1) * np.clip(2 * share, 0, 1) * np.clip(4 * at.mu[chosen], 0, 1)
    return tuple(
        FeatureMark(feature=every[k], x=float(at.x[k]), y=float(at.y[k]), sigma_px=1.0, radius_px=float(radius[i]), sun_altitude_deg=float(sun[i]), cos_view=float(at.mu[k]),
                    lit_fraction=float(share[i]), seen=float(seen[i]), prominence=float(worth[i]))
        for i, k in enumerate(chosen)
    )  # fmt: skip


def annotation_for(width: int, height: int, pose: Pose, **more: object) -> Annotation:
    """An annotation that holds a pose and what goes with it, all else empty."""
    return Annotation(status=Status.ANNOTATED, sure=True, width=width, height=height, taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None), time=None,
                      clock=Clock(ClockVerdict.NO_CLOCK, None, None), pose=pose, **more)  # type: ignore[arg-type]  # fmt: skip


@functools.cache
def complete(name: str) -> Annotation:
    """A scene's annotation with its features."""
    width, height, pose = SCENES[name]
    marks = marks_for(width, height, pose)
    return annotation_for(width, height, pose, features=marks)
