"""An evening to come as the API tells it: the sky at air time, and the cautions that go with it. Pure."""

from __future__ import annotations

from typing import Any

from moondesk.comparison.changed_light import near_terminator
from moondesk.comparison.predicted import predicted_pose
from moondesk.records import FeatureMark
from moondesk.service.programme.evenings_to_come import Coming
from moondesk.service.programme.viewer_requests import cautions, hours_of, sky_of
from moondesk.service.web.api.shapes import number, utc

#: Any size serves: near the terminator is an angle on the Moon.
SIZE_PX = 1000


def evening_object(one: Coming, day_number: int | None, zone: str) -> dict[str, Any]:
    sky, a = sky_of(one, zone), one.on_air
    return {
        "evening": one.evening.isoformat(),
        "day_number": day_number,
        "edition": one.edition,
        "air_utc": utc(one.air_utc),
        "illuminated_fraction": number(a.illuminated_fraction, 4),
        "waxing": sky.waxing,
        "phase_angle_deg": number(a.phase_angle_deg, 3),
        "elongation_deg": number(a.elongation_deg, 3),
        "altitude_deg": number(a.altitude_deg, 2),
        "azimuth_deg": number(a.azimuth_deg, 2),
        "sub_observer": _point(a.libration_lat_deg, a.libration_lon_deg),
        "sub_solar": _point(a.sub_solar_lat_deg, a.sub_solar_lon_deg),
        "sun_caution": sky.caution,
        "cautions": list(cautions(sky, hours_of(sky, zone))),
        "near_terminator": [_near(m) for m in near_terminator(predicted_pose(one.shown, SIZE_PX))],
    }


def _point(latitude_deg: float, longitude_deg: float) -> dict[str, Any]:
    return {"latitude_deg": number(latitude_deg, 4), "longitude_deg": number(longitude_deg, 4)}


def _near(m: FeatureMark) -> dict[str, Any]:
    f = m.feature
    return {
        "name": f.name,
        "kind": f.kind,
        "lat": number(f.lat_deg, 4),
        "lon": number(f.lon_deg, 4),
        "diameter_km": number(f.size_km, 2),
        "sun_altitude_deg": number(m.sun_altitude_deg, 3),
        "lit_fraction": number(m.lit_fraction, 4),
    }
