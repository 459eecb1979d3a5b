"""Formats beside the common ones: AVIF, HEIC, FITS, camera raw, and the videos that come in a picture's place.

Independent routes: Pillow's and libheif's encoders for the turns of HEIF files, astropy as writer and reader of FITS,
tifffile as writer of a DNG. No real phone's HEIC and no real camera's raw file was at hand.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tomllib
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import tifffile
from picture_files import disc, dng, exif_with, fits, saved, scene
from PIL import Image, ImageOps, features

from moondesk.files import decoding
from moondesk.files.formats import open_picture
from moondesk.files.formats.heif import HeicFile, heif_layout
from moondesk.files.picture import decode, decode_rgb, linear_light
from moondesk.files.time_taken import read_taken
from moondesk.records import Known, NotFound, Picture

NEEDS_AVIF = pytest.mark.skipif(not features.check("avif"), reason="this Pillow is built without AVIF")


def good(result: Picture | NotFound) -> Picture:
    assert isinstance(result, Picture), result
    return result


def sniff(data: bytes) -> str | NotFound:
    """The name of the format, or why it is none."""
    file = open_picture(data)
    return file.name or file.refusal


def pixels_of(data: bytes) -> np.ndarray:
    rgb = decode_rgb(data)
    assert isinstance(rgb, np.ndarray), rgb
    return rgb.astype(int)


def turned(orientation: int) -> np.ndarray:
    """Independent: Pillow's own transposition, of the plain pixels."""
    image = Image.fromarray(scene(160, 96))
    image.getexif()[0x0112] = orientation
    return np.asarray(ImageOps.exif_transpose(image)).astype(int)


# --- HEIF: AVIF and HEIC ---------------------------------------------------------------------------------------------


def heic(pixels: np.ndarray, orientation: int = 1, **options: object) -> bytes:
    library = pytest.importorskip("pillow_heif", reason="needs the extra for HEIC")
    out = io.BytesIO()
    library.encode(
        "RGB",
        pixels.shape[1::-1],
        pixels.tobytes(),
        out,
        quality=95,
        chroma=444,
        exif=exif_with(orientation).tobytes(),
        **options,
    )
    return out.getvalue()


@NEEDS_AVIF
@pytest.mark.parametrize("orientation", range(1, 9))
def test_avif_is_turned_as_displayed(orientation: int) -> None:
    data = saved(scene(160, 96), "AVIF", quality=95, subsampling="4:4:4", exif=exif_with(orientation).tobytes())
    assert heif_layout(data).turn == orientation
    expected = turned(orientation)
    rgb = pixels_of(data)
    assert rgb.shape == expected.shape
    assert np.abs(rgb - expected).max() <= 6
    seen = good(decode(data))
    assert (seen.orientation_applied, seen.media_type) == (orientation, "image/avif")


@pytest.mark.parametrize("orientation", range(1, 9))
def test_heic_is_turned_once(orientation: int) -> None:
    data = heic(scene(160, 96), orientation)
    assert heif_layout(data).turn == orientation
    expected = turned(orientation)
    rgb = pixels_of(data)
    assert rgb.shape == expected.shape
    assert np.abs(rgb - expected).max() <= 6
    seen = good(decode(data))
    assert (seen.width, seen.height, seen.media_type) == (*expected.shape[1::-1], "image/heic")


@pytest.mark.parametrize("kind", ["AVIF", "HEIC", "HEIC of tiles"])
def test_date_and_place_of_a_heif_are_read_without_its_decoder(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    exif = Image.Exif()
    exif[0x8769] = {0x9003: "2026:10:18 20:42:10", 0x9011: "+02:00"}
    exif[0x8825] = {1: "N", 2: (48.0, 12.0, 0.0), 3: "E", 4: (16.0, 22.0, 0.0)}
    if kind == "AVIF":
        if not features.check("avif"):
            pytest.skip("this Pillow is built without AVIF")
        data = saved(scene(160, 96), "AVIF", exif=exif.tobytes())
    else:
        library = pytest.importorskip("pillow_heif", reason="needs the extra for HEIC")
        out = io.BytesIO()
        tiles = {"tile_size": 64} if "tiles" in kind else {}
        library.encode("RGB", (160, 96), scene(160, 96).tobytes(), out, exif=exif.tobytes(), **tiles)
        data = out.getvalue()
        assert ((64, 64) in heif_layout(data).sizes) == bool(tiles)
    assert (good(decode(data)).width, good(decode(data)).height) == (160, 96)
    monkeypatch.setattr(decoding, "by_pillow", lambda *_: pytest.fail("the decoder was called"))
    taken = read_taken(data, Known())
    assert [(c.source, c.utc) for c in taken.candidates] == [
        ("exif+offset", datetime(2026, 10, 18, 18, 42, 10, tzinfo=UTC))
    ]
    assert taken.place is not None
    assert taken.place.latitude_deg == pytest.approx(48.2)


def test_kind_of_a_heif_is_told_by_its_codec() -> None:
    def head(*brands: bytes) -> bytes:
        box = b"ftyp" + brands[0] + bytes(4) + b"".join(brands[1:])
        return len(box + bytes(4)).to_bytes(4, "big") + box + bytes(16)

    assert sniff(head(b"mif1", b"mif1", b"avif", b"miaf")) == "avif"
    assert sniff(head(b"mif1", b"heic", b"miaf")) == "heic"
    assert sniff(head(b"mif1", b"miaf")) == "heic"
    assert sniff(head(b"avis", b"avif")) == "avif"
    assert sniff(head(b"crx ", b"isom")) == "raw"


@pytest.mark.parametrize("kind", ["AVIF", "HEIF"])
def test_pixel_bomb_in_a_heif_is_refused_by_its_header(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if kind == "AVIF" and not features.check("avif"):
        pytest.skip("this Pillow is built without AVIF")
    data = saved(scene(160, 96), "AVIF") if kind == "AVIF" else heic(scene(160, 96))
    size = (160).to_bytes(4, "big") + (96).to_bytes(4, "big")
    assert data.count(b"ispe" + bytes(4) + size) == 1
    bomb = data.replace(b"ispe" + bytes(4) + size, b"ispe" + bytes(4) + (60_000).to_bytes(4, "big") * 2)
    monkeypatch.setattr(decoding, "by_pillow", lambda *_: pytest.fail("the decoder was called"))
    assert "60000 x 60000" in getattr(decode(bomb), "reason", "")
    # a header without any size is not given to the decoder either
    assert "damaged" in getattr(decode(data.replace(b"ispe", b"isqe")), "reason", "")


@pytest.mark.parametrize("missing", [{"pillow_heif": None}, {"rawpy": None}])
def test_missing_extra_says_what_to_install_and_that_retry_places_it(
    missing: dict[str, None], monkeypatch: pytest.MonkeyPatch
) -> None:
    name, extra, what = ("pillow_heif", "heic", "HEIC") if "pillow_heif" in missing else ("rawpy", "raw", "camera raw")
    head = b"ftypheic" + bytes(4) + b"mif1heic"
    meta = b"meta" + bytes(4) + _box(b"iprp", _box(b"ipco", _box(b"ispe", bytes(4) + (64).to_bytes(4, "big") * 2)))
    data = dng(disc()) if extra == "raw" else _box(b"", head) + _box(b"", meta)
    monkeypatch.setitem(sys.modules, name, None)
    assert sniff(data) == extra  # taken and kept, not refused at the door
    for refused in (decode(data), decode_rgb(data)):
        assert isinstance(refused, NotFound)
        assert what in refused.reason
        assert "original is kept" in refused.reason
        assert f"pip install 'moondesk[{extra}]'" in refused.advice
        assert "moondesk retry" in refused.advice


def _box(name: bytes, body: bytes) -> bytes:
    return (len(name + body) + 4).to_bytes(4, "big") + name + body


def test_releases_with_known_holes_are_not_asked_for() -> None:
    # fixes for hostile FITS, PSD and PDF files: Pillow up to 12.3; out-of-bounds writes: pillow-heif up to 1.7
    whole = (Path(__file__).resolve().parents[2] / "pyproject.toml").read_text(encoding="utf-8")
    project = tomllib.loads(whole)["project"]
    assert "pillow>=12.3" in project["dependencies"]
    assert project["optional-dependencies"]["heic"] == ["pillow-heif>=1.7"]
    assert "raw" in project["optional-dependencies"]


def test_heic_library_with_known_holes_is_not_used(monkeypatch: pytest.MonkeyPatch) -> None:
    data = heic(scene(160, 96))
    monkeypatch.setattr(sys.modules["pillow_heif"], "__version__", "1.6.0")
    refused = decode(data)
    assert isinstance(refused, NotFound)
    assert "opens unsafely (1.7 is needed)" in refused.reason
    assert HeicFile.extra.at_least == (1, 7)


# --- camera raw ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("orientation", "corner"), [(1, (20, 12)), (3, (43, 35)), (6, (35, 20)), (8, (12, 43))])
def test_raw_is_developed_and_turned(orientation: int, corner: tuple[int, int]) -> None:
    pytest.importorskip("rawpy", reason="needs the extra for camera raw files")
    data = dng(disc(), orientation)
    assert sniff(data) == "raw"
    rgb = pixels_of(data)
    assert rgb.shape == ((48, 64, 3) if orientation in (1, 3) else (64, 48, 3))
    light = linear_light(rgb / 255.0).sum(axis=2)
    y, x = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    light = np.where(light > 0.5, light, 0)
    # where the centre goes under the turn, written out from the EXIF table
    centre = float((light * x).sum() / light.sum()), float((light * y).sum() / light.sum())
    assert centre == pytest.approx(corner, abs=1)
    for longest in (64, 32):  # full, and at half size: the place stays
        seen = good(decode(data, longest))
        assert (seen.width, seen.height, seen.orientation_applied) == (*rgb.shape[1::-1], orientation)
        spot = np.argwhere(seen.luminance > 0.5).mean(axis=0)
        assert ((spot + 0.5) * seen.shrink - 0.5).tolist() == pytest.approx([corner[1], corner[0]], abs=1)


def test_raw_without_a_mosaic_comes_whole_where_half_is_asked_for() -> None:
    pytest.importorskip("rawpy", reason="needs the extra for camera raw files")
    data = dng(disc(), developed=True)
    assert sniff(data) == "raw"
    for longest in (64, 32):
        seen = good(decode(data, longest))
        assert (seen.width, seen.height) == (64, 48)
        spot = np.argwhere(seen.luminance > 0.5).mean(axis=0)
        assert ((spot + 0.5) * seen.shrink - 0.5).tolist() == pytest.approx([12, 20], abs=1)


def test_raw_of_makers_is_told_from_a_tiff() -> None:
    for head in (b"II*\0\x10\0\0\0CR\x02\0", b"IIRO\x08\0\0\0", b"IIU\0\x08\0\0\0", b"FUJIFILMCCD-RAW ", b"FOVb"):
        assert sniff(head + bytes(40)) == "raw"
    plain = saved(scene(), "TIFF")
    assert sniff(plain) == "tiff"


def test_raw_file_that_cannot_be_read_is_not_called_damaged_for_certain() -> None:
    pytest.importorskip("rawpy", reason="needs the extra for camera raw files")
    refused = decode(b"IIRO\x08\0\0\0" + bytes(500))
    assert isinstance(refused, NotFound)
    assert "of a camera that is not known here" in refused.reason
    assert "develop it" in refused.advice


def test_want_of_memory_is_told_as_such(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_room(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr(decoding, "by_pillow", no_room)
    assert "more memory" in getattr(decode(saved(scene(), "PNG")), "reason", "")


def test_thumbnail_of_a_raw_file_is_never_placed() -> None:
    pytest.importorskip("rawpy", reason="needs the extra for camera raw files")
    out = io.BytesIO()
    tifffile.imwrite(out, scene(), photometric="rgb", subfiletype=1)
    assert isinstance(decode(out.getvalue()), NotFound)


# --- FITS ------------------------------------------------------------------------------------------------------------


def moon(dtype: str, height: int = 60, width: int = 90, black: float = 0.0, white: float = 1.0) -> np.ndarray:
    return (black + (white - black) * disc(width, height, 25.0, 15.0, 11.0)).astype(dtype)


@pytest.mark.parametrize("extension", ["", "image", "packed"])
@pytest.mark.parametrize("dtype", ["uint8", "int16", "uint16", "int32", "float32", "float64"])
def test_fits_is_read_with_its_first_row_at_the_bottom(dtype: str, extension: str) -> None:
    values = moon(dtype, black=12, white=120 if dtype == "uint8" else 12_000)  # uint16 is written with BZERO 32768
    data = fits(values, extension)
    assert sniff(data) == "fits"
    seen = good(decode(data))
    assert (seen.width, seen.height, seen.shrink, seen.media_type, seen.redness) == (90, 60, 1.0, "image/fits", None)
    # row 15 from the bottom is row 44 from the top
    # packed floating-point values are quantised
    assert seen.luminance[44, 25] == pytest.approx(1.0, abs=0.02)
    assert seen.luminance[15, 25] == pytest.approx(0.0, abs=0.02)
    # linear: half way up the edge is half the light
    level = disc(90, 60, 25.0, 15.0, 11.0)[::-1]
    assert np.abs(seen.luminance - level).max() < 0.03
    assert pixels_of(data)[44, 25].tolist() == pytest.approx([255, 255, 255], abs=2)


def test_fits_scale_blank_and_row_order() -> None:
    values = moon("int16", black=100, white=1000)
    values[0, 0] = -32768
    values[30, 70] = 30_000  # a hot pixel
    data = fits(values, BSCALE=0.5, BZERO=7.0, BLANK=-32768, ROWORDER="TOP-DOWN")
    seen = good(decode(data))
    assert seen.luminance[15, 25] == pytest.approx(1.0, abs=0.01)
    assert seen.luminance[0, 0] == 0.0
    assert seen.luminance[30, 70] == 1.0
    nan = moon("float32", black=-3.0, white=50.0)
    nan[:, :3] = np.nan
    nan[5, 5] = np.inf
    seen = good(decode(fits(nan)))
    assert seen.luminance[44, 25] == pytest.approx(1.0, abs=0.01)
    assert np.isfinite(seen.luminance).all()


def test_fits_of_three_planes_keeps_its_colours() -> None:
    planes = np.stack([moon("float32", white=white) for white in (4000, 2000, 1000)])
    seen = good(decode(fits(planes)))
    assert seen.redness is not None
    assert seen.redness[44, 25] == pytest.approx((4000 - 1000) / 7000, abs=0.01)
    assert pixels_of(fits(planes[:1])).shape == (60, 90, 3)


@pytest.mark.parametrize("cards", [{"BAYERPAT": "RGGB"}, {}])
def test_fits_of_a_colour_sensor_becomes_grey_without_a_grid(cards: dict[str, object]) -> None:
    values = moon("float32", black=0.0, white=9000.0)
    values[0::2, 0::2] *= 0.5
    values[1::2, 1::2] *= 0.6
    seen = good(decode(fits(values.astype("uint16"), **cards)))
    inside = seen.luminance[38:50, 19:31]
    assert inside.std() / inside.mean() < 0.02
    assert seen.luminance[44, 25] > 0.9


def test_a_plain_grey_fits_is_not_smoothed() -> None:
    rng = np.random.default_rng(1)
    values = moon("float32", black=50.0, white=9000.0) + rng.normal(0, 30, (60, 90)).astype("float32")
    seen = good(decode(fits(values)))
    assert np.abs(seen.luminance[::-1] - np.clip((values - values.min()) / (9000 - values.min()), 0, 1)).max() < 0.03


def test_small_disc_in_a_large_fits_is_not_blown_out() -> None:
    values = np.full((900, 1200), 400.0, np.float32)
    values[100:148, 200:264] += 20_000 * (disc() * np.linspace(0.2, 1.0, 64)).astype(np.float32)
    light = good(decode(fits(values))).luminance
    # 20 of its 250 pixels at most
    assert np.mean(light[light > 0.1] > 0.98) < 0.12


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (fits(np.zeros((5, 40, 60), np.uint8)), "cube of 60 x 40 x 5"),
        (fits(np.zeros(500, np.uint8)), "holds no picture"),
        (fits(np.zeros((40, 60), np.uint8))[:2880], "damaged or incomplete"),
        (fits(np.zeros((40, 60), np.int16))[:4000], "damaged or incomplete"),
        (b"SIMPLE  =                    T" + b" " * 50, "holds no picture"),
        (fits(np.zeros((4, 60), np.uint8)), "60 x 4"),
        (fits(np.zeros((40, 60), np.uint8)).replace(b"60", b"-6"), "damaged or incomplete"),
    ],
)
def test_fits_that_is_no_picture(data: bytes, words: str) -> None:
    refused = decode(data)
    assert isinstance(refused, NotFound)
    assert words in refused.reason
    assert refused.advice.startswith("Please ")


def test_fits_bomb_is_refused_by_its_header() -> None:
    data = fits(np.zeros((40, 60), np.int16), "packed")
    for old, new in (
        (b"ZNAXIS1 =                   60", b"ZNAXIS1 =              2000000"),
        (b"ZNAXIS2 =                   40", b"ZNAXIS2 =              2000000"),
    ):
        assert data.count(old) == 1
        data = data.replace(old, new)
    assert isinstance(decode(data), NotFound)
    head = fits(np.zeros((40, 60), np.int16)).replace(b"= " + b"60".rjust(20), b"= " + b"99999999".rjust(20))
    assert "damaged or incomplete" in getattr(decode(head), "reason", "")


def test_neither_astropy_nor_an_extra_is_imported_before_it_is_needed() -> None:
    late = "('astropy.io.fits', 'pillow_heif', 'rawpy', 'PIL.AvifImagePlugin')"
    code = (
        "import sys, moondesk.files.picture, moondesk.files.time_taken\n"
        f"sys.exit(any(m in sys.modules for m in {late}))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# --- several pictures in one, and videos -----------------------------------------------------------------------------


@pytest.mark.parametrize("mode", ["CMYK", "L", "RGB"])
@pytest.mark.parametrize("progressive", [False, True])
def test_jpegs_of_every_kind_are_reduced_alike(mode: str, progressive: bool) -> None:
    # an eighth, by the decoder itself
    image = Image.fromarray(scene(640, 480)).convert(mode)
    seen = good(decode(saved(image, "JPEG", quality=95, progressive=progressive), 85))
    expected = np.asarray(image.convert("RGB").resize((80, 60), Image.Resampling.BOX))
    assert (seen.luminance.shape, seen.shrink) == ((60, 80), 8.0)
    level = good(decode(saved(Image.fromarray(expected), "PNG"))).luminance
    assert seen.luminance.mean() == pytest.approx(float(level.mean()), abs=0.01)
    assert seen.luminance[:5, :5].mean() == pytest.approx(float(level[:5, :5].mean()), abs=0.02)


def test_a_double_picture_of_a_phone_is_turned_by_its_own_tag() -> None:
    frames = [Image.fromarray(scene(160, 96)), Image.fromarray(scene(64, 64))]
    exif = exif_with(6).tobytes()
    data = saved(frames[0], "MPO", save_all=True, append_images=frames[1:], exif=exif, quality=95)
    assert sniff(data) == "jpeg"
    assert np.abs(pixels_of(data) - turned(6)).max() < 20


def test_inks_of_sixteen_bits_are_refused_and_of_eight_read() -> None:
    inks = np.zeros((20, 30, 4), np.uint16)
    out = io.BytesIO()
    tifffile.imwrite(out, inks, photometric="separated")
    assert "model for print" in getattr(decode(out.getvalue()), "reason", "")
    rgb = Image.fromarray(scene())
    assert np.abs(pixels_of(saved(rgb.convert("CMYK"), "TIFF")) - scene()).max() <= 1


def movie(brand: bytes, *later: bytes) -> bytes:
    return _box(b"", b"ftyp" + brand + bytes(4) + brand) + _box(b"wide", b"") + b"".join(later) + bytes(64)


VIDEOS = {
    "mp4": movie(b"isom"),
    "mp4 of a phone": movie(b"mp42"),
    "mov": movie(b"qt  "),
    "mov without a type": _box(b"wide", b"") + _box(b"mdat", bytes(80)),
    "3gp": movie(b"3gp5"),
    "avi": b"RIFF" + bytes(4) + b"AVI LIST" + bytes(40),
    "webm": b"\x1a\x45\xdf\xa3" + bytes(40),
    "wmv": b"0&\xb2u\x8ef\xcf\x11" + bytes(40),
    "planetary camera": b"LUCAM-RECORDER" + bytes(200),
}


@pytest.mark.parametrize("name", VIDEOS)
def test_video_is_refused_with_the_way_to_a_frame(name: str) -> None:
    refused = sniff(VIDEOS[name])
    assert isinstance(refused, NotFound)
    assert refused.reason == "The file is a video."
    assert "best single frame" in refused.advice


def test_moving_half_of_a_live_photo_is_named() -> None:
    refused = sniff(movie(b"qt  ", _box(b"moov", b"com.apple.quicktime.content.identifier")))
    assert isinstance(refused, NotFound)
    assert "Live Photo" in refused.reason
    assert "that one is used" in refused.advice
    assert "best single frame" in refused.advice
    sound = sniff(movie(b"M4A "))
    assert isinstance(sound, NotFound)
    assert "sound" in sound.reason
