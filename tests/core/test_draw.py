"""Painting: what changes and what does not, contrast by the WCAG formula, and the upright copy against the geometry."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from overlay_scenes import SCENES, annotation_for, complete

from moondesk import drawing
from moondesk.drawing import LAYERS, Dot, OverlayStyle, Path
from moondesk.drawing.paint import paint
from moondesk.drawing.upright import NO_PICTURE, turn_upright, upright_pose
from moondesk.moon.geometry import disc_to_pixel, surface_to_pixel
from moondesk.records import NotFound
from moondesk.sentences import sentences_of


def luminance(rgb):
    """Relative luminance of sRGB (WCAG 2.2)."""
    c = np.asarray(rgb, float) / 255.0
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    return linear @ [0.2126, 0.7152, 0.0722]


@pytest.mark.parametrize("ground", [0, 128, 208, 255])
def test_names_are_legible_on_any_ground(ground):
    """Contrast of ink against the halo round it: 4.5 or more (WCAG 2.2 SC 1.4.3) on black, grey and white ground."""
    annotation = complete("full")
    picture = np.full((annotation.height, annotation.width, 3), ground, np.uint8)
    drawn = drawing.draw_labelled(picture, annotation)
    label = next(v for v in drawing.labels_of(annotation) if v.name == "Copernicus")
    x0, x1 = int(label.x - label.width_px / 2), int(label.x + label.width_px / 2)
    y0, y1 = int(label.y - label.height_px / 2), int(label.y + label.height_px / 2)
    box = luminance(drawn[y0:y1, x0:x1])
    bright, dark = np.percentile(box, 99), np.percentile(box, 5)
    assert (bright + 0.05) / (dark + 0.05) >= 4.5


def test_the_picture_stays_as_it_was_away_from_the_ink():
    annotation = complete("half")
    rng = np.random.default_rng(1)
    picture = rng.integers(0, 255, (annotation.height, annotation.width, 3), np.uint8)
    before = picture.copy()
    drawn = drawing.draw_labelled(picture, annotation)
    assert (picture == before).all()
    changed = (drawn != picture).any(axis=2)
    assert 0.005 < changed.mean() < 0.12
    layers = drawing.draw_layers(annotation)
    inked = np.max([layer[..., 3] for layer in layers.values()], axis=0) > 0
    assert not (changed & ~inked).any()
    # grey stays grey where nothing is drawn, to the last bit
    assert (drawn[~inked] == picture[~inked]).all()


def test_layers_hold_their_own_ink():
    annotation = complete("half")
    layers = drawing.draw_layers(annotation)
    assert set(layers) == set(LAYERS)
    assert all(a.shape == (annotation.height, annotation.width, 4) and a.dtype == np.uint8 for a in layers.values())
    assert layers["craters"][..., 3].max() > 240
    bare = drawing.draw_layers(annotation, OverlayStyle(layers=frozenset({"limb"})))
    assert bare["craters"].max() == 0
    # limb ink lies on the circle of the pose
    y, x = np.nonzero(bare["limb"][..., 3] > 120)
    pose = annotation.pose
    assert np.hypot(x - pose.x, y - pose.y) == pytest.approx(np.full(len(x), pose.radius_px), abs=2.5)


def test_lines_are_drawn_where_the_shapes_say():
    """The centre of gravity of a dot's ink within a tenth of a pixel: pixel (0, 0) is the centre of the first pixel."""
    for shape in (Dot(layer="craters", x=50.3, y=40.7, radius_px=4.0, colour="#ffffff"),
                  Path(layer="craters", points=((40.3, 40.7), (60.3, 40.7)), closed=False, width_px=2.0, colour="#ffffff")):  # fmt: skip
        canvas = np.zeros((100, 100, 3), np.uint8)
        paint(canvas, [shape])
        weight = canvas[..., 0].astype(float)
        yy, xx = np.mgrid[0:100, 0:100]
        assert (weight * xx).sum() / weight.sum() == pytest.approx(50.3, abs=0.1)
        assert (weight * yy).sum() / weight.sum() == pytest.approx(40.7, abs=0.1)


@pytest.mark.parametrize("name", ["half", "cut", "closeup", "low", "lens", "small"])
def test_upright_copy_brings_every_place_where_its_pose_says(name):
    """A small spot painted at a crater's pixel turns up in the copy at the pixel of the upright pose."""
    width, height, pose = SCENES[name]
    annotation = annotation_for(width, height, pose)
    upright = upright_pose(annotation, 600)
    assert not isinstance(upright, NotFound)
    assert upright.north_screen_deg == 0
    assert not upright.mirrored
    spread = max(1.5, 1.5 * pose.radius_px / upright.radius_px)
    picture = np.zeros((height, width, 3), np.uint8)
    there = []
    for lat, lon in ((9.6, -20.1), (-43.3, -11.2), (51.6, -9.4), (-8.9, 61.0), (30.0, -40.0), (16.0, 59.0)):
        at, to = surface_to_pixel(pose, lat, lon), surface_to_pixel(upright, lat, lon)
        if at.mu < 0.3 or not (40 < at.x < width - 40 and 40 < at.y < height - 40):
            continue
        x0, y0 = round(float(at.x)), round(float(at.y))
        yy, xx = np.mgrid[y0 - 30 : y0 + 31, x0 - 30 : x0 + 31]
        spot = np.rint(250.0 * np.exp(-((xx - at.x) ** 2 + (yy - at.y) ** 2) / (2 * spread**2))).astype(np.uint8)
        part = picture[y0 - 30 : y0 + 31, x0 - 30 : x0 + 31]
        np.maximum(part, spot[..., None], out=part)
        there.append((float(to.x), float(to.y)))
    out, have = turn_upright(picture, pose, upright, 600)
    weight = np.where(have, out[..., 0], 0).astype(float) ** 2
    yy, xx = np.mgrid[0:600, 0:600]
    reach = 5.0 * max(1.5, spread * upright.radius_px / pose.radius_px)
    for x, y in there:
        near = weight * (np.hypot(xx - x, yy - y) < reach)
        off = np.hypot((near * xx).sum() / near.sum() - x, (near * yy).sum() / near.sum() - y)
        assert off < 0.3 + 0.15 * upright.radius_px / pose.radius_px
    assert there


def test_upright_copy_is_north_up_unmirrored_and_says_where_it_has_no_picture():
    annotation = complete("cut")
    picture = np.full((annotation.height, annotation.width, 3), 200, np.uint8)
    out = drawing.draw_upright(picture, annotation, 900, OverlayStyle(layers=frozenset()))
    assert not isinstance(out, NotFound)
    assert out.shape == (900, 900, 3)
    assert set(map(tuple, out.reshape(-1, 3))) == {(200, 200, 200), NO_PICTURE}
    turned = drawing.annotate_upright(annotation, 900)
    assert not isinstance(turned, NotFound)
    pole, east = surface_to_pixel(turned.pose, 80.0, 0.0), surface_to_pixel(turned.pose, 0.0, 70.0)
    assert pole.y < turned.pose.y < 900
    assert east.x > turned.pose.x
    # no name for what the original does not show, and its anchor lies in the original
    inside = drawing.in_original(annotation, turned)
    labels = drawing.labels_of(turned, inside=inside)
    assert {v.name for v in labels} <= {m.feature.name for m in annotation.features}
    for m in turned.features:
        assert 0 <= m.x <= 899
        assert 0 <= m.y <= 899


def test_a_close_up_is_turned_as_a_part_and_a_small_disc_enlarged():
    part = upright_pose(complete("closeup"), 1000)
    assert not isinstance(part, NotFound)
    assert part.radius_px > 500
    small = complete("small")
    assert upright_pose(small, 1000).radius_px == pytest.approx(400)
    more = drawing.annotate_upright(small, 1000)
    named = drawing.labels_of(more, inside=drawing.in_original(small, more))
    assert len(named) > len(drawing.labels_of(small))


def test_upright_without_pose_is_not_found():
    annotation = replace(
        complete("half"),
        pose=None,
        reasons=sentences_of("The limb is too short."),
        advices=sentences_of("Send a wider picture."),
    )
    picture = np.zeros((annotation.height, annotation.width, 3), np.uint8)
    found = drawing.draw_upright(picture, annotation)
    assert isinstance(found, NotFound)
    assert found.reason == "The limb is too short."


def test_wrong_calls():
    annotation = complete("half")
    with pytest.raises(ValueError, match="EXIF"):
        drawing.draw_labelled(np.zeros((annotation.width, annotation.height, 3), np.uint8), annotation)
    with pytest.raises(ValueError, match="uint8"):
        drawing.draw_labelled(np.zeros((10, 10), np.uint8), annotation)
    with pytest.raises(ValueError, match="room"):
        upright_pose(annotation, 20)


def test_flattened_limb_comes_out_round():
    """A flattened Moon (12 %) drawn by OpenCV as an ellipse is a circle in the upright copy."""
    width, height, pose = SCENES["low"]
    picture = np.zeros((height, width, 3), np.uint8)
    cv2.ellipse(picture, (600, 450), (376, round(376 * 0.88)), 0, 0, 360, (255, 255, 255), -1)
    annotation = annotation_for(width, height, pose)
    upright = upright_pose(annotation, 800)
    out, _ = turn_upright(picture, pose, upright, 800)
    x, y = disc_to_pixel(upright, 0.0, 0.0)
    area = (out[..., 0] > 127).sum()
    assert area == pytest.approx(np.pi * upright.radius_px**2, rel=0.01)
    ys, xs = np.nonzero(out[..., 0] > 127)
    assert np.hypot(xs - x, ys - y).max() == pytest.approx(upright.radius_px, abs=2.5)
