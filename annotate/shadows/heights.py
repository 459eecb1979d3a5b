"""From the length of a shadow to the height of what casts it, on a sphere.

The ray of the Sun's centre that grazes the crest ends at the shadow's tip. With the Sun h degrees high at the tip, and
the crest an arc theta from it towards the Sun, the triangle of crest, tip and the Moon's middle gives

    height = R (cos h / cos(h + theta) - 1)

above the level of the tip's ground: no mean level is assumed, so a slope between both is part of the height. (The
method goes back to Galilei 1610; with the sphere's curvature as in T. L. MacDonald's series in J. Brit. Astron. Assoc.
1931, from memory. Measuring back from the tip needs no knowledge of where the summit lies: the start of the shadow is
the point that the ray grazes.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from moondesk.records import MOON_RADIUS_KM

METHOD = "length of the shadow along the Sun's direction, both edges fitted, on a sphere of 1737.4 km"


@dataclass(frozen=True, kw_only=True)
class ShadowHeight:
    """height_m: of the point that casts the shadow above the ground at its tip; sigma_m: one standard deviation.

    length_km: along the mean sphere; sun_altitude_deg: of the Sun's centre at the tip; start, tip: (latitude,
    longitude), degrees; resolution_km: full width at half maximum of the blur along the shadow.
    """

    height_m: float
    sigma_m: float
    length_km: float
    length_sigma_km: float
    sun_altitude_deg: float
    start: tuple[float, float]
    tip: tuple[float, float]
    resolution_km: float
    method: str = METHOD


def height_km(length_km: float, sun_altitude_deg: float) -> float:
    """Height of what casts a shadow over the level of its tip, km.

    Parameters: length along the mean sphere, km; height of the Sun's centre at the tip, degrees.
    Raises: ValueError for a Sun that is not up, or a length from which it never sets.

    >>> round(height_km(10.0, 5.0), 3)  # on a plane 10 km times tan(5 deg) = 0.875
    0.904
    """
    h, theta = np.radians(sun_altitude_deg), length_km / MOON_RADIUS_KM
    if not (h > 0.0 and theta >= 0.0 and h + theta < np.pi / 2):
        raise ValueError(f"no height from a shadow of {length_km} km with the Sun {sun_altitude_deg} degrees high")
    return float(MOON_RADIUS_KM * (np.cos(h) / np.cos(h + theta) - 1.0))


def slopes(length_km: float, sun_altitude_deg: float) -> tuple[float, float]:
    """Derivatives of `height_km`: km per km of length, and km per degree of the Sun's altitude.

    >>> round(slopes(10.0, 5.0)[0] - (height_km(10.01, 5.0) - height_km(9.99, 5.0)) / 0.02, 6)
    0.0
    """
    h, theta = np.radians(sun_altitude_deg), length_km / MOON_RADIUS_KM
    along = float(np.cos(h) * np.sin(h + theta) / np.cos(h + theta) ** 2)
    by_sun = float(MOON_RADIUS_KM * np.sin(theta) / np.cos(h + theta) ** 2)
    return along, by_sun * float(np.pi / 180.0)
