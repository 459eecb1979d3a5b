"""Screenshots: the photograph found to a few pixels, placed in the whole picture's coordinates; photographs let be."""

from __future__ import annotations

import io
import math
import statistics
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from PIL import Image

from moondesk import Known, annotate_picture
from moondesk.drawing import labels_of
from moondesk.files.picture import decode
from moondesk.files.screenshot import PhotographBox, cut_out, photograph_in, put_back, without_own_clock
from moondesk.records import Picture, Place, TimeCandidate, TimeReadings
from tests.scenes import FileTags, SceneSpec, Sky, render
from tests.scenes.screens import STYLES, screenshot

WHEN = datetime(2027, 3, 16, 19, 0, tzinfo=UTC)
SPEC = SceneSpec(
    WHEN, Place(45.0, 12.0), x=318.4, y=245.7, radius_px=181.3, north_screen_deg=67.0, width=640, height=480, seed=3,
    sky=Sky(background=0.003), tags=FileTags(time=False, place=False, make=None, model=None),
)  # fmt: skip


@pytest.fixture(scope="module")
def photograph() -> bytes:
    return render(SPEC).data


def seen(data: bytes) -> Picture:
    picture = decode(data, 1110)
    assert isinstance(picture, Picture)
    return picture


@pytest.mark.parametrize("media", ["png", "jpeg"])
@pytest.mark.parametrize("style", STYLES)
def test_the_photograph_in_a_screenshot(photograph: bytes, style: str, media: str) -> None:
    shot = screenshot(photograph, style, 5, media)
    box = photograph_in(seen(shot.data))
    assert box is not None
    assert box.drawn
    right, bottom = shot.x0 + 640 * shot.scale, shot.y0 + 480 * shot.scale
    assert (box.x0, box.y0, box.x1, box.y1) == pytest.approx((shot.x0, shot.y0, right, bottom), abs=6)


def test_it_is_placed_in_the_coordinates_of_the_whole(photograph: bytes) -> None:
    shot = screenshot(photograph, "chat", 2)
    got = annotate_picture(shot.data, Known(received_utc=WHEN + timedelta(hours=5)))
    assert (got.status, got.sure, got.flags) == ("annotated", True, ("screenshot",))
    assert (got.width, got.height) == (shot.width, shot.height)
    found = {m.feature.name: m for m in got.features}
    errors = []
    for f in render(SPEC).truth["features"]:
        if f["sun_alt_deg"] > 2 and f["name"] in found:
            x, y = (o + (f[k] + 0.5) * shot.scale - 0.5 for o, k in ((shot.x0, "x"), (shot.y0, "y")))
            errors.append(math.hypot(found[f["name"]].x - x, found[f["name"]].y - y))
    assert len(errors) > 50
    assert 100 * statistics.median(errors) / (SPEC.radius_px * shot.scale) < 0.2
    inside = [
        shot.x0 <= k.x <= shot.x0 + 640 * shot.scale and shot.y0 <= k.y <= shot.y0 + 480 * shot.scale
        for k in labels_of(got)
    ]
    assert inside
    assert all(inside)


def test_photographs_are_let_be(photograph: bytes) -> None:
    assert photograph_in(seen(photograph)) is None
    # a sky that was clipped to black is flat, but what it leaves is round
    clipped = np.asarray(Image.open(io.BytesIO(photograph)).convert("RGB")).copy()
    clipped[clipped.max(axis=2) < 60] = 0
    for part in (clipped, clipped[150:], clipped[:, 200:], clipped[100:300, 150:500]):
        out = io.BytesIO()
        Image.fromarray(part).save(out, "PNG")
        assert photograph_in(seen(out.getvalue())) is None


def test_a_plain_border_is_no_screenshot(photograph: bytes) -> None:
    framed = Image.new("RGB", (800, 640), (255, 255, 255))
    framed.paste(Image.open(io.BytesIO(photograph)), (80, 80))
    out = io.BytesIO()
    framed.save(out, "PNG")
    box = photograph_in(seen(out.getvalue()))
    assert box is not None
    assert box.drawn is False


def test_a_part_and_back() -> None:
    ramp = np.arange(100 * 80, dtype=np.float32).reshape(80, 100) / 8000
    whole = Picture(
        luminance=ramp, redness=None, shrink=2.0, width=200, height=160, orientation_applied=1, media_type="image/png"
    )
    part = cut_out(whole, PhotographBox(x0=21, y0=40, x1=120, y1=141, drawn=True))
    # the corner goes inward to a whole working pixel
    assert part.cut_from == (22.0, 40.0, 200, 160)
    assert (part.width, part.height) == (98, 100)
    assert part.luminance[0, 0] == ramp[20, 11]
    got = annotate_picture(b"nothing")
    assert put_back(got, whole) is got
    assert (put_back(got, part).width, put_back(got, part).height) == (200, 160)


def test_a_screenshots_own_clock_says_nothing() -> None:
    clock, told = TimeCandidate(WHEN, 1.0, "exif+offset", 0.0), TimeCandidate(WHEN, 1.0, "told")
    taken = TimeReadings(candidates=(clock,), earliest_utc=None, latest_utc=WHEN)
    assert without_own_clock(taken).candidates == ()
    assert "screenshot" in without_own_clock(taken).remarks[-1]
    assert without_own_clock(replace(taken, candidates=(told,))).candidates == (told,)
