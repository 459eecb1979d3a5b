"""Sketches rank a picture's copies before other pictures; placements tell what can be a copy."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache

import cv2
import numpy as np
import pytest

from moondesk.duplicates.fingerprint import (
    Sketch,
    ViewingGeometry,
    alike,
    may_be_copies,
    may_overlap_by,
    sketch,
    unpack_sketch,
)
from moondesk.duplicates.overlap import LIES, turn_to
from moondesk.records import Pose


@cache
def picture(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:300, :400].astype(np.float32)
    texture = cv2.GaussianBlur(rng.normal(0, 1, (300, 400)).astype(np.float32), (0, 0), 12) * 900
    middle, radius = rng.uniform(120, 180, 2), rng.uniform(60, 100)
    disc = np.clip(radius - np.hypot(x - middle[0] - 50, y - middle[1]), 0, 1)
    return np.clip(8 + disc * (110 + texture), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("lie", LIES)
def test_turned_and_reduced_copies_come_first(lie):
    kept = [sketch(picture(seed)) for seed in range(40)]
    copy = turn_to(cv2.resize(picture(17), (200, 150), interpolation=cv2.INTER_AREA), lie)
    found = alike(sketch(copy), kept)
    assert int(np.argmax(found)) == 17
    assert found[17] > 0.98


def test_a_crop_keeps_its_light():
    kept = [sketch(picture(seed)) for seed in range(40)]
    assert int(np.argmax(alike(sketch(picture(8)[15:290, 20:380]), kept))) == 8


def test_previews_end_most_pairs_and_no_copy():
    kept = [sketch(picture(seed)) for seed in range(12)]
    for seed, lie in enumerate(LIES):
        copy = turn_to(cv2.resize(picture(seed)[10:280, 5:390], (200, 140), interpolation=cv2.INTER_AREA), lie)
        assert may_overlap_by(kept[seed], sketch(copy))
    pairs = [may_overlap_by(a, b) for i, a in enumerate(kept) for b in kept[:i]]
    assert np.mean(pairs) < 0.25  # discs of one size and texture, far more alike than photographs are


def test_packing():
    made = sketch(picture(1))
    assert (made.width, made.height) == (400, 300)
    assert unpack_sketch(made.packed()) == made
    assert len(made.packed()) < 16_000
    with pytest.raises(ValueError, match="520 bytes"):
        unpack_sketch(b"short")


@pytest.mark.parametrize("size", [(16, 16), (16, 3000), (1, 1)])
@pytest.mark.parametrize("level", [0, 255])
def test_blank_and_odd_pictures(size, level):
    made = sketch(np.full(size, level, np.uint8))
    assert isinstance(made, Sketch)
    assert np.isfinite(alike(made, [made])).all()
    assert alike(made, []).shape == (0,)


POSE = Pose(
    x=500,
    y=400,
    radius_px=300,
    north_screen_deg=20.0,
    mirrored=False,
    libration_lat_deg=3.0,
    libration_lon_deg=-4.0,
    sub_solar_lat_deg=1.0,
    sub_solar_lon_deg=50.0,
)


def geometry_of(pose):
    return ViewingGeometry(**{field.name: getattr(pose, field.name) for field in fields(ViewingGeometry)})


STANCE = geometry_of(POSE)


@pytest.mark.parametrize(("change", "allowed"), [
    ({}, True), ({"north_screen_deg": 110.1}, True), ({"north_screen_deg": 21.0}, False),
    ({"mirrored": True, "north_screen_deg": -20.0}, True), ({"mirrored": True, "north_screen_deg": 70.1}, True),
    ({"mirrored": True}, False), ({"libration_lat_deg": 4.0}, False), ({"sub_solar_lon_deg": 54.0}, False),
    ({"x": 10.0, "radius_px": 90.0}, True), ({"sub_solar_lon_deg": -309.5}, True),
])  # fmt: skip
def test_placements_of_copies(change, allowed):
    other = geometry_of(replace(POSE, **change))
    assert may_be_copies(STANCE, other) == may_be_copies(other, STANCE) == allowed
