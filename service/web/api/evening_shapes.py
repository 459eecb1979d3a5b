"""An evening to come as the API tells it: the sky at air time, and the cautions that go with it. Pure."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from moondesk.comparison.changed_light import near_terminator
from moondesk.comparison.predicted import predicted_pose
from moondesk.ephemeris.aspect import unix_seconds_of
from moondesk.ephemeris.phases import eclipse_state
from moondesk.ephemeris.rise_and_set import RISEN_DEG, night, sun_altitude_deg, sun_caution
from moondesk.records import FeatureMark
from moondesk.service.programme.evening_advice import Sky, cautions
from moondesk.service.programme.evenings_to_come import Coming, is_waxing
from moondesk.service.programme.words import hour_words
from moondesk.service.settings.config import Programme
from moondesk.service.web.api.shapes import number, utc

#: Any size serves: near the terminator is an angle on the Moon.
SIZE_PX = 1000


def evening(one: Coming, day_number: int | None, programme: Programme) -> dict[str, Any]:
    sky, a = _sky(one, programme), one.on_air
    spans = (*sky.night.sun, *sky.night.moon) if sky.night else ()
    hours = {t: hour_words(t, programme.zone) for span in spans for t in span}
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
        "cautions": list(cautions(sky, hours)),
        "near_terminator": [_near(m) for m in near_terminator(predicted_pose(one.shown, SIZE_PX))],
    }


def _sky(one: Coming, programme: Programme) -> Sky:
    place, zone = programme.place, ZoneInfo(programme.zone)
    noon = datetime.combine(one.evening, time(12), zone)
    next_noon = datetime.combine(one.evening + timedelta(days=1), time(12), zone)
    up = bool(place and sun_altitude_deg([unix_seconds_of(one.air_utc)], place)[0] > RISEN_DEG)
    return Sky(
        on_air=one.on_air,
        caution=sun_caution(one.on_air.elongation_deg),
        night=night(noon, next_noon, place) if place else None,
        sun_up_on_air=up,
        waxing=is_waxing(one.on_air),
        eclipse=eclipse_state(one.shown.when_utc),
    )


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
