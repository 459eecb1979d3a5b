"""The shadows of a picture's craters: each named crater in low light tried at its sunward rim."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from annotate.moon.geometry import unit_vector
from annotate.records import MOON_RADIUS_KM, Annotation, FeatureMark, Float32Array, Pose
from annotate.shadows.heights import ShadowHeight
from annotate.shadows.measuring import shadow_at, sun_of

#: Sizes that are tried, km; height of the Sun at the crater's middle, degrees; how likely it must be made out.
SIZE_KM, SUN_DEG, LEAST_SEEN = (20.0, 200.0), (1.0, 16.0), 0.5
#: How far round the rim the shadow may begin, as a share of the crater's size, and at least, km.
REACH, LEAST_REACH_KM = 0.35, 12.0


def crater_shadows(luminance: Float32Array, annotation: Annotation, blur_px: float) -> Mapping[str, ShadowHeight]:
    """By the crater's name, where a height can be told: how far its sunward rim stands above the ground at the shadow's
    tip. luminance: (H, W) linear light of the picture as displayed, in the annotation's pixels; blur_px: one standard
    deviation. Nothing for a picture that is not surely placed. Time: 10 ms a crater tried.
    """
    sunny = sun_of(annotation)
    if sunny is None:
        return {}
    pose, sigma = sunny
    found = {}
    for mark in annotation.features:
        if is_tried(mark):
            lat, lon = sunward_rim(mark, pose)
            reach = max(REACH * mark.feature.size_km, LEAST_REACH_KM)
            got = shadow_at(luminance, pose, lat, lon, reach, blur_px, sigma)
            if isinstance(got, ShadowHeight):
                found[mark.feature.name] = got
    return found


def is_tried(mark: FeatureMark) -> bool:
    """Whether a shadow is looked for at a mark."""
    return (mark.feature.kind == "crater" and SIZE_KM[0] <= mark.feature.size_km <= SIZE_KM[1]
            and SUN_DEG[0] < mark.sun_altitude_deg < SUN_DEG[1] and mark.seen >= LEAST_SEEN)


def sunward_rim(mark: FeatureMark, pose: Pose) -> tuple[float, float]:
    """Latitude and longitude, degrees, of the point of the catalogue's circle nearest to the Sun."""
    here = unit_vector(mark.feature.lat_deg, mark.feature.lon_deg)
    sun = unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    towards = sun - here * float(here @ sun)
    towards /= np.linalg.norm(towards)
    theta = mark.feature.size_km / 2 / MOON_RADIUS_KM
    point = np.cos(theta) * here + np.sin(theta) * towards
    return (float(np.degrees(np.arctan2(point[2], np.hypot(point[0], point[1])))),
            float(np.degrees(np.arctan2(point[1], point[0]))))
