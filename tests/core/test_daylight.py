"""The Sun found from the light of pictures whose Sun is known: tone curves, haze and a bright sky must not shift it."""

from __future__ import annotations

import time
from datetime import UTC, datetime

import cv2
import numpy as np
import pytest

from moondesk.ephemeris.sky_hypotheses import SkyHypothesis, SunTrack, sun_track
from moondesk.moon.geometry import unit_vector
from moondesk.moon.relight import disc_model, frame_grid, light
from moondesk.placement.sun_search import NorthUp, _Look, fit_light
from moondesk.records import TimeReadings

WHEN = datetime(2027, 3, 14, 19, 20, tzinfo=UTC)
TRACK = sun_track(
    TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
    SkyHypothesis(
        utc=WHEN,
        libration_lat_deg=0.0,
        libration_lon_deg=0.0,
        sub_solar_lat_deg=0.0,
        sub_solar_lon_deg=0.0,
        distance_radii=221.3,
        sigma_deg=0.6,
    ),
)
MODEL = disc_model(2.0, -3.0, 90.0)


def seen(index: int, gain: float = 1.0, haze: float = 0.0, sky: float = 0.0, curve: float = 0.0) -> np.ndarray:
    """The disc under one Sun of the track, linear light, then clipped and bent as by a camera, in display values."""
    radiance = light(MODEL, float(TRACK.lat_deg[index]), float(TRACK.lon_deg[index]))
    shown = radiance / np.percentile(radiance[radiance > 0], 99)
    u, v, _ = frame_grid(MODEL.radius_px)
    glow = cv2.GaussianBlur(shown, (0, 0), 0.5 * MODEL.radius_px, borderType=cv2.BORDER_CONSTANT)
    shown = gain * (shown + haze * glow + sky * (1.0 + 0.5 * u - 0.3 * v))
    shown = np.sqrt(np.clip(cv2.GaussianBlur(shown.astype(np.float32), (0, 0), 0.9), 0, 1))
    return ((1 - curve) * shown + curve * shown * shown * (3 - 2 * shown)).astype(np.float32)


@pytest.mark.parametrize("index", [30, 96, 150])
@pytest.mark.parametrize("how", [
    {}, {"curve": 0.4}, {"haze": 0.4}, {"sky": 0.3, "gain": 0.6}, {"haze": 0.3, "sky": 0.05, "curve": 0.3},
])  # fmt: skip
def test_the_sun_is_found(index: int, how: dict[str, float]) -> None:
    fit = fit_light(NorthUp(seen(index, **how).astype(np.float32), MODEL.inside), MODEL, TRACK, 96)
    assert abs(fit.index - index) < 0.8  # hours; a bright sky is the worst
    assert not fit.at_edge
    near = fit_light(NorthUp(seen(index, **how).astype(np.float32), MODEL.inside), MODEL, TRACK, index + 4, near=True)
    assert near.index == pytest.approx(fit.index, abs=0.2)


@pytest.mark.parametrize("beyond", [0, 1, 2])
def test_an_end_of_the_track_is_told(beyond: int) -> None:
    """The best Sun is the last, or lies beyond it."""
    last = len(TRACK.lon_deg) - 1
    shorter = SunTrack(TRACK.unix_seconds[:last], TRACK.lat_deg[:last], TRACK.lon_deg[:last])
    fit = fit_light(NorthUp(seen(min(last - 1 + beyond, last)), MODEL.inside), MODEL, shorter, 96)
    assert fit.at_edge
    assert last - 2 < fit.index <= last - 1
    assert fit_light(NorthUp(seen(0), MODEL.inside), MODEL, TRACK, 96).at_edge


def test_nothing_to_see_gives_no_time() -> None:
    flat = np.full_like(MODEL.mu, 0.5)
    fit = fit_light(NorthUp(flat, MODEL.inside), MODEL, TRACK, 50)
    assert fit.sigma >= len(TRACK.lon_deg)
    assert fit_light(NorthUp(seen(50), np.zeros_like(MODEL.inside)), MODEL, TRACK, 50).unexplained == 1.0


def test_light_is_that_of_the_relit_disc() -> None:
    look = _Look(NorthUp(seen(96), MODEL.inside), MODEL, TRACK, 96, 1.0, 1)
    sun = unit_vector(TRACK.lat_deg[100], TRACK.lon_deg[100]).astype(np.float32)
    whole = light(MODEL, float(TRACK.lat_deg[100]), float(TRACK.lon_deg[100]))
    assert np.abs(look._frame(look._radiance(sun)) - whole)[look._frame(look._radiance(sun)) > 0].max() < 1e-4


def test_speed() -> None:
    model = disc_model(2.0, -3.0, 120.0)
    picture = np.sqrt(light(model, float(TRACK.lat_deg[90]), float(TRACK.lon_deg[90]))).astype(np.float32)
    fit_light(NorthUp(picture, model.inside), model, TRACK, 96)
    began = time.process_time()
    fit_light(NorthUp(picture, model.inside), model, TRACK, 96)
    assert time.process_time() - began < 0.2  # 0.02 s alone on a core
