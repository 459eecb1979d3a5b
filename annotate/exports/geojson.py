"""What a placed picture shows as GeoJSON (RFC 7946): features of the Moon and the edge of its light.

RFC 7946 knows no coordinates but the Earth's and no member to name others; section 4 lets parties agree on others. So
the body is declared in foreign members (section 6.1), and who reads it as the Earth's is wrong: in `frame`, and in the
`crs` of the format before that standard, which GDAL and what is built on it still follow (tried with GeoPandas 1.2).
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from moondesk.moon.geometry import disc_axes, project
from moondesk.records import MOON_RADIUS_KM, Annotation, FloatArray, NotFound, Pose
from moondesk.visibility.marks import is_listed

#: Points of the whole terminator.
TERMINATOR_POINTS = 360
#: The frame, by the name of the IAU's reports on cartographic coordinates as the Open Geospatial Consortium lists them.
FRAME = {
    "crs": "IAU_2015:30100",
    "body": "Moon",
    "radius_m": 1000 * MOON_RADIUS_KM,
    "latitude": "planetocentric",
    "longitude": "positive east, -180 to 180",
    "orientation": "mean Earth/polar axis",
    "pixels": "x to the right, y down, (0, 0) the centre of the top-left pixel of the picture as displayed; a FITS "
    "file beside this counts its rows upwards: row = height - y, column = x + 1",
    "note": "Coordinates are on the Moon, not on the Earth: an arrangement outside RFC 7946, see its section 4.",
}
#: The same as a name of the Open Geospatial Consortium's.
CRS = {"type": "name", "properties": {"name": "urn:ogc:def:crs:IAU:2015:30100"}}


def feature_collection(annotation: Annotation) -> dict[str, Any] | NotFound:
    """Named features in the frame with their pixels, and where the mean sphere's terminator runs on the side that is
    seen. Only of what is surely placed."""
    a, pose = annotation, annotation.pose
    if pose is None or not a.sure:
        return NotFound(
            "export", "It is not surely placed, so nothing in it has coordinates.", "Place it by hand first."
        )
    features = [
        _point(
            mark.feature.lon_deg,
            mark.feature.lat_deg,
            {
                "name": mark.feature.name,
                "kind": mark.feature.kind,
                "size_km": mark.feature.size_km,
                "x": round(mark.x, 2),
                "y": round(mark.y, 2),
                "sigma_px": round(mark.sigma_px, 3),
                "sun_altitude_deg": round(mark.sun_altitude_deg, 3),
                "lit_fraction": round(mark.lit_fraction, 4),
                "seen": round(mark.seen, 4),
            },
        )
        for mark in a.features
        if is_listed(mark, a)
    ]
    line = _terminator(pose)
    if len(line) > 1:
        features.append(
            {
                "type": "Feature",
                "properties": {"name": "terminator", "kind": "terminator"},
                "geometry": {"type": "LineString", "coordinates": line},
            }
        )
    return {"type": "FeatureCollection", "crs": CRS, "frame": FRAME, "features": features}


def _point(lon: float, lat: float, properties: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": "Point", "coordinates": [round(lon, 5), round(lat, 5)]},
    }


def _terminator(pose: Pose) -> list[list[float]]:
    """Where the Sun's centre stands on the horizon, from one limb to the other: [longitude, latitude] in order."""
    east, north, _ = disc_axes(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    t = np.linspace(0, 2 * math.pi, TERMINATOR_POINTS, endpoint=False)
    ring: FloatArray = np.cos(t)[:, None] * east + np.sin(t)[:, None] * north
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    seen = project(ring, axes, pose.distance_radii).mu > 0
    if not seen.any():
        return []
    start = int(np.argmax(seen & ~np.roll(seen, 1)))  # the first that is seen after one that is not
    ring, seen = np.roll(ring, -start, axis=0), np.roll(seen, -start)
    ring = ring[seen]
    lon, lat = np.degrees(np.arctan2(ring[:, 1], ring[:, 0])), np.degrees(np.arcsin(ring[:, 2]))
    return [[round(float(x), 4), round(float(y), 4)] for x, y in zip(lon, lat, strict=True)]
