"""Two exposures of one Moon through haze come to one tone: the sky black, the seas alike."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from moondesk.comparison.levels import TO_LINEAR, level, to_display
from moondesk.files.picture import decode_rgb
from moondesk.moon.geometry import surface_to_pixel
from moondesk.records import Place
from tests.scenes import FileTags, Film, Optics, SceneSpec, Sky, render

EVENING = datetime(2026, 3, 26, 19, 0, tzinfo=UTC)
#: In the light of both evenings: middles of Crisium and of Fecunditatis.
SEAS = ((17.0, 59.0), (-7.0, 51.0))


def scene(days: float, gain: float, **changes: object):
    spec = SceneSpec(EVENING + timedelta(days=days), Place(48.2, 16.4), 302.3, 258.6, 200.0, 33.0, width=600,
                     height=520, film=Film(gain=gain), sky=Sky(0.0), fine=False, optics=Optics(0.8),
                     tags=FileTags("png"))  # fmt: skip
    return render(replace(spec, **changes))


def sea_of(rgb: np.ndarray, pose) -> float:
    at = surface_to_pixel(pose, *np.array(SEAS).T)
    places = [(round(float(y)), round(float(x))) for x, y in zip(at.x, at.y, strict=True)]
    return float(np.median([rgb[y - 4 : y + 5, x - 4 : x + 5].mean() for y, x in places]))


def test_exposure_and_haze_are_taken_off():
    first, second = scene(0, 0.4), scene(1, 0.9)
    veiled = to_display(TO_LINEAR[decode_rgb(second.data)] + np.float32(0.04))  # haze: the same light everywhere
    before = [sea_of(decode_rgb(first.data), first.pose), sea_of(veiled, second.pose)]
    after = [level(decode_rgb(first.data), first.pose), level(veiled, second.pose)]
    seas = [sea_of(rgb, scene.pose) for rgb, scene in zip(after, (first, second), strict=True)]
    assert abs(before[0] - before[1]) > 25  # otherwise the test could not fail
    assert abs(seas[0] - seas[1]) < 8
    assert all(rgb[:60, :60].mean() < 4 for rgb in after)
    assert veiled[:60, :60].mean() > 40


def test_the_picture_lies_where_it_lay_and_one_read_smaller_comes_to_the_same_tone():
    one = scene(0, 0.6)
    rgb = decode_rgb(one.data)
    half = rgb.reshape(260, 2, 300, 2, 3).mean(axis=(1, 3)).round().astype(np.uint8)
    whole, less = level(rgb, one.pose), level(half, one.pose, shrink=2)
    assert whole.shape == rgb.shape
    assert less.shape == half.shape
    small = whole.reshape(260, 2, 300, 2, 3).mean(axis=(1, 3))
    assert np.abs(small - less)[small > 60].mean() < 6


def test_neutral_takes_the_camera_s_colour_off():
    one = scene(0, 0.6)
    rgb = decode_rgb(one.data).astype(float)
    yellow = np.rint(rgb * [1.0, 0.95, 0.8]).astype(np.uint8)
    plain, grey = level(yellow, one.pose), level(yellow, one.pose, neutral=True)
    lit = plain[..., 1] > 90
    cast = [float(np.mean(a[lit][:, 0].astype(float) - a[lit][:, 2])) for a in (plain, grey)]
    assert cast[0] > 15
    assert abs(cast[1]) < 4


@pytest.mark.parametrize("value", [0, 7])
def test_a_picture_without_light_stays_as_it_is(value):
    pose = scene(0, 0.6).pose
    dark = np.full((520, 600, 3), value, np.uint8)
    np.testing.assert_array_equal(level(dark, pose), dark)
