"""A screen's pixel grid, its frame and a second Moon: seen where they are, and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from moondesk import Known, annotate_picture
from moondesk.checks.surroundings import has_pixel_grid
from moondesk.files.picture import decode
from moondesk.records import Picture, Place
from tests.scenes import FileTags, Film, Optics, SceneSpec, render
from tests.scenes.screens import off_screen

WHEN = datetime(2027, 3, 16, 19, 0, tzinfo=UTC)
SPEC = SceneSpec(
    WHEN, Place(45.0, 12.0), x=430.0, y=310.0, radius_px=230.0, north_screen_deg=67.0, width=800, height=600, seed=3,
    tags=FileTags(quality=80, time=False, place=False, make=None, model=None),
)  # fmt: skip


def grid_in(data: bytes, longest: int = 1110) -> bool:
    picture = decode(data, longest)
    assert isinstance(picture, Picture)
    return has_pixel_grid(picture.luminance, SPEC.x / picture.shrink, SPEC.y / picture.shrink, picture.shrink)


@pytest.fixture(scope="module")
def photograph() -> bytes:
    return render(SPEC).data


@pytest.mark.parametrize("pitch", [1.5, 2.2, 3.1, 4.3])
def test_a_photograph_of_a_screen(photograph: bytes, pitch: float) -> None:
    assert grid_in(off_screen(photograph, 4, pitch))


@pytest.mark.parametrize("longest", [1110, 600])
def test_a_photograph_of_the_moon(photograph: bytes, longest: int) -> None:
    assert not grid_in(photograph, longest)


@pytest.mark.parametrize(
    "change",
    [{"film": Film(shot=0.05, sharpen=2.0)}, {"optics": Optics(blur_px=5.0)}, {"tags": replace(SPEC.tags, quality=25)}],
    ids=["noise", "blur", "blocks"],
)
def test_noise_blur_and_jpeg_blocks_are_no_grid(change: dict[str, object]) -> None:
    assert not grid_in(render(replace(SPEC, **change)).data)  # type: ignore[arg-type]


def test_enlarged_pixels_are_no_grid(photograph: bytes) -> None:
    picture = decode(photograph, 300)
    assert isinstance(picture, Picture)
    for times in (2, 3, 4):
        blown_up = np.kron(picture.luminance, np.ones((times, times), np.float32))
        assert not has_pixel_grid(blown_up, blown_up.shape[1] / 2, blown_up.shape[0] / 2, 1.0)


def test_a_screen_is_said_to_be_one(photograph: bytes) -> None:
    got = annotate_picture(off_screen(photograph, 7, 3.1), Known(received_utc=WHEN + timedelta(hours=2)))
    assert (got.status, got.sure, got.features) == ("unplaced", False, ())
    assert "screen" in got.reason
    assert "picture itself" in got.advice
