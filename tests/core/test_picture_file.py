"""A file is read once, whoever asks; and every row of the registry keeps what the others rely on."""

from __future__ import annotations

import doctest
from collections import Counter
from importlib import import_module

import numpy as np
import pytest
from picture_files import exif_with, saved, scene
from PIL import Image

from moondesk import annotate_picture
from moondesk.duplicates.raster import read_raster
from moondesk.files.formats import FORMATS, jpeg, open_picture
from moondesk.files.formats.not_pictures import NotPicture
from moondesk.files.picture import decode, decode_grey, decode_rgb
from moondesk.files.picture_file import PictureFile
from moondesk.files.time_taken import read_taken
from moondesk.records import Known, NotFound, Picture
from moondesk.service.intake import picture_formats
from moondesk.service.jobs import placing
from moondesk.service.jobs.engine import load_engine
from moondesk.service.store.media import AT_FIRST

Image.init()
#: Those that Pillow can write, with what makes them lossless.
WRITTEN = [row for row in FORMATS if row.name.upper() in Image.SAVE and row.extra is None]
LOSSLESS = {"jpeg": {"quality": 100, "subsampling": 0}, "webp": {"lossless": True}, "avif": {"quality": 100}}


def written(row: type[PictureFile], width: int = 160, height: int = 96) -> bytes:
    return saved(scene(width, height), row.name.upper(), **LOSSLESS.get(row.name, {}))


# --- once ------------------------------------------------------------------------------------------------------------


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often a JPEG is recognised, its segments are walked and its pixels decoded."""
    count: Counter[str] = Counter()
    matches, walk, decoder = jpeg.JpegFile.matches, jpeg.walk, jpeg.JpegFile.decode

    def counted(what: str) -> None:
        count[what] += 1

    monkeypatch.setattr(jpeg.JpegFile, "matches", lambda data: (counted("recognised"), matches(data))[1])
    monkeypatch.setattr(jpeg, "walk", lambda data: (counted("walked"), walk(data))[1])
    monkeypatch.setattr(jpeg.JpegFile, "decode", lambda *given: (counted("decoded"), decoder(*given))[1])
    return count


def test_one_picture_is_read_once_on_its_whole_way(calls: Counter[str]) -> None:
    data = saved(scene(640, 480), "JPEG", exif=exif_with(6))
    annotate_picture(data)
    assert calls == {"recognised": 1, "walked": 1, "decoded": 1}
    calls.clear()
    work = placing.Work(known=Known(), corrections=None, wanted=AT_FIRST, kept=True)
    assert placing.work_on(load_engine(), data, work).sketch
    assert calls == {"recognised": 1, "walked": 1, "decoded": 1}


def test_a_file_that_was_read_gives_the_same_as_its_bytes() -> None:
    data = saved(scene(640, 480), "JPEG", exif=exif_with(6), quality=95)
    file = open_picture(data)
    assert open_picture(file) is file
    for longest in (120, 2048, 300, 120):  # the decoder reduces some of these, and not the others
        fresh, again = decode(data, longest), decode(file, longest)
        assert isinstance(fresh, Picture)
        assert isinstance(again, Picture)
        assert (fresh.width, fresh.height, fresh.shrink) == (again.width, again.height, again.shrink)
        assert np.array_equal(fresh.luminance, again.luminance)
    for function in (decode_rgb, decode_grey, decode_rgb):
        assert np.array_equal(function(data), function(file))
    assert read_taken(data, Known()) == read_taken(file, Known())
    raster, fresh_raster = read_raster(file), read_raster(data)
    assert not isinstance(raster, NotFound)
    assert not isinstance(fresh_raster, NotFound)
    assert np.array_equal(raster.grey, fresh_raster.grey)
    assert np.array_equal(raster.rgb(), fresh_raster.rgb())


def test_deep_pixels_are_not_kept_beside_what_was_made_of_them() -> None:
    deep = saved(Image.fromarray(np.full((40, 60), 30_000, np.uint16)), "PNG")
    file = open_picture(deep)
    first, _ = decode(file), decode_rgb(file)
    assert file._kept == {}
    again = decode(file)
    assert isinstance(first, Picture)
    assert isinstance(again, Picture)
    assert np.array_equal(first.luminance, again.luminance)


# --- the registry ----------------------------------------------------------------------------------------------------


def test_every_row_says_what_is_asked_of_it() -> None:
    for told in ("name", "media_type", "words", "accept"):
        values = [getattr(row, told) for row in FORMATS]
        assert all(values), told
        assert len(set(values)) == len(values), told
    endings = [one for row in FORMATS for one in row.accept.split(",") if one.startswith(".")]
    assert len(set(endings)) == len(endings)
    for row in FORMATS:
        assert row.extra is None or f"pip install 'moondesk[{row.extra.name}]'" in row.extra.lacking
        assert row.broken.advice.startswith("Please ")


@pytest.mark.parametrize("row", WRITTEN, ids=lambda row: row.name)
def test_every_format_is_recognised_sized_decoded_and_offered(row: type[PictureFile]) -> None:
    file = open_picture(written(row))
    assert type(file) is row
    assert [other.name for other in FORMATS if other.matches(file.data)] == [row.name]
    assert file.size == (160, 96)
    seen = decode(file)
    assert isinstance(seen, Picture)
    assert (seen.width, seen.height, seen.media_type) == (160, 96, row.media_type)
    rgb = decode_rgb(file)
    assert isinstance(rgb, np.ndarray)
    assert np.abs(rgb.astype(int) - scene(160, 96)).max() <= 8
    assert row.words in picture_formats.words()
    assert row.accept in picture_formats.accept_attribute()


@pytest.mark.parametrize("row", WRITTEN, ids=lambda row: row.name)
def test_no_format_raises_for_what_is_cut_short_or_empty_behind_its_mark(row: type[PictureFile]) -> None:
    data = written(row)
    for length in (*range(4, 64), len(data) // 2, len(data) - 1):
        for broken in (data[:length], data[:length] + bytes(200)):
            file = open_picture(broken)
            assert isinstance(file.pixels(), NotFound) or not isinstance(file, NotPicture)
            read_taken(file, Known())
            assert 1 <= file.turn <= 8


@pytest.mark.parametrize("row", WRITTEN, ids=lambda row: row.name)
def test_no_decoder_is_given_a_picture_beyond_the_limits(
    row: type[PictureFile], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("moondesk.files.picture_file.MAX_PIXELS", 15_000)
    monkeypatch.setattr("moondesk.files.formats.png.MAX_PIXELS", 15_000)
    monkeypatch.setattr("PIL.ImageFile.ImageFile.load", lambda _: pytest.fail("pixels were decoded"))
    refused = decode(written(row))
    assert isinstance(refused, NotFound)
    assert "160 x 96" in refused.reason


def test_examples_in_docstrings_hold() -> None:
    for name in ("picture", "picture_file", "formats", "filenames", "time_taken", "exif", "xmp", "fits_header"):
        assert doctest.testmod(import_module(f"moondesk.files.{name}")).failed == 0, name
