"""One Sun for a picture: pose, edge, names, notes and files go by the same one, by the clock where that is known."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from moondesk import Known, annotate_picture
from moondesk.checks.evening import time_to_state
from moondesk.ephemeris.aspect import aspect_at
from moondesk.exports.fits import fits_file
from moondesk.exports.geojson import feature_collection
from moondesk.exports.json_line import json_line
from moondesk.moon.geometry import sun_altitude_deg
from moondesk.notes.messages import Number
from moondesk.notes.picture_notes import notes_of, sun_of
from moondesk.notes.records import Notes
from moondesk.records import Annotation, Clock, ClockVerdict, Place, Pose, Status, TimeReadings
from tests.scenes import FileTags, SceneSpec, render

WHEN = datetime(2027, 3, 14, 19, 20, tzinfo=UTC)
PLACE = Place(45.0, 12.0)
BARE = FileTags(time=False, offset=False, place=False, make=None, model=None)


@pytest.fixture(scope="module", params=["clock", "days before it came", "undated"])
def placed(request: pytest.FixtureRequest) -> Annotation:
    tags = FileTags(place=False) if request.param == "clock" else BARE
    came = None if request.param == "undated" else WHEN + timedelta(days=1)
    spec = SceneSpec(WHEN, PLACE, x=318.4, y=245.7, radius_px=181.3, north_screen_deg=67.0, width=640, height=480,
                     seed=3, tags=tags)  # fmt: skip
    return annotate_picture(render(spec).data, Known(received_utc=came))


def test_all_that_leaves_goes_by_one_sun(placed: Annotation) -> None:
    from astropy.io import fits

    a, pose = placed, placed.pose
    assert a.sure
    assert pose is not None
    assert a.terminator is not None
    time = time_to_state(a)
    when = None if time is None else time.utc
    sun = sun_of(a, when)
    assert (sun.lat_deg, sun.lon_deg) == pytest.approx((pose.sub_solar_lat_deg, pose.sub_solar_lon_deg), abs=1e-9)
    notes = notes_of(a, when)
    assert isinstance(notes, Notes)
    said = next(n.said for n in notes.notes if n.topic == "phase")
    share = 100 * a.terminator.illuminated_fraction
    percent = said.value("percent")
    assert isinstance(percent, Number)
    assert percent.value == pytest.approx(share, abs=1e-6)
    line = json_line("a.jpg", "", a)
    assert line["terminator"]["illuminated_fraction"] == round(share / 100, 4)
    mark = max(a.features, key=lambda m: m.lit_fraction * m.feature.size_km)
    at = mark.feature.lat_deg, mark.feature.lon_deg
    height = float(sun_altitude_deg(*at, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg))
    assert mark.sun_altitude_deg == pytest.approx(height, abs=1e-6)
    found = feature_collection(a)
    assert found
    told = next(f["properties"] for f in found["features"] if f["properties"]["name"] == mark.feature.name)
    assert told["sun_altitude_deg"] == pytest.approx(height, abs=1e-3)
    data = fits_file(np.zeros((a.height, a.width, 3), np.uint8), a, "")
    assert isinstance(data, bytes)
    with fits.open(io.BytesIO(data)) as opened:
        assert opened[0].header["SUNLON"] == pytest.approx(pose.sub_solar_lon_deg, abs=1e-9)
        assert "Rows run upwards" in str(opened[0].header["COMMENT"])
    assert "y down" in found["frame"]["pixels"]


def test_it_is_the_ephemeris_sun_where_the_time_is_known(placed: Annotation) -> None:
    pose, time = placed.pose, time_to_state(placed)
    assert pose is not None
    truth = aspect_at(WHEN, PLACE)
    assert abs(pose.sub_solar_lon_deg - truth.sub_solar_lon_deg) < 1.0
    if time is None:  # undated: its light alone, and no time
        assert (placed.dated.verdict, placed.time, placed.aspect) == ("unknown", None, None)
        return
    assert placed.dated.verdict == "sure"
    sky = aspect_at(time.utc, None)
    assert pose.sub_solar_lon_deg == pytest.approx(sky.sub_solar_lon_deg, abs=1e-3)
    if time.source != "picture":
        assert placed.terminator is not None
        assert placed.terminator.illuminated_fraction == pytest.approx(truth.illuminated_fraction, abs=0.003)
        assert placed.terminator.sigma_deg < 0.05


def test_the_rows_of_a_fits_file_are_where_its_comment_says() -> None:
    from astropy.io import fits

    rgb = np.zeros((40, 60, 3), np.uint8)
    rgb[7, 11] = 255  # x 11, y 7 of the lists
    pose = Pose(
        x=30.0,
        y=20.0,
        radius_px=15.0,
        north_screen_deg=0.0,
        mirrored=False,
        libration_lat_deg=1.0,
        libration_lon_deg=2.0,
        sub_solar_lat_deg=0.5,
        sub_solar_lon_deg=30.0,
        sigma_pct_radius=0.05,
        axis_scale_px=50.0,
    )
    a = Annotation(
        status=Status.ANNOTATED,
        sure=True,
        width=60,
        height=40,
        taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
        time=None,
        clock=Clock(ClockVerdict.NO_CLOCK, None, None),
        pose=pose,
    )
    data = fits_file(rgb, a, "")
    assert isinstance(data, bytes)
    with fits.open(io.BytesIO(data)) as opened:
        stored = opened[0].data
    column, row = 11 + 1, 40 - 7  # as FITS counts, from 1
    assert stored[row - 1, column - 1] == stored.max() > 0
