"""Copies against other exposures on pictures made here: a textured disc in dark sky, developed with noise."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps
from scipy.fft import dctn

from moondesk.duplicates import likeness as module
from moondesk.duplicates.likeness import compare
from moondesk.duplicates.overlap import LIES, inverse, turn_to
from moondesk.duplicates.raster import PixelRaster, read_raster
from moondesk.files.picture import decode_rgb
from moondesk.records import NotFound

WIDTH, HEIGHT = 640, 480


def light(seed: int = 1) -> np.ndarray:
    """A disc with texture of several sizes, a bright and a dark side, in sky that is not quite black."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:HEIGHT, :WIDTH].astype(np.float32)
    texture = sum(cv2.GaussianBlur(rng.normal(size=(HEIGHT, WIDTH)).astype(np.float32), (0, 0), s) * s * 3
                  for s in (1.5, 4, 12))  # fmt: skip
    disc = np.clip(170 - np.hypot(x - 300, y - 230), 0, 1)
    return 12 + disc * np.clip(120 + 0.25 * (x - 300) + 18 * texture, 5, 220)


def exposed(seed: int, scene: np.ndarray | None = None) -> Image.Image:
    """The same light with noise of its own, two grey levels."""
    noise = np.random.default_rng(seed).normal(0, 2, (HEIGHT, WIDTH, 3))
    shown = (light() if scene is None else scene)[..., None] + noise
    return Image.fromarray(np.clip(np.rint(shown), 0, 255).astype(np.uint8))


def jpeg(image: Image.Image, quality: int = 88, **extra: object) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, **extra)
    return out.getvalue()


def raster(data: bytes) -> PixelRaster:
    found = read_raster(data)
    assert isinstance(found, PixelRaster)
    return found


@pytest.fixture(scope="module")
def original() -> bytes:
    return jpeg(exposed(5))


@pytest.fixture(scope="module")
def shown(original: bytes) -> Image.Image:
    return Image.open(io.BytesIO(original)).convert("RGB")


def tagged(orientation: int) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    return exif.tobytes()


COPIES = {
    "recompressed q40": lambda i: jpeg(i, 40),
    "recompressed q95": lambda i: jpeg(i, 95),
    "half size": lambda i: jpeg(i.resize((320, 240), Image.Resampling.LANCZOS), 75),
    "messenger": lambda i: jpeg(i.resize((512, 384), Image.Resampling.BICUBIC), 75),
    "averaged": lambda i: jpeg(Image.fromarray(cv2.resize(np.asarray(i), (400, 300), interpolation=cv2.INTER_AREA))),
    "cropped": lambda i: jpeg(i.crop((23, 17, 610, 470)), 80),
    "cropped and resized": lambda i: jpeg(i.crop((23, 17, 610, 470)).resize((440, 340), Image.Resampling.BICUBIC)),
    "turned": lambda i: jpeg(i.transpose(Image.Transpose.ROTATE_90)),
    "flipped": lambda i: jpeg(ImageOps.mirror(i)),
    "turned by its tag": lambda i: jpeg(i.transpose(Image.Transpose.ROTATE_90), 85, exif=tagged(6)),
}  # fmt: skip


@pytest.mark.parametrize("way", COPIES)
def test_copies_are_proven_both_ways_round(way: str, original: bytes, shown: Image.Image):
    first, second = raster(original), raster(COPIES[way](shown))
    forth, back = compare(first, second), compare(second, first)
    assert (forth.likelihood, back.likelihood) == ("same", "same"), (forth, back)
    assert forth.flipped == (way == "flipped")
    if "size" in way or way in ("messenger", "averaged"):
        assert (forth.finer, back.finer) == (0, 1)


def test_the_framing_is_told(original: bytes, shown: Image.Image):
    ways = {"messenger": "whole", "cropped": "cut", "cropped and resized": "free"}
    assert {way: compare(raster(original), raster(COPIES[way](shown))).framing for way in ways} == ways
    assert compare(raster(original), raster(COPIES["messenger"](shown))).scale == pytest.approx(640 / 512, abs=0.002)


@pytest.mark.parametrize("way", [None, "recompressed q40", "half size", "messenger", "cropped", "flipped"])
def test_the_next_frame_of_the_same_camera_is_never_proven(way: str | None, original: bytes):
    """Not moved at all: only the noise differs. This is the hardest case, and made as hard as it gets."""
    other = Image.open(io.BytesIO(jpeg(exposed(6)))).convert("RGB")
    data = COPIES[way](other) if way else jpeg(other)
    for found in (compare(raster(original), raster(data)), compare(raster(data), raster(original))):
        assert found.likelihood != "same"
        assert found.unexplained > 1.3 * module.SAME_BELOW_SMALL


@pytest.mark.parametrize(("dx", "dy", "turn"), [(0.4, 0.3, 0.0), (7.0, -3.0, 0.0), (0.0, 0.0, 0.4), (11.3, 4.2, -2.0)])
def test_a_drifted_frame_is_not_a_copy(dx: float, dy: float, turn: float, original: bytes):
    matrix = cv2.getRotationMatrix2D((WIDTH / 2, HEIGHT / 2), turn, 1.0)
    matrix[:, 2] += dx, dy
    moved = cv2.warpAffine(light(), matrix, (WIDTH, HEIGHT), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    assert compare(raster(original), raster(jpeg(exposed(7, moved)))).likelihood != "same"


def test_an_edited_copy_is_asked_about(original: bytes, shown: Image.Image):
    curve = [round(255 * (v / 255) ** 0.8) for v in range(256)] * 3
    assert compare(raster(original), raster(jpeg(shown.point(curve)))).likelihood == "perhaps"


def test_another_picture_is_different(original: bytes):
    assert compare(raster(original), raster(jpeg(exposed(5, light(2))))).likelihood == "different"


@pytest.mark.parametrize("level", [0, 40, 255])
def test_pictures_without_anything_in_them_are_not_proven(level: int, original: bytes):
    blank = raster(jpeg(Image.new("RGB", (WIDTH, HEIGHT), (level,) * 3)))
    assert compare(blank, blank).likelihood != "same"
    assert compare(blank, raster(original)).likelihood != "same"


@pytest.mark.parametrize("orientation", [1, 3, 6, 7])
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "grey JPEG", "inks"])
def test_brightness_is_that_of_the_colours(kind: str, orientation: int):
    """ITU-T T.871: luma is 0.299 red, 0.587 green, 0.114 blue; a level of it more or less for the rounding."""
    image = exposed(4).crop((200, 100, 331, 190))
    out = io.BytesIO()
    image = image.convert({"grey JPEG": "L", "inks": "CMYK"}.get(kind, "RGB"))
    image.save(out, "PNG" if kind == "PNG" else "JPEG", exif=tagged(orientation))
    found, rgb = raster(out.getvalue()), decode_rgb(out.getvalue())
    assert isinstance(rgb, np.ndarray)
    assert found.grey.shape == rgb.shape[:2]
    assert np.abs(found.grey - rgb @ np.array([0.299, 0.587, 0.114])).max() < 2.0
    assert np.array_equal(found.rgb(), rgb)
    assert (found.steps is None) == (kind in ("PNG", "inks"))


def test_what_cannot_be_opened_says_so():
    assert isinstance(read_raster(b"no picture"), NotFound)


def test_a_picture_without_loss_needs_no_steps(original: bytes, shown: Image.Image):
    out = io.BytesIO()
    shown.save(out, "PNG")
    assert raster(out.getvalue()).steps is None
    assert compare(raster(original), raster(out.getvalue())).likelihood == "same"


def test_blocks_are_those_of_an_independent_transform():
    """scipy.fft.dctn, type 2, orthonormal: the transform of ITU-T T.81, A.3.3."""
    values = np.random.default_rng(1).normal(0, 30, (16, 24)).astype(np.float32)
    blocks = module._blocks(values)
    assert blocks.shape == (6, 8, 8)
    assert np.allclose(blocks[4], dctn(values[8:16, 8:16], norm="ortho"), atol=1e-3)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_coefficients_are_multiples_of_the_steps_however_the_picture_lies(orientation: int):
    """ITU-T T.81, A.3.4: quantised coefficients times the step. 70 x 52 px: blocks do not fill the picture."""
    found = raster(jpeg(exposed(3).crop((200, 120, 270, 172)).convert("L"), 40, exif=tagged(orientation)))
    assert found.steps is not None
    tall, wide = ((s - o) // 8 * 8 for s, o in zip(found.grey.shape, (found.top, found.left), strict=True))
    part = found.grey[found.top : found.top + tall, found.left : found.left + wide]
    inside = (part > 0) & (part < 255)
    clear = inside.reshape(tall // 8, 8, -1, 8).all(axis=(1, 3)).ravel()
    rest = module._blocks(part.astype(np.float32) - module.LEVEL)[clear] / found.steps
    # pixels are rounded to grey levels: 0.3 of one in a coefficient, against steps of 14 and more
    assert np.abs(rest - np.rint(rest)).max() < 0.15


def test_the_normal_part_is_found_under_the_rounding():
    rng = np.random.default_rng(3)
    step = rng.choice([5.0, 12.0, 30.0], 4000)
    for sigma in (0.3, 1.0, 3.0):
        error = rng.uniform(-0.5, 0.5, 4000) * step + rng.normal(0, sigma, 4000)
        found, at_most = module._normal_part(error, step, module._SIGMAS)
        assert found == pytest.approx(sigma, rel=0.2)
        assert found <= at_most < 1.5 * sigma


def test_few_coefficients_of_coarse_steps_prove_nothing():
    rng = np.random.default_rng(3)
    step = np.full(60, 40.0)
    _, at_most = module._normal_part(rng.uniform(-0.5, 0.5, 60) * step, step, module._SIGMAS)
    assert at_most > 2 * module.SAME_BELOW


@pytest.mark.parametrize("lie", LIES)
def test_a_lie_and_its_inverse(lie):
    grey = np.random.default_rng(2).integers(0, 255, (5, 7)).astype(np.uint8)
    _, back = inverse(np.eye(3), lie, grey.shape, turn_to(grey, lie).shape)
    assert np.array_equal(turn_to(turn_to(grey, lie), back), grey)
