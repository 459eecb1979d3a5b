"""Pictures in a common frame: the same place of the Moon on the same pixel, whatever turn, hand, lens and libration."""

from __future__ import annotations

import functools
import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from PIL import Image

from moondesk import Known, annotate_picture
from moondesk.comparison.common_frame import Framed, common_pose, covers, into_frame
from moondesk.drawing.upright import NO_PICTURE
from moondesk.ephemeris.aspect import aspect_at
from moondesk.moon.geometry import surface_to_pixel
from moondesk.records import Place, Pose
from tests.scenes import (
    FileTags,
    Film,
    Optics,
    Scene,
    SceneSpec,
    Sky,
    north_on_screen,
    render,
    sky_north_held_upright,
    true_pose,
)

PLACE = Place(48.2, 16.4)
EVENING = datetime(2026, 3, 26, 19, 0, tzinfo=UTC)
QUIET = Film(contrast=0.0, sharpen=0.0, shot=0.0, read=0.0)
#: Bright dots on the lit side of both evenings, towards the limb and the poles too.
DOTS = ((5.0, 25.0), (42.0, 48.0), (-50.0, 35.0), (12.0, 66.0), (-18.0, 8.0), (68.0, 30.0))
#: How the second picture is taken: each with something that the first has not.
SECOND = {
    "mirrored, low and through a lens": {
        "mirrored": True, "north_screen_deg": 201.0,
        "optics": Optics(0.8, radial_k1=-0.05, flattening=0.08, flattening_screen_deg=20.0),
    },
    "turned and small": {"radius_px": 120.0, "north_screen_deg": 97.0},
}  # fmt: skip


def scene(when: datetime, **changes: object) -> SceneSpec:
    base = SceneSpec(when, PLACE, 302.3, 258.6, 220.4, 33.0, width=600, height=520, film=QUIET, sky=Sky(0.0),
                     limb_relief=False, fine=False, optics=Optics(0.8), tags=FileTags("png"))  # fmt: skip
    return replace(base, **changes)


@functools.cache
def rendered(spec: SceneSpec) -> Scene:
    return render(spec)


def rgb_of(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))


def dots_in(frame: Pose, spec: SceneSpec, size: int) -> np.ndarray:
    """Centres (n, 2) of the dots as they show in the common frame, by their light alone."""
    with_dots, without = rendered(replace(spec, beacons=DOTS)), rendered(spec)
    framed = Framed(with_dots.pose, spec.width, spec.height)
    shown = [into_frame(rgb_of(s.data), framed, frame, size).rgb.astype(float) for s in (with_dots, without)]
    light = np.maximum(shown[0] - shown[1], 0.0).sum(axis=2)
    near = surface_to_pixel(frame, *np.array(DOTS).T)
    centres = []
    for x, y in zip(near.x, near.y, strict=True):
        left, top = int(x) - 14, int(y) - 14
        part = light[top : top + 29, left : left + 29]
        assert part.max() > 60, "the dot does not show"
        ys, xs = np.mgrid[0:29, 0:29]
        centres.append((left + (xs * part).sum() / part.sum(), top + (ys * part).sum() / part.sum()))
    return np.array(centres)


@pytest.mark.parametrize("name", SECOND)
def test_the_same_dot_of_two_evenings_lies_on_the_same_pixel(name: str) -> None:
    """0.3 %R (measured: 0.03); the libration moves these places by up to 2.5 %R in the day between, see below."""
    first, second = scene(EVENING), scene(EVENING + timedelta(days=1), **SECOND[name])
    pictures = [Framed(true_pose(s, aspect_at(s.when_utc, s.place)), s.width, s.height) for s in (first, second)]
    frame = common_pose(pictures, 800)
    apart = np.hypot(*(dots_in(frame, first, 800) - dots_in(frame, second, 800)).T)
    assert apart.max() < 0.003 * frame.radius_px
    true = surface_to_pixel(frame, *np.array(DOTS).T)
    wrong = np.hypot(*(dots_in(frame, second, 800) - np.stack([true.x, true.y], axis=1)).T)
    assert wrong.max() < 0.003 * frame.radius_px


def test_a_turn_and_a_scale_alone_would_not_do() -> None:
    """What the libration of one day moves: otherwise the test above could not fail."""
    one, other = (aspect_at(EVENING + timedelta(days=d), PLACE) for d in (0, 1))
    frames = [
        Pose(
            x=0,
            y=0,
            radius_px=100.0,
            north_screen_deg=0.0,
            mirrored=False,
            libration_lat_deg=a.libration_lat_deg,
            libration_lon_deg=a.libration_lon_deg,
            sub_solar_lat_deg=0,
            sub_solar_lon_deg=0,
        )
        for a in (one, other)
    ]
    at = [surface_to_pixel(f, *np.array(DOTS).T) for f in frames]
    assert np.hypot(at[0].x - at[1].x, at[0].y - at[1].y).max() > 1.0  # percent of the radius


def test_pictures_as_the_core_places_them_meet_as_well() -> None:
    """The whole way: two rendered photographs with noise, placed from their bytes, their dots within 0.3 %R."""
    specs = []
    for day, mirrored in ((0, False), (1, True)):
        when = EVENING + timedelta(days=day)
        aspect = aspect_at(when, PLACE)
        north = north_on_screen(aspect, sky_north_held_upright(aspect, 4.0), mirrored)
        specs.append(scene(when, north_screen_deg=north, mirrored=mirrored, film=Film(), tags=FileTags("jpeg"),
                           limb_relief=True, fine=True, seed=day + 1))  # fmt: skip
    scenes: list[Scene] = [render(s) for s in specs]
    placed = [annotate_picture(s.data, Known(received_utc=EVENING + timedelta(days=2), place=PLACE)) for s in scenes]
    assert all(a.sure and a.pose is not None for a in placed)
    pictures = [Framed(a.pose, a.width, a.height) for a in placed if a.pose]
    frame = common_pose(pictures, 800)
    # by the truth of each scene: from the feature's true pixel through the found pose into the frame
    for spec, truth, framed in zip(specs, scenes, pictures, strict=True):
        at = surface_to_pixel(truth.pose, *np.array(DOTS).T)
        canvas = np.zeros((spec.height, spec.width, 3), np.uint8)
        for x, y in zip(at.x, at.y, strict=True):
            dx, dy = np.arange(spec.width) - x, np.arange(spec.height) - y
            gauss = np.exp(-(dx[None, :] ** 2 + dy[:, None] ** 2) / 8)
            canvas = np.maximum(canvas, np.rint(255 * gauss).astype(np.uint8)[..., None])
        shown = into_frame(canvas, framed, frame, 800).rgb[..., 0].astype(float)
        want = surface_to_pixel(frame, *np.array(DOTS).T)
        for x, y in zip(want.x, want.y, strict=True):
            left, top = int(x) - 12, int(y) - 12
            part = shown[top : top + 25, left : left + 25]
            ys, xs = np.mgrid[0:25, 0:25]
            found = left + (xs * part).sum() / part.sum(), top + (ys * part).sum() / part.sum()
            assert np.hypot(found[0] - x, found[1] - y) < 0.003 * frame.radius_px


def test_a_picture_read_at_half_or_a_quarter_of_its_size_lies_where_the_whole_one_does() -> None:
    spec = scene(EVENING)
    whole_rgb = rgb_of(rendered(replace(spec, beacons=DOTS)).data)[:517, :597]  # no multiple of 2 or 4
    framed = Framed(true_pose(spec, aspect_at(EVENING, PLACE)), 597, 517)
    frame = common_pose([framed], 96)
    whole = into_frame(whole_rgb, framed, frame, 96).rgb.astype(float)
    half_a_pixel = np.abs((np.roll(whole, 1, axis=1) - whole) / 2).mean()
    for shrink in (2, 4):
        rows, cols = (-(-n // shrink) * shrink for n in whole_rgb.shape[:2])
        edges = ((0, rows - 517), (0, cols - 597), (0, 0))
        padded = np.pad(whole_rgb, edges, mode="edge").astype(float)
        small = padded.reshape(rows // shrink, shrink, cols // shrink, shrink, 3).mean(axis=(1, 3))
        less = into_frame(np.rint(small).astype(np.uint8), framed, frame, 96, shrink).rgb.astype(float)
        assert np.abs(less - whole).mean() < 0.5 * half_a_pixel


def test_what_a_picture_lacks_is_left_empty_and_known() -> None:
    true = true_pose(scene(EVENING), aspect_at(EVENING, PLACE))
    picture = Framed(replace(true, x=120.0), 600, 520)  # its left part is outside
    frame = common_pose([picture], 500, shared_part=False)
    shown = into_frame(np.full((520, 600, 3), 90, np.uint8), picture, frame, 500)
    ys, xs = np.mgrid[0:500, 0:500]
    on = np.hypot(xs - frame.x, ys - frame.y) < frame.radius_px - 1
    assert 0.6 < shown.covered[on].mean() < 0.95
    assert (shown.rgb[on & ~shown.framed] == NO_PICTURE).all()
    assert not (shown.covered & ~shown.framed).any()
    corner = shown.rgb[:40, :40]
    assert corner.max() == 0  # the sky fades out
    lat_lon = ((0.0, 20.0), (0.0, -60.0), (0.0, 170.0), (-30.0, 40.0))
    for lat, lon in lat_lon:
        at = surface_to_pixel(picture.pose, lat, lon)
        assert covers(picture, lat, lon) == (float(at.mu) > 0.03 and float(at.x) >= -0.5 and float(at.y) <= 519.5)
    assert [covers(picture, *place) for place in lat_lon] == [True, False, False, True]


def test_a_rim_that_another_libration_turns_away_is_carried_on_without_a_gap() -> None:
    poses = [
        Pose(
            x=200.0,
            y=200.0,
            radius_px=150.0,
            north_screen_deg=0.0,
            mirrored=False,
            libration_lat_deg=lat,
            libration_lon_deg=lon,
            sub_solar_lat_deg=1.0,
            sub_solar_lon_deg=20.0,
        )
        for lat, lon in ((6.0, -5.0), (-5.0, 7.0))
    ]
    ys, xs = np.mgrid[0:400, 0:400]
    disc = np.where(np.hypot(xs - 200.0, ys - 200.0) < 150.5, 180, 8).astype(np.uint8)
    rgb = np.repeat(disc[..., None], 3, axis=2)
    framed = [Framed(pose, 400, 400) for pose in poses]
    frame = common_pose(framed, 501, shared_part=False)
    rows, columns = np.mgrid[0:501, 0:501]
    distance = np.hypot(columns - frame.x, rows - frame.y)
    for one in framed:
        shown = into_frame(rgb, one, frame, 501)
        assert not shown.covered[distance < frame.radius_px].all()  # it does not see all of that limb
        assert (shown.rgb[distance < frame.radius_px - 3] >= 110).all()


def test_close_ups_fill_the_frame_with_what_they_share() -> None:
    near = Framed(
        Pose(
            x=400.0,
            y=300.0,
            radius_px=1500.0,
            north_screen_deg=10.0,
            mirrored=False,
            libration_lat_deg=2.0,
            libration_lon_deg=3.0,
            sub_solar_lat_deg=1.0,
            sub_solar_lon_deg=40.0,
        ),
        800,
        600,
    )
    wide = Framed(
        Pose(
            x=500.0,
            y=500.0,
            radius_px=420.0,
            north_screen_deg=80.0,
            mirrored=True,
            libration_lat_deg=2.5,
            libration_lon_deg=4.0,
            sub_solar_lat_deg=1.0,
            sub_solar_lon_deg=52.0,
        ),
        1000,
        1000,
    )
    part = common_pose([near, wide], 1000)
    whole = common_pose([near, wide], 1000, shared_part=False)
    assert part.radius_px > 1.5 * whole.radius_px
    assert part.radius_px <= 2.0 * near.pose.radius_px
    assert (part.north_screen_deg, part.mirrored) == (0.0, False)
    assert part.sub_solar_lon_deg == 52.0  # the last one's light
    black = into_frame(np.zeros((600, 800, 3), np.uint8), near, part, 1000)
    assert black.covered.mean() > 0.5


def test_a_wrong_call_raises() -> None:
    picture = Framed(
        Pose(
            x=50,
            y=50,
            radius_px=40,
            north_screen_deg=0,
            mirrored=False,
            libration_lat_deg=0,
            libration_lon_deg=0,
            sub_solar_lat_deg=0,
            sub_solar_lon_deg=90,
        ),
        100,
        100,
    )
    with pytest.raises(ValueError, match="0 pictures"):
        common_pose([])
    with pytest.raises(ValueError, match=r"must be \(100, 100, 3\)"):
        into_frame(np.zeros((90, 100, 3), np.uint8), picture, common_pose([picture]))
