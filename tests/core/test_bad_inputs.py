"""The bad inputs that concern the picture itself, one test each by its number: what is wrong, why, and what to do.

Numbers 13 to 25, and what becomes of the other pictures meanwhile, are in tests/service/test_bad_arrivals.py. Details
of each refusal are tested with its module; here stands what a sender or presenter gets to read.
"""

from __future__ import annotations

import io
import struct
from datetime import UTC, datetime
from pathlib import Path

import cv2
import numpy as np
import pytest
from picture_files import disc, dng, exif_with, png_header, saved, scene
from PIL import Image, TiffImagePlugin

from moondesk import Known, annotate_picture
from moondesk.files.picture import decode, decode_rgb
from moondesk.files.time_taken import read_taken
from moondesk.records import Annotation, NotFound, Picture

SAMPLES = Path(__file__).resolve().parents[2] / "sample_submissions"
RECEIVED = datetime(2026, 10, 26, 8, tzinfo=UTC)


def unreadable(data: bytes, *words: str) -> None:
    """The whole core answers with a status, a sentence that holds the words, and advice; it does not raise."""
    answer = annotate_picture(data, Known(received_utc=RECEIVED))
    assert answer.status == "unreadable"
    assert not answer.sure
    assert answer.advice.startswith(("Please ", "Run pip install", "If its still picture"))
    for word in words:
        assert word in answer.reason, (word, answer.reason)


def good(data: bytes) -> Picture:
    seen = decode(data)
    assert isinstance(seen, Picture), seen
    return seen


def noise(width: int, height: int) -> np.ndarray:
    return np.random.default_rng(4).integers(0, 256, (height, width, 3), dtype=np.uint8)


@pytest.mark.parametrize("orientation", [*range(2, 9), 9, 0, None])
def test_01_orientation_tag_from_2_to_8_is_obeyed_once_and_nonsense_ignored(orientation: int | None) -> None:
    data = saved(scene(), "JPEG", **({} if orientation is None else {"exif": exif_with(orientation)}))
    seen, rgb = good(data), decode_rgb(data)
    assert isinstance(rgb, np.ndarray)
    sideways = orientation in (5, 6, 7, 8)
    assert (seen.width, seen.height) == ((32, 48) if sideways else (48, 32)) == rgb.shape[1::-1]
    assert seen.orientation_applied == (orientation if orientation in range(1, 9) else 1)


def test_01_heic_that_its_library_has_turned_is_not_turned_again() -> None:
    library = pytest.importorskip("pillow_heif", reason="needs the extra for HEIC")
    out = io.BytesIO()
    library.encode("RGB", (96, 64), scene(96, 64).tobytes(), out, exif=exif_with(6).tobytes())
    assert (good(out.getvalue()).width, good(out.getvalue()).height) == (64, 96)


@pytest.mark.parametrize("size", [(12_000, 12_000), (13_000, 13_000), (20_000, 20_000)])
def test_02_pixel_bomb_also_where_a_library_only_warns(size: tuple[int, int]) -> None:
    unreadable(png_header(*size) + bytes(300_000), f"{size[0]} x {size[1]}", "million")


def test_02_pixel_bomb_below_the_limit_that_cannot_hold_its_pixels() -> None:
    unreadable(png_header(10_000, 10_000) + bytes(3000), "damaged or incomplete")


def test_03_jpeg_of_thousands_of_passes() -> None:
    whole = saved(scene(), "JPEG", progressive=True)
    at = whole.rindex(b"\xff\xda")
    unreadable(whole[:at] + whole[at:-2] * 3000 + whole[-2:], "passes", "no camera")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF", "AVIF", "HEIC"])
@pytest.mark.parametrize("share", [0.6, 0.95])
def test_04_truncated(kind: str, share: float) -> None:
    if kind == "HEIC":
        library = pytest.importorskip("pillow_heif", reason="needs the extra for HEIC")
        out = io.BytesIO()
        library.encode("RGB", (160, 120), noise(160, 120).tobytes(), out)
        whole = out.getvalue()
    else:
        whole = saved(noise(160, 120), kind)
    unreadable(whole[: int(share * len(whole))], "damaged or incomplete")


@pytest.mark.parametrize("where", [0.45, 0.7])
def test_05_burst_that_decodes_is_placed_right_or_not_sure(where: float) -> None:
    data = bytearray((SAMPLES / "DSC_0412.jpg").read_bytes())
    known = Known(received_utc=datetime(2026, 10, 21, 18, 35, tzinfo=UTC))
    whole = annotate_picture(bytes(data), known)
    assert whole.pose is not None
    at = int(where * len(data))
    data[at : at + 200] = np.random.default_rng(1).integers(0, 255, 200, dtype=np.uint8).tobytes()  # no FF: no marker
    damaged: Annotation = annotate_picture(bytes(data), known)
    if damaged.sure:
        assert damaged.pose is not None
        assert damaged.pose.mirrored == whole.pose.mirrored
        off = np.hypot(damaged.pose.x - whole.pose.x, damaged.pose.y - whole.pose.y) / whole.pose.radius_px
        assert off < 0.01
    else:
        assert damaged.reason


@pytest.mark.parametrize("extension", [".png", ".tif"])
def test_06_sixteen_bit_colour_keeps_its_depth(extension: str) -> None:
    ramp = np.repeat((30_000 + np.arange(1024, dtype=np.uint16)).reshape(16, 64, 1), 3, axis=2)
    assert len(np.unique(good(cv2.imencode(extension, ramp)[1].tobytes()).luminance)) == 1024


def test_07_unusual_modes_are_read() -> None:
    rgb = Image.fromarray(scene())
    for data in (
        saved(rgb.convert("CMYK"), "JPEG"),
        saved(rgb.quantize(32), "PNG"),
        saved(rgb.convert("RGBA"), "PNG"),
        saved(rgb.convert("LA"), "PNG"),
        saved(rgb.convert("1"), "PNG"),
        saved(rgb.convert("F"), "TIFF"),
    ):
        assert (good(data).width, good(data).height) == (48, 32)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (saved(scene()[:1, :1], "PNG"), "1 x 1"),
        (saved(np.zeros((2, 65500), np.uint8), "JPEG"), "65500 x 2"),
        (b"", "empty"),
    ],
)
def test_07_no_pixels_to_speak_of(data: bytes, words: str) -> None:
    unreadable(data, words)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n", "PostScript"),
        (b"\xc5\xd0\xd3\xc6" + bytes(40), "PostScript"),
        (b"%PDF-1.7\n", "PDF"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "web page or drawing"),
        (b"<!doctype html><title>Sign in</title>", "web page"),
        (b"PK\x03\x04" + bytes(40), "zip archive"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(40), "office document"),
        (b'x\x9f>"' + bytes(40), "winmail.dat"),
        (b"just words", "not a picture"),
    ],
)
def test_08_another_thing_named_jpg_is_told_by_its_bytes(data: bytes, words: str) -> None:
    unreadable(data, words)


def test_08_a_picture_of_another_kind_than_its_name_says_is_read() -> None:
    # nobody asks for the name: a PNG called .jpg is a PNG
    assert good(saved(scene(), "PNG")).media_type == "image/png"


def test_09_animations_and_doubles_give_their_first_picture() -> None:
    frames = [Image.fromarray(np.full((32, 48, 3), v, np.uint8)) for v in (200, 10)]
    for kind in ("WEBP", "MPO"):
        rgb = decode_rgb(saved(frames[0], kind, save_all=True, append_images=frames[1:]))
        assert isinstance(rgb, np.ndarray)
        assert abs(int(rgb[16, 20, 0]) - 200) < 8
    unreadable(saved(frames[0].quantize(8), "GIF", save_all=True, append_images=[frames[1].quantize(8)]), "GIF")


@pytest.mark.parametrize("brand", [b"isom", b"mp42", b"qt  ", b"3gp5"])
def test_09_video_and_the_moving_half_of_a_live_photo(brand: bytes) -> None:
    head = b"\0\0\0\x14ftyp" + brand + bytes(4) + brand
    unreadable(head + bytes(200), "video")
    answer = annotate_picture(head + b"com.apple.quicktime.content.identifier" + bytes(50))
    assert "Live Photo" in answer.reason
    assert "best single frame" in answer.advice


NAN = TiffImagePlugin.IFDRational(0, 0)


def dated(original: str | None, gps: dict[int, object] | None = None, offset: str | None = None) -> bytes:
    exif = Image.Exif()
    exif[0x8769] = {k: v for k, v in {0x9003: original, 0x9011: offset}.items() if v is not None}
    if gps:
        exif[0x8825] = gps
    return saved(scene(), "JPEG", exif=exif)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (dated("0000:00:00 00:00:00"), "no usable date"),
        (dated("2026:10:25 20:00:00", {1: "N", 2: (NAN, 0.0, 0.0), 3: "E", 4: (16.0, 0.0, 0.0)}), "makes no sense"),
        (dated("2026:10:25 20:00:00", {1: "N", 2: (0.0, 0.0, 0.0), 3: "E", 4: (0.0, 0.0, 0.0)}), "without a fix"),
        (dated("2026:10:25 20:00:00", {29: "2026:10:25", 7: (20.0, NAN, 0.0)}), "GPS time stamp"),
    ],
)
def test_10_nonsense_in_exif_is_named_and_the_picture_still_read(data: bytes, words: str) -> None:
    taken = read_taken(data, Known(received_utc=RECEIVED))
    assert any(words in remark for remark in taken.remarks)
    assert taken.place is None
    assert good(data).width == 48


def test_10_blank_offset_is_just_unknown() -> None:
    taken = read_taken(dated("2026:10:25 20:00:00", offset="   :  "), Known(received_utc=RECEIVED))
    assert taken.candidates
    assert taken.remarks == ()


BERLIN: dict[int, object] = {1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 18.0)}


@pytest.mark.parametrize(
    ("data", "words", "readings"),
    [
        # Directive 2000/84/EC: last Sundays of March and October, 01:00 UTC
        (dated("2026:10:25 02:30:00", BERLIN), "was twice", ["2026-10-25T00:30", "2026-10-25T01:30"]),
        (dated("2026:03:29 02:30:00", BERLIN), "never was", ["2026-03-29T01:30", "2026-03-29T00:30"]),
        (dated("2026:10:25 20:00:00", BERLIN, "-05:00"), "its place keeps", ["2026-10-26T01:00"]),
        (dated("2016:10:25 20:00:00", BERLIN), "more than a year before", ["2016-10-25T18:00", "2016-10-25T19:00"]),
        (dated("2027:10:25 20:00:00", BERLIN), "later than the picture's arrival", []),
    ],
)
def test_11_contradicting_offsets_clock_changes_and_wrong_years(data: bytes, words: str, readings: list[str]) -> None:
    taken = read_taken(data, Known(received_utc=RECEIVED))
    assert any(words in remark for remark in taken.remarks)
    assert [f"{c.utc:%Y-%m-%dT%H:%M}" for c in taken.candidates] == readings


def test_12_no_metadata_at_all_is_the_normal_case() -> None:
    data = saved(scene(), "JPEG")
    taken = read_taken(data, Known(received_utc=RECEIVED))
    assert (taken.candidates, taken.remarks, taken.place) == ((), (), None)
    assert taken.latest_utc == RECEIVED
    # the name that a messenger gives is a day of receipt, and bounds the search only
    named = read_taken(data, Known(received_utc=RECEIVED, given_name="IMG-20261024-WA0003.jpg"))
    assert named.candidates == ()
    assert "day of receipt" in named.remarks[0]


def test_12_no_metadata_and_a_time_from_the_picture() -> None:
    stripped = saved(Image.open(SAMPLES / "DSC_0412.jpg"), "JPEG", quality=92)
    answer = annotate_picture(stripped, Known(received_utc=datetime(2026, 10, 21, 18, 35, tzinfo=UTC)))
    assert answer.clock.verdict == "no_clock"
    assert answer.time is not None
    assert answer.time.source == "picture"


def test_raw_thumbnails_and_forged_tiffs_end_in_a_sentence() -> None:
    head = b"II*\0\x08\0\0\0\x02\0" + struct.pack("<HHIIHHII", 256, 4, 1, 50_000, 257, 4, 1, 50_000) + bytes(8)
    unreadable(head, "50000 x 50000")
    broken = dng(disc())
    answer = decode(broken[: len(broken) // 2])
    assert isinstance(answer, NotFound)


# --- what fuzzing found ----------------------------------------------------------------------------------------------


def test_strip_of_pixels_takes_neither_time_nor_memory() -> None:
    # a mutated WebP of 508 bytes claimed 48432 x 32 pixels: filled up to whole groups of cells they took 1.6 GB
    unreadable(saved(np.zeros((32, 16_000), np.uint8), "WEBP"), "strip of 16000 x 32")
    wide = good(saved(np.full((400, 12_000), 128, np.uint8), "PNG"))
    assert wide.luminance.shape[1] <= 2048
    assert wide.luminance.shape[1] * wide.shrink == pytest.approx(12_000, abs=2 * wide.shrink)


def test_raw_file_of_one_channel_is_grey() -> None:
    pytest.importorskip("rawpy", reason="needs the extra for camera raw files")
    # its photometric interpretation changed from filter array to linear by a single bit
    data = dng(disc())
    at = data.index(struct.pack("<HHI", 262, 3, 1))
    grey = data[: at + 8] + struct.pack("<H", 34892) + data[at + 10 :]
    answer = decode(grey)
    assert isinstance(answer, NotFound) or answer.redness is None or answer.luminance.ndim == 2
