"""Views of the whole picture: turned, mirrored back, labelled anew; and the view of the naked eye."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from moondesk.drawing import PictureTurn, annotate_turned, labels_of, overlay_svg, style_for, turn_for
from moondesk.ephemeris.naked_eye import LEAST_ALTITUDE_DEG, EyeView, eye_view
from moondesk.moon.geometry import surface_to_pixel
from moondesk.records import Limb, NotFound, Place
from tests.core.overlay_scenes import SCENES, annotation_for, complete

REFERENCE = Path(__file__).parents[1] / "reference" / "de421_aspects.csv"


@pytest.mark.parametrize("name", SCENES)
@pytest.mark.parametrize("north", [0.0, 180.0, 33.0])
def test_every_feature_lies_where_the_turned_pose_puts_it(name: str, north: float) -> None:
    """Two ways to the same pixel: the picture's pixel by the view's matrix, and the surface by the view's own pose."""
    annotation = complete(name)
    turn = turn_for(annotation, north)
    seen = annotate_turned(annotation, turn)
    assert seen.pose is not None
    assert len(seen.features) > 20
    assert (seen.pose.mirrored, seen.pose.north_screen_deg) == (False, pytest.approx(north, abs=1e-9))
    lat = np.array([m.feature.lat_deg for m in seen.features])
    lon = np.array([m.feature.lon_deg for m in seen.features])
    at = surface_to_pixel(seen.pose, lat, lon)
    assert np.allclose(at.x, [m.x for m in seen.features], atol=1e-6)
    assert np.allclose(at.y, [m.y for m in seen.features], atol=1e-6)


@pytest.mark.parametrize("name", SCENES)
def test_names_of_a_view_point_at_what_the_picture_has(name: str) -> None:
    annotation = complete(name)
    turn = turn_for(annotation, 0.0)
    style = style_for(annotation, turn)
    seen, inside = annotate_turned(annotation, turn), turn.inside()
    labels = labels_of(seen, style.labels, inside)
    assert labels
    # as large on the Moon as in the picture itself, whatever room the turn makes around it
    plain = {k.name: k.font_px for k in labels_of(annotation)}
    both = [k.font_px / plain[k.name] for k in labels if k.name in plain]
    assert np.median(both) == pytest.approx(1.0, rel=1e-6)  # a sea may have its smaller size in one of the two
    named = {k.name for k in labels if k.kind == "crater"}
    marks = [m for m in seen.features if m.feature.name in named]
    assert inside(np.array([m.x for m in marks]), np.array([m.y for m in marks])).all()
    # an anchor is a point of the rim, which the picture's edge may cut
    assert inside(
        np.array([k.anchor_x for k in labels]) * 0.98 + 0.02 * seen.width / 2,
        np.array([k.anchor_y for k in labels]) * 0.98 + 0.02 * seen.height / 2,
    ).all()
    # level text stays level in the view, whatever the turn
    assert all(k.angle_deg == 0.0 for k in labels if k.kind == "crater")
    svg = overlay_svg(seen, style, inside)
    assert f'viewBox="-0.5 -0.5 {seen.width} {seen.height}"' in svg
    assert re.search(r'<g id="(craters|mountains|seas)">\s*<g class="wide">', svg)


@pytest.mark.parametrize("flipped", [False, True])
@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 180.0, 270.0, 31.0, 200.0])
def test_the_frame_of_a_view_holds_the_picture_and_no_more(flipped: bool, turn_deg: float) -> None:
    turn = PictureTurn(400, 300, flipped, turn_deg)
    corners = np.array([turn.point(x, y) for x in (-0.5, 399.5) for y in (-0.5, 299.5)])
    width, height = turn.size
    low, high = corners.min(0), corners.max(0)
    assert np.allclose(low + high, [width - 1, height - 1], atol=1e-6)
    assert (high - low <= [width + 1e-6, height + 1e-6]).all()
    assert (high - low > [width - 1, height - 1]).all()
    if turn_deg % 90 == 0:  # whole pixels fall on whole pixels
        assert np.allclose(turn.point(7, 5), np.round(turn.point(7, 5)), atol=1e-6)
    assert turn.inside()(corners[:, 0] * 0.99 + 0.01 * width / 2, corners[:, 1] * 0.99 + 0.01 * height / 2).all()
    assert not turn.inside()(corners[:, 0] * 1.1 - 0.1 * width / 2, corners[:, 1] * 1.1 - 0.1 * height / 2).any()


def test_up_left_and_the_hand_of_a_turn() -> None:
    """By hand: a quarter turn counter-clockwise takes what is up to the left, what is right to the top."""
    quarter = PictureTurn(400, 300, False, 90.0)
    assert quarter.size == (300, 400)
    assert quarter.angle(0.0) == 90.0
    assert quarter.point(399, 0) == pytest.approx((0, 0), abs=1e-9)
    mirrored = PictureTurn(400, 300, True, 0.0)
    assert mirrored.point(0, 10) == pytest.approx((399, 10), abs=1e-9)
    assert mirrored.angle(90.0) == 270.0


def test_a_disc_without_a_pose_is_turned_too_but_not_by_its_north() -> None:
    annotation = annotation_for(*SCENES["half"])
    limb = Limb(
        x=559.0,
        y=808.0,
        radius_px=422.0,
        sigma_px=1.0,
        covariance=(1.0,) * 9,
        rms_px=0.5,
        arc_deg=300.0,
        n_points=500,
        edge_width_px=2.0,
    )
    only = replace(annotation, pose=None, limb=limb, features=())
    seen = annotate_turned(only, PictureTurn(1200, 1600, False, 180.0))
    assert seen.limb is not None
    assert (seen.limb.x, seen.limb.y) == pytest.approx((1199 - 559.0, 1599 - 808.0))
    with pytest.raises(ValueError, match="placed"):
        turn_for(only, 0.0)


def test_the_eye_has_the_zenith_up() -> None:
    """Against DE421: the Moon's north is turned from the zenith by its position angle less the parallactic angle."""
    with REFERENCE.open() as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    high = [row for row in rows if 6.0 < float(row["altitude_deg"]) < 85.0]
    assert len(high) > 50
    for row in high:
        place = Place(float(row["latitude_deg"]), float(row["longitude_deg"]), float(row["height_m"]))
        seen = eye_view(datetime.fromisoformat(row["utc"]), place)
        assert isinstance(seen, EyeView)
        want = float(row["axis_pa_deg"]) - float(row["parallactic_deg"])
        off = abs((seen.north_screen_deg - want + 180) % 360 - 180)
        assert off * np.cos(np.radians(float(row["altitude_deg"]))) < 0.03, row["utc"]


def test_a_moon_below_the_horizon_is_looked_for_in_the_same_evening() -> None:
    when, place = datetime.fromisoformat("2026-03-26T12:00:00+00:00"), Place(48.2, 16.4)
    seen = eye_view(when, place)
    assert isinstance(seen, EyeView)
    assert seen.altitude_deg >= LEAST_ALTITUDE_DEG
    assert abs(seen.utc - when) <= timedelta(hours=12)
    earlier = eye_view(seen.utc - timedelta(minutes=20), place)
    assert isinstance(earlier, EyeView)
    assert earlier.utc <= seen.utc


def test_where_the_moon_does_not_rise_it_is_said() -> None:
    """By hand: full Moon of 2026 June 30 stands 28 degrees south of the equator and does not rise at 80 N."""
    found = eye_view(datetime.fromisoformat("2026-06-29T22:00:00+00:00"), Place(80.0, 0.0))
    assert isinstance(found, NotFound)
    assert "does not rise" in found.reason
