"""The same Moon through every format: placed as from its JPEG, so that light, rows and turns are read right.

The first is a sample picture, whose truth tests/test_sample_placing.py checks; here it is the measure of the others.
"""

from __future__ import annotations

import io
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from picture_files import dng, fits, saved
from PIL import Image, features

from moondesk import Annotation, Known, annotate_picture
from moondesk.files.picture import decode_rgb, linear_light

SAMPLE = Path(__file__).resolve().parents[2] / "sample_submissions" / "DSC_0412.jpg"
KNOWN = Known(received_utc=datetime(2026, 10, 21, 18, 35, tzinfo=UTC))


@cache
def first() -> Annotation:
    return annotate_picture(SAMPLE.read_bytes(), KNOWN)


@cache
def pixels() -> np.ndarray:
    rgb = decode_rgb(SAMPLE.read_bytes())
    assert isinstance(rgb, np.ndarray)
    return rgb


def light() -> np.ndarray:
    return np.asarray(linear_light(pixels() / 255.0) @ np.float32([0.2126, 0.7152, 0.0722]))


def fits_16_bit() -> bytes:
    time = first().time
    assert time is not None
    # the first row at the bottom, a pedestal, half of the range used
    return fits((800 + 30_000 * light()[::-1]).astype(np.uint16), DATE_OBS=f"{time.utc:%Y-%m-%dT%H:%M:%S}")


def fits_mosaic() -> bytes:
    values = 30_000 * light()[::-1]
    values[0::2, 0::2] *= 0.5
    values[1::2, 1::2] *= 0.6
    return fits(values.astype(np.uint16), ROWORDER="BOTTOM-UP", BAYERPAT="RGGB")


def fits_colour() -> bytes:
    return fits(np.moveaxis(linear_light(pixels() / 255.0), 2, 0), "packed", ROWORDER="TOP-DOWN")


def avif() -> bytes:
    if not features.check("avif"):
        pytest.skip("this Pillow is built without AVIF")
    return saved(Image.fromarray(pixels()), "AVIF", quality=80)


def heic() -> bytes:
    library = pytest.importorskip("pillow_heif", reason="needs the extra for HEIC")
    out = io.BytesIO()
    library.encode("RGB", pixels().shape[1::-1], pixels().tobytes(), out, quality=70)
    return out.getvalue()


def raw() -> bytes:
    pytest.importorskip("rawpy", reason="needs the extra for camera raw files")
    return dng(light().astype(float))


@pytest.mark.parametrize("form", [fits_16_bit, fits_mosaic, fits_colour, avif, heic, raw])
def test_placed_as_from_its_jpeg(form) -> None:
    expected, found = first(), annotate_picture(form(), KNOWN)
    assert (found.status, found.sure) == ("annotated", True)
    assert expected.pose is not None
    assert found.pose is not None
    assert found.pose.mirrored == expected.pose.mirrored
    assert (found.width, found.height) == (expected.width, expected.height)
    off = np.hypot(found.pose.x - expected.pose.x, found.pose.y - expected.pose.y) / expected.pose.radius_px
    assert off < 0.001  # 0.1 %R; 0.001 to 0.023 were seen
    assert found.time is not None
    if form is fits_16_bit:
        assert (found.time.source, found.clock.verdict) == ("fits", "agrees")
