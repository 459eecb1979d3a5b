"""Drawings of the Moon, and photographs that are none."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from moondesk import Known, annotate_picture
from moondesk.checks.drawings import is_drawing
from moondesk.files.picture import decode
from moondesk.records import Picture
from tests.scenes import render, render_other, spec_of
from tests.scenes.screens import drawing


def seen(data: bytes) -> Picture:
    picture = decode(data, 1110)
    assert isinstance(picture, Picture)
    return picture


@pytest.mark.parametrize("kind", ["flat", "pencil"])
def test_drawings(kind: str) -> None:
    assert is_drawing(seen(drawing(kind, 2)))


@pytest.mark.parametrize("family", ["clean", "over", "daylight"])
def test_photographs_of_the_moon(family: str) -> None:
    assert not is_drawing(seen(render(spec_of(family, 12)).data))


@pytest.mark.parametrize("kind", ["plate", "clock", "coin"])
def test_photographs_of_other_things(kind: str) -> None:
    assert not is_drawing(seen(render_other(kind, 3, 800, 600)))


def test_a_sky_clipped_to_black_and_a_moon_to_white_are_no_flat_colours() -> None:
    jj, ii = np.meshgrid(np.arange(640), np.arange(480))
    clipped = (np.hypot(jj - 300, ii - 200) < 120).astype(np.float32)
    assert not is_drawing(
        Picture(
            luminance=clipped,
            redness=None,
            shrink=1.0,
            width=640,
            height=480,
            orientation_applied=1,
            media_type="image/png",
        )
    )


def test_a_drawing_is_said_to_be_one() -> None:
    got = annotate_picture(drawing("flat", 2), Known(received_utc=datetime(2026, 10, 20, 21, 0, tzinfo=UTC)))
    assert (got.status, got.sure, got.features) == ("unplaced", False, ())
    assert "drawing" in got.reason
