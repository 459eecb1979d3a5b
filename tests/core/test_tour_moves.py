"""The camera of a tour: it ends where it should, never jumps, and keeps what is looked at in the frame."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from air_pictures import sample

from moondesk.drawing.composition import compose_frame
from moondesk.drawing.frame import FORMATS, FrameRequest
from moondesk.moon.geometry import disc_to_pixel
from moondesk.records import NotFound, Pose
from moondesk.tour.camera import Camera, camera_as_sent, camera_at, locate, lookup_of, pose_in
from moondesk.tour.moves import Move, ease

HD = FORMATS["hd"]
#: A telephone's picture: mirrored, flattened by refraction, askew, through a lens that bends.
POSE = Pose(
    x=820.0,
    y=610.0,
    radius_px=300.0,
    north_screen_deg=200.0,
    mirrored=True,
    libration_lat_deg=3.0,
    libration_lon_deg=-5.0,
    sub_solar_lat_deg=0.5,
    sub_solar_lon_deg=70.0,
    flattening=0.03,
    flattening_screen_deg=20.0,
    radial_k1=0.02,
    axis_x=800.0,
    axis_y=600.0,
    axis_scale_px=1000.0,
    tilt=0.01,
    tilt_screen_deg=40.0,
)
SENT = Camera(x=980.0, y=545.0, radius_px=270.0, north_screen_deg=200.0, hand=-1.0, lens=1.0)
WHOLE = Camera(x=1246.0, y=540.0, radius_px=424.0, north_screen_deg=0.0)


def close(at, radius=2400.0):
    """A camera with a place of the disc in the middle of the frame."""
    there = replace(WHOLE, radius_px=radius)
    x, y = there.point(*np.array(at))
    return replace(there, x=there.x + 959.5 - x, y=there.y + 539.5 - y)


PLATO, TYCHO = (-0.1, 0.77), (-0.13, -0.68)
MOVES = {
    "turned over": Move(start=SENT, end=WHOLE, format=HD),
    "in": Move(start=WHOLE, end=close(PLATO), format=HD, start_at=PLATO, end_at=PLATO),
    "out": Move(start=close(TYCHO), end=WHOLE, format=HD, start_at=TYCHO, end_at=TYCHO),
    "across": Move(start=close(PLATO), end=close(TYCHO), format=HD, start_at=PLATO, end_at=TYCHO),
}
EVERY = pytest.mark.parametrize("move", MOVES.values(), ids=MOVES)


def numbers(camera):
    return np.array([camera.x, camera.y, np.log(camera.radius_px), camera.hand, camera.lens])


@EVERY
def test_it_ends_exactly_at_its_cameras(move):
    assert (move.at(0.0), move.at(1.0)) == (move.start, move.end)
    for near, end in ((1e-4, move.start), (1 - 1e-4, move.end)):
        assert numbers(move.at(near)) == pytest.approx(numbers(end), abs=1e-4)


@EVERY
def test_nothing_jumps(move):
    """Rim and middle, frame by frame at 50 a second: no acceleration beyond that of the easing on the longest way."""
    t = np.linspace(0.0, 1.0, 126)
    u, v = (np.array([0.0, 1.0, -1.0, 0.0, 0.0, move.end_at[0]]), np.array([0.0, 0.0, 0.0, 1.0, -1.0, move.end_at[1]]))
    track = np.array([np.concatenate(move.at(s).point(u, v)) for s in t])
    acceleration = np.abs(np.diff(track, n=2, axis=0)).max() / (t[1] - t[0]) ** 2
    way = max(np.ptp(track, axis=0).max(), move.start.radius_px)
    assert acceleration < 60.0 * way
    jerk = np.abs(np.diff(track, n=3, axis=0)).max() / (t[1] - t[0]) ** 3
    assert jerk < 1500.0 * way
    assert np.abs(np.diff(track, axis=0))[[0, -1]].max() < 1e-3 * way  # at rest at both ends


@EVERY
def test_what_is_looked_at_stays_in_the_frame(move):
    for t in np.linspace(0.0, 1.0, 51):
        e = ease(t)
        at = (1 - e) * np.array(move.start_at) + e * np.array(move.end_at)
        x, y = move.at(t).point(*at)
        assert 0.05 * HD.width < x < 0.95 * HD.width
        assert 0.05 * HD.height < y < 0.95 * HD.height


def test_across_the_disc_both_parts_come_in_sight():
    move = MOVES["across"]
    middle = move.at(0.5)
    for at in (PLATO, TYCHO):
        x, y = middle.point(*np.array(at))
        assert 0 < x < HD.width
        assert 0 < y < HD.height


def test_turns_the_short_way_and_turns_over():
    angles = [MOVES["turned over"].at(t).north_screen_deg for t in np.linspace(0, 1, 30)]
    assert all(200.0 - 1e-9 <= a <= 360.0 or a == 0.0 for a in angles)
    hands = [MOVES["turned over"].at(t).hand for t in np.linspace(0, 1, 30)]
    assert all(a <= b for a, b in pairwise(hands))
    assert min(abs(h) for h in hands) < 0.2
    assert MOVES["turned over"].flips
    assert not MOVES["in"].flips


def test_as_sent_lies_as_it_came():
    annotation = replace(sample("IMG_0088.jpg")[1], pose=POSE)
    camera = camera_as_sent(annotation, HD)
    found = compose_frame(annotation, FrameRequest(as_sent=True))
    assert not isinstance(found, NotFound)
    x, y = np.meshgrid(np.linspace(300, 1600, 14), np.linspace(0, 1079, 11))
    for one, other in zip(lookup_of(camera, POSE)(x, y)[:2], found.lookup(x, y)[:2], strict=True):
        assert one == pytest.approx(other, abs=1e-6)
    px, py, _ = found.lookup(np.array([240.0, 1679.0]), np.array([0.0, 1079.0]))
    assert px == pytest.approx([0.0, 1599.0], abs=0.6)
    assert py == pytest.approx([0.0, 1199.0], abs=0.6)


def test_upright_is_as_composed():
    annotation = replace(sample("IMG_0088.jpg")[1], pose=POSE)
    found = compose_frame(annotation, FrameRequest())
    assert not isinstance(found, NotFound)
    assert found.pose is not None
    camera = camera_at(found.pose)
    assert pose_in(camera, POSE) == replace(found.pose, parameters=(), covariance=())
    x, y = np.meshgrid(np.linspace(800, 1650, 14), np.linspace(100, 979, 11))
    for one, other in zip(lookup_of(camera, POSE)(x, y), found.lookup(x, y), strict=True):
        assert one == pytest.approx(other, abs=1e-6)


@pytest.mark.parametrize("t", [0.0, 0.3, 0.5, 0.8, 1.0])
def test_pictures_pixels_are_located_on_the_way(t):
    camera = MOVES["turned over"].at(t)
    u, v = np.meshgrid(np.linspace(-0.6, 0.6, 7), np.linspace(-0.6, 0.6, 7))
    px, py = disc_to_pixel(POSE, u, v)
    back = lookup_of(camera, POSE)(*locate(camera, POSE, px, py))
    assert np.hypot(back[0] - px, back[1] - py).max() < 0.02


def test_matrices_take_the_one_picture_onto_the_other():
    move = MOVES["turned over"]
    u, v = np.meshgrid(np.linspace(-0.6, 0.6, 7), np.linspace(-0.6, 0.6, 7))
    px, py = disc_to_pixel(POSE, u, v)
    x0, y0 = (p + 0.5 for p in locate(move.start, POSE, px, py))
    for t in (0.0, 0.4, 1.0):
        a, b, c, d, e, f = move.matrix(t, POSE)
        x1, y1 = (p + 0.5 for p in locate(move.at(t), POSE, px, py))
        off = np.hypot(a * x0 + c * y0 + e - x1, b * x0 + d * y0 + f - y1) / move.at(t).radius_px
        assert off.max() < (1e-6 if t == 0 else 0.02)  # the lens bends by two hundredths, and no matrix does
    assert move.matrix(0.0, POSE) == pytest.approx((1, 0, 0, 1, 0, 0), abs=1e-9)
    exact = MOVES["in"].matrix(1.0, POSE)
    assert exact[:4] == pytest.approx((2400 / 424, 0, 0, 2400 / 424), abs=1e-6)


def test_there_is_no_camera_without_a_pose():
    with pytest.raises(ValueError, match="not placed"):
        camera_as_sent(replace(sample("IMG_0088.jpg")[1], pose=None), HD)
    with pytest.raises(ValueError, match="on its way"):
        pose_in(MOVES["turned over"].at(0.5), POSE)
