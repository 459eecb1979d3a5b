"""Decoding: known pixels through every format, the EXIF turn, the tone curve, depth, reduction, and each refusal.

Independent routes: Pillow's ImageOps.exif_transpose for turns (OpenCV for 16-bit files), tifffile as another writer of
TIFFs, the sRGB formula of IEC 61966-2-1 written out again here.
"""

from __future__ import annotations

import io
import struct
import zlib

import cv2
import numpy as np
import pytest
import tifffile
from picture_files import exif_with, saved
from PIL import Image, ImageOps

from moondesk.files import decoding, picture_file
from moondesk.files.formats import open_picture
from moondesk.files.picture import decode, decode_rgb, linear_light
from moondesk.records import NotFound, Picture


def srgb_formula(stored: float) -> float:
    """IEC 61966-2-1: stored value 0..1 to linear light."""
    return stored / 12.92 if stored <= 0.04045 else ((stored + 0.055) / 1.055) ** 2.4


def scene(width: int = 48, height: int = 32) -> np.ndarray:
    """No two corners alike, smooth enough for JPEG: (H, W, 3) uint8."""
    y, x = np.mgrid[0:height, 0:width]
    return np.stack([255 * x // (width - 1), 255 * y // (height - 1), 40 + 0 * x], axis=-1).astype(np.uint8)


def good(result: Picture | NotFound) -> Picture:
    assert isinstance(result, Picture), result
    return result


LOSSLESS = {"PNG": {}, "WEBP": {"lossless": True}, "TIFF": {}}
MEDIA = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp", "TIFF": "image/tiff"}


@pytest.mark.parametrize("kind", ["JPEG", *LOSSLESS])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_kind_is_turned_as_displayed(kind: str, orientation: int) -> None:
    options = LOSSLESS.get(kind, {"quality": 100, "subsampling": 0})
    data = saved(scene(), kind, exif=exif_with(orientation), **options)
    # independent: Pillow's own transposition, of the plain pixels
    turned = Image.fromarray(scene())
    turned.getexif()[0x0112] = orientation
    expected = np.asarray(ImageOps.exif_transpose(turned))
    rgb = decode_rgb(data)
    assert isinstance(rgb, np.ndarray)
    assert rgb.shape == expected.shape
    assert np.abs(rgb.astype(int) - expected).max() <= (4 if kind == "JPEG" else 0)
    seen = good(decode(data))
    assert (seen.width, seen.height) == (expected.shape[1], expected.shape[0])
    assert seen.luminance.shape == expected.shape[:2]
    assert (seen.orientation_applied, seen.media_type, seen.shrink) == (orientation, MEDIA[kind], 1.0)
    assert np.allclose(seen.luminance, linear_light(rgb / 255.0) @ [0.2126, 0.7152, 0.0722], atol=1e-5)


@pytest.mark.parametrize("orientation", [0, 9, 4711])
def test_impossible_orientation_is_ignored(orientation: int) -> None:
    seen = good(decode(saved(scene(), "JPEG", exif=exif_with(orientation))))
    assert (seen.width, seen.height, seen.orientation_applied) == (48, 32, 1)


def test_tone_curve_is_the_published_one() -> None:
    values = np.arange(256) / 255.0
    assert np.allclose(linear_light(values), [srgb_formula(v) for v in values], atol=1e-7)
    # value from the standard's neighbourhood, from memory: stored one half is 0.214 of the light
    assert linear_light(np.array(0.5)) == pytest.approx(0.2140, abs=1e-4)
    grey = good(decode(saved(np.full((20, 20), 128, np.uint8), "PNG")))
    assert grey.luminance == pytest.approx(np.full((20, 20), srgb_formula(128 / 255)), abs=1e-6)
    assert grey.redness is None


def test_luminance_and_redness_of_pure_colours() -> None:
    colours = np.zeros((20, 60, 3), np.uint8)
    for i in range(3):
        colours[:, 20 * i : 20 * i + 20, i] = 255
    seen = good(decode(saved(colours, "PNG")))
    assert seen.redness is not None
    # Y row of the sRGB matrix, IEC 61966-2-1
    assert seen.luminance[5, [5, 25, 45]] == pytest.approx([0.2126, 0.7152, 0.0722], abs=1e-6)
    assert seen.redness[5, [5, 25, 45]] == pytest.approx([1.0, 0.0, -1.0], abs=1e-6)


def test_arrays_are_read_only() -> None:
    data = saved(scene(), "PNG")
    seen, rgb = good(decode(data)), decode_rgb(data)
    assert isinstance(rgb, np.ndarray)
    assert seen.redness is not None
    assert [a.flags.writeable for a in (seen.luminance, seen.redness, rgb)] == [False] * 3
    assert (seen.luminance.dtype, seen.redness.dtype, rgb.dtype) == (np.float32, np.float32, np.uint8)


# --- depth -----------------------------------------------------------------------------------------------------------


def fine_ramp(channels: int) -> np.ndarray:
    """(16, 64) or (16, 64, channels) uint16: 1024 neighbouring values, only 5 different ones in 8 bits."""
    ramp = (30000 + np.arange(16 * 64, dtype=np.uint16)).reshape(16, 64)
    return ramp if channels == 1 else np.repeat(ramp[..., None], channels, axis=2)


@pytest.mark.parametrize("extension", [".png", ".tif"])
@pytest.mark.parametrize("channels", [1, 3, 4])
def test_sixteen_bits_keep_their_depth(extension: str, channels: int) -> None:
    pixels = fine_ramp(channels)
    if channels == 4:
        pixels[..., 3] = 65535
    data = cv2.imencode(extension, pixels)[1].tobytes()
    seen = good(decode(data))
    assert len(np.unique(seen.luminance)) == 1024
    assert seen.luminance[0, 0] == pytest.approx(srgb_formula(30000 / 65535), abs=1e-6)
    assert (seen.redness is None) == (channels == 1)
    rgb = decode_rgb(data)
    assert isinstance(rgb, np.ndarray)
    assert rgb.shape == (16, 64, 3)
    assert rgb[0, 0].tolist() == [117, 117, 117]  # 30000 / 257 = 116.7


@pytest.mark.parametrize("orientation", range(1, 9))
def test_sixteen_bit_colour_is_turned_and_not_swapped(orientation: int) -> None:
    pixels = scene().astype(np.uint16) * 257
    tag = [(274, 3, 1, orientation, True)]
    out = io.BytesIO()
    tifffile.imwrite(out, pixels, photometric="rgb", extratags=tag)
    png = cv2.imencode(".png", pixels[..., ::-1])[1].tobytes()
    png = with_png_chunk(png, b"eXIf", exif_with(orientation).tobytes().removeprefix(b"Exif\0\0"))
    turned = Image.fromarray(scene())
    turned.getexif()[0x0112] = orientation
    expected = np.asarray(ImageOps.exif_transpose(turned))
    for data in (out.getvalue(), png):
        rgb = decode_rgb(data)
        assert isinstance(rgb, np.ndarray)
        assert np.array_equal(rgb, expected)
        assert good(decode(data)).luminance.shape == expected.shape[:2]


def with_png_chunk(png: bytes, name: bytes, body: bytes) -> bytes:
    chunk = struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
    return png[:33] + chunk + png[33:]  # behind the signature (8) and IHDR (25)


@pytest.mark.parametrize("dtype", ["float32", "float64"])
@pytest.mark.parametrize("colour", [False, True])
def test_floating_point_tiff_is_linear_and_scaled(dtype: str, colour: bool) -> None:
    values = np.linspace(0, 500, 20 * 30, dtype=dtype).reshape(20, 30)
    values[0, 0] = np.nan
    pixels = np.repeat(values[..., None], 3, axis=2) if colour else values
    out = io.BytesIO()
    tifffile.imwrite(out, pixels, photometric="rgb" if colour else "minisblack")
    seen = good(decode(out.getvalue()))
    assert seen.luminance.max() == pytest.approx(1.0, abs=1e-6)
    assert seen.luminance[0, 0] == 0.0
    assert seen.luminance[10, 0] == pytest.approx(float(values[10, 0]) / 500, abs=1e-6)
    rgb = decode_rgb(out.getvalue())
    assert isinstance(rgb, np.ndarray)
    assert rgb[19, 29].tolist() == [255, 255, 255]
    # the curve there and back: the stored value nearest to this light
    assert srgb_formula(rgb[10, 0, 0] / 255) == pytest.approx(float(values[10, 0]) / 500, abs=5e-3)


def test_white_is_zero_tiff_is_not_a_negative() -> None:
    values = np.linspace(0, 65535, 20 * 30).astype(np.uint16).reshape(20, 30)
    out = io.BytesIO()
    tifffile.imwrite(out, values, photometric="miniswhite")
    assert good(decode(out.getvalue())).luminance[0, 0] == pytest.approx(1.0)


def test_separate_colour_planes_of_sixteen_bits_are_refused() -> None:
    out = io.BytesIO()
    tifffile.imwrite(out, np.zeros((3, 20, 30), np.uint16), photometric="rgb", planarconfig="separate")
    refused = decode(out.getvalue())
    assert isinstance(refused, NotFound)
    assert "separate planes" in refused.reason


# --- modes -----------------------------------------------------------------------------------------------------------


def test_other_modes_come_out_as_displayed() -> None:
    rgb = Image.fromarray(scene())
    cases = {
        "palette": (saved(rgb.quantize(64), "PNG"), np.asarray(rgb.quantize(64).convert("RGB"))),
        "one bit": (saved(rgb.convert("1"), "PNG"), np.asarray(rgb.convert("1").convert("RGB"))),
        "grey": (saved(rgb.convert("L"), "PNG"), np.asarray(rgb.convert("L").convert("RGB"))),
        "progressive": (saved(rgb, "JPEG", quality=100, subsampling=0, progressive=True), scene()),
        "CMYK": (saved(rgb.convert("CMYK"), "JPEG", quality=100), scene()),
    }
    for name, (data, expected) in cases.items():
        seen = decode_rgb(data)
        assert isinstance(seen, np.ndarray), name
        assert np.abs(seen.astype(int) - expected).max() <= 6, name
    grey = good(decode(saved(rgb.convert("L"), "JPEG")))
    assert grey.redness is None


def test_transparent_is_black() -> None:
    pixels = np.full((20, 20, 4), 200, np.uint8)
    pixels[:, :10, 3] = 0
    pixels[:, 10:, 3] = 128
    for data in (saved(pixels, "PNG"), saved(pixels, "WEBP", lossless=True, exact=True)):
        rgb = decode_rgb(data)
        assert isinstance(rgb, np.ndarray)
        assert rgb[0, 0].tolist() == [0, 0, 0]
        assert rgb[0, 15].tolist() == [pytest.approx(200 * 128 / 255, abs=1)] * 3
    deep = pixels.astype(np.uint16) * 257
    rgb = decode_rgb(cv2.imencode(".png", deep)[1].tobytes())
    assert isinstance(rgb, np.ndarray)
    assert rgb[0, 0].tolist() == [0, 0, 0]
    assert rgb[0, 15].tolist() == [pytest.approx(200 * 128 / 255, abs=1)] * 3


def test_first_of_several_pictures() -> None:
    stack = [np.full((32, 32, 3), v, np.uint8) for v in (200, 10)]
    frames = [Image.fromarray(pixels) for pixels in stack]
    pages = io.BytesIO()
    tifffile.imwrite(pages, np.stack(stack), photometric="rgb")
    for data in (
        saved(frames[0], "MPO", save_all=True, append_images=frames[1:]),
        saved(frames[0], "WEBP", save_all=True, append_images=frames[1:], lossless=True),
        pages.getvalue(),
    ):
        rgb = decode_rgb(data)
        assert isinstance(rgb, np.ndarray)
        assert rgb[16, 16, 0] == pytest.approx(200, abs=2)


# --- reduction -------------------------------------------------------------------------------------------------------


def dot_centre(seen: Picture) -> tuple[float, float]:
    """Centre of light in full-resolution pixels, by the formula of `Picture`."""
    light = seen.luminance.astype(float)
    y, x = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    at = [float((light * axis).sum() / light.sum()) for axis in (x, y)]
    return (at[0] + 0.5) * seen.shrink - 0.5, (at[1] + 0.5) * seen.shrink - 0.5


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
@pytest.mark.parametrize("size", [(400, 300), (401, 303), (397, 290)])
@pytest.mark.parametrize("longest", [50, 99, 128, 200, 211, 333])
def test_reduction_keeps_places(orientation: int, size: tuple[int, int], longest: int) -> None:
    width, height = size
    y, x = np.mgrid[0:height, 0:width]
    disc = np.clip(40.5 - np.hypot(x - 250.0, y - 120.0), 0, 1)
    data = saved(np.repeat((disc * 255).astype(np.uint8)[..., None], 3, axis=2), "JPEG", quality=98,
                 exif=exif_with(orientation))  # fmt: skip
    seen = good(decode(data, longest))
    assert max(seen.luminance.shape) <= longest
    assert seen.luminance.shape[1] * seen.shrink == pytest.approx(seen.width, abs=seen.shrink)
    # where the disc's centre goes under the turn, written out from the EXIF table
    expected = {
        1: (250.0, 120.0),
        3: (width - 1 - 250.0, height - 1 - 120.0),
        6: (height - 1 - 120.0, 250.0),
        8: (120.0, width - 1 - 250.0),
    }[orientation]
    # a JPEG's noise, and the decoder's own reduction, which averages stored values: a few hundredths of a working pixel
    assert dot_centre(seen) == pytest.approx(expected, abs=max(0.05, 0.03 * seen.shrink))


def test_reduction_averages_light_not_stored_values() -> None:
    stripes = np.zeros((64, 64), np.uint8)
    stripes[:, ::2] = 255
    seen = good(decode(saved(stripes, "PNG"), 32))
    assert seen.luminance == pytest.approx(np.full((32, 32), 0.5), abs=1e-6)


def by_overlap(light: np.ndarray, cell: float, count: int) -> np.ndarray:
    """Averages along the first axis over cells of `cell` pixels, from the overlap of each cell with each pixel."""
    start = np.arange(count)[:, None] * cell
    pixel = np.arange(len(light))[None, :]
    overlap = np.clip(np.minimum(start + cell, pixel + 1) - np.maximum(start, pixel), 0, None)
    return (overlap / overlap.sum(axis=1, keepdims=True)) @ light


@pytest.mark.parametrize(("height", "longest"), [(1750, 583), (1749, 583), (2000, 1999), (1111, 200)])
def test_reduction_is_the_average_over_each_cell(height: int, longest: int) -> None:
    pixels = np.random.default_rng(5).integers(0, 256, (height, 90), dtype=np.uint8)
    seen = good(decode(saved(pixels, "PNG"), longest))
    rows, columns = seen.luminance.shape
    assert 0.98 * longest <= rows <= longest
    expected = by_overlap(by_overlap(linear_light(pixels / 255.0), seen.shrink, rows).T, seen.shrink, columns).T
    # the last row and column may be part of a cell only
    assert np.abs(seen.luminance - expected)[:-1, :-1].max() < 1e-5


def test_too_small_a_limit_is_a_wrong_call() -> None:
    with pytest.raises(ValueError, match="longest_px"):
        decode(saved(scene(), "PNG"), 8)


# --- refusals --------------------------------------------------------------------------------------------------------

REFUSED = {
    "empty": (b"", "empty"),
    "text": (b"hello, this is no picture at all", "not a picture"),
    "heic": (b"\0\0\0\x18ftypheic" + b"\0" * 40, "damaged or incomplete"),
    "heif mif1": (b"\0\0\0\x18ftypmif1" + b"\0" * 40, "damaged or incomplete"),
    "avif": (b"\0\0\0\x18ftypavif" + b"\0" * 40, "damaged or incomplete"),
    "video": (b"\0\0\0\x18ftypisom" + b"\0" * 40, "video"),
    "matroska": (b"\x1a\x45\xdf\xa3" + b"\0" * 40, "video"),
    "avi": (b"RIFF\0\0\0\0AVI " + b"\0" * 40, "video"),
    "gif": (saved(Image.fromarray(scene()).quantize(16), "GIF"), "GIF"),
    "truncated bmp": (saved(scene(200, 200), "BMP")[:-9000], "damaged or incomplete"),
    "large bmp": (b"BM" + struct.pack("<IHHIIiiHHI", 54, 0, 0, 54, 40, 40_000, -40_000, 1, 24, 0), "pixels"),
    "fits": (b"SIMPLE  =                    T" + b" " * 50, "FITS"),
    "pdf": (b"%PDF-1.7\n", "PDF"),
    "svg": (b"\xef\xbb\xbf\n<svg xmlns='http://www.w3.org/2000/svg'/>", "web page or drawing"),
    "zip": (b"PK\x03\x04" + b"\0" * 30, "zip"),
    "truncated jpeg": (saved(scene(200, 200), "JPEG")[:-900], "damaged or incomplete"),
    "truncated png": (saved(scene(200, 200), "PNG")[:-300], "damaged or incomplete"),
    "truncated webp": (saved(scene(200, 200), "WEBP")[:-100], "damaged or incomplete"),
    "truncated tiff": (saved(scene(200, 200), "TIFF")[:9000], "damaged or incomplete"),
    "html named jpg": (b"<!doctype html><title>404</title>", "web page"),
    "1x1": (saved(scene()[:1, :1], "PNG"), "1 x 1"),
    "65500x2": (saved(np.zeros((2, 65500), np.uint8), "JPEG"), "65500 x 2"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refusal_says_why_and_what_to_do(name: str) -> None:
    data, words = REFUSED[name]
    for refused in (decode(data), decode_rgb(data)):
        assert isinstance(refused, NotFound)
        assert refused.stage == "picture"
        assert words in refused.reason
        assert refused.advice.startswith("Please ")


def png_header(width: int, height: int, depth: int = 8, colour: int = 2) -> bytes:
    head = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + b"IHDR" + head + struct.pack(">I", zlib.crc32(b"IHDR" + head))


@pytest.mark.parametrize("size", [(10_000, 13_000), (20_000, 20_000), (2**31 - 1, 2**31 - 1)])
@pytest.mark.parametrize("depth", [8, 16])
def test_pixel_bomb_is_refused_by_its_header(size: tuple[int, int], depth: int) -> None:
    refused = decode(png_header(*size, depth))
    assert isinstance(refused, NotFound)
    assert f"{size[0]} x {size[1]}" in refused.reason


def test_png_that_cannot_hold_its_pixels_is_refused_before_decoding(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_decoding(*_: object) -> None:
        pytest.fail("the decoder was called")

    monkeypatch.setattr(decoding, "by_opencv", no_decoding)
    refused = decode(png_header(10_000, 10_000, 16) + b"\0" * 5000)
    assert isinstance(refused, NotFound)
    assert "damaged or incomplete" in refused.reason
    # the densest honest file is not: a black picture
    black = decode(saved(np.zeros((3000, 3000), np.uint8), "PNG", compress_level=9), 512)
    assert good(black).width == 3000


def test_png_chunk_that_claims_gigabytes_is_refused_before_decoding(monkeypatch: pytest.MonkeyPatch) -> None:
    png = bytearray(cv2.imencode(".png", scene().astype(np.uint16) * 257)[1].tobytes())
    assert png[37:41] == b"IDAT"
    assert good(decode(bytes(png)))
    png[33] = 0xF7
    monkeypatch.setattr(cv2, "imdecode", lambda *_: pytest.fail("the decoder was called"))
    assert "damaged or incomplete" in getattr(decode(bytes(png)), "reason", "")


def test_webp_and_tiff_bombs_are_refused_by_their_headers() -> None:
    webp = b"RIFF\0\0\0\0WEBPVP8X\x0a\0\0\0" + b"\0\0\0\0" + b"\xff\x3f\x00" * 2 + b"\0" * 20
    tiff = b"II*\0\x08\0\0\0\x02\0" + struct.pack("<HHIIHHII", 256, 4, 1, 50_000, 257, 4, 1, 50_000) + b"\0" * 8
    for data, words in ((webp, "16384 x 16384"), (tiff, "50000 x 50000")):
        refused = decode(data)
        assert isinstance(refused, NotFound)
        assert words in refused.reason


def test_a_large_honest_picture_raises_no_warning(monkeypatch: pytest.MonkeyPatch) -> None:
    # Pillow warns above its own limit, which pytest turns into an error; the limit here is ours alone
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 100)
    assert good(decode(saved(scene(), "JPEG"))).width == 48
    monkeypatch.setattr(picture_file, "MAX_PIXELS", 1000)
    assert "more than the" in getattr(decode(saved(scene(), "JPEG")), "reason", "")


def test_webp_size_is_read_from_all_three_layouts() -> None:
    for options in ({"lossless": True}, {"quality": 80}, {"quality": 80, "exif": exif_with(1)}):
        assert open_picture(saved(scene(), "WEBP", **options)).size == (48, 32)


def test_jpeg_of_endless_passes_is_refused() -> None:
    data = saved(scene(), "JPEG", progressive=True)
    at = data.rindex(b"\xff\xda")
    bomb = data[:at] + (data[at:-2]) * 200 + data[-2:]
    refused = decode(bomb)
    assert isinstance(refused, NotFound)
    assert "passes" in refused.reason
    assert good(decode(data))


# --- mutation --------------------------------------------------------------------------------------------------------


def mutated(data: bytes, rng: np.random.Generator) -> bytes:
    changed = bytearray(data)
    for _ in range(int(rng.integers(1, 6))):
        at = int(rng.integers(0, len(changed)))
        how = rng.integers(0, 3)
        if how == 0:
            changed[at] = int(rng.integers(0, 256))
        elif how == 1:
            del changed[at : at + int(rng.integers(1, 40))]
        else:
            changed[at:at] = rng.integers(0, 256, 8, dtype=np.uint8).tobytes()
    return bytes(changed)


@pytest.mark.filterwarnings("ignore")  # Pillow may warn about what it then reads or refuses
def test_mutated_files_never_raise() -> None:
    rng = np.random.default_rng(20260102)
    deep = scene().astype(np.uint16) * 257
    seeds = [
        saved(scene(), "JPEG", exif=exif_with(6)),
        saved(scene(), "JPEG", progressive=True),
        saved(scene(), "PNG", exif=exif_with(6)),
        saved(scene(), "WEBP", exif=exif_with(6)),
        saved(scene(), "TIFF", compression="tiff_lzw"),
        cv2.imencode(".png", deep)[1].tobytes(),
        cv2.imencode(".tif", deep)[1].tobytes(),
    ]
    outcomes = {Picture: 0, NotFound: 0}
    for i in range(350):
        # the headers hold the interesting bytes: half of the mutations go into the first 200
        seed = seeds[i % len(seeds)]
        data = mutated(seed[:200], rng) + seed[200:] if i % 2 else mutated(seed, rng)
        outcomes[type(decode(data))] += 1
        assert isinstance(decode_rgb(data), np.ndarray | NotFound)
    assert min(outcomes.values()) > 25  # both happen: the fuzz reaches the decoders
