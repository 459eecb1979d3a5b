"""FITS, as astronomical cameras write it: which pictures can be shown, and their pixels.

Source: FITS Standard 4.0 (IAU FITS Working Group, 2018), by section. Plain images are read here, once a header's claims
were held against the length of the file; tile-compressed ones by astropy.
Values are linear light and are stretched to 0..1: black is their 0.1 percentile, white what 20 pixels of the
median-filtered picture exceed (no percentile, for a small disc covers less than a thousandth of a frame).
"""

from __future__ import annotations

import io
import warnings
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from moondesk.files.fits_header import FitsFields, HeaderUnit, parts, read_fits
from moondesk.files.picture_file import Headers, PictureFile, Pixels, refuse
from moondesk.records import Float32Array, NotFound

_DTYPES = {8: "u1", 16: ">i2", 32: ">i4", 64: ">i8", -32: ">f4", -64: ">f8"}
_BLACK_PERCENTILE, _BLACK_AT_MOST = 0.1, 0.2
_BRIGHTER_PIXELS = 20
#: The four means of a mosaic of colour filters differ by more than this, those of a grey picture by less.
_MOSAIC_SPREAD = 0.05
_NO_PICTURE = refuse("fits_empty", "send_fits_png_tiff")
_BROKEN = refuse("fits_damaged", "send_stretched")


class FitsFile(PictureFile):
    name = "fits"
    media_type = "image/fits"
    words = "FITS"
    accept = ".fits,.fit,.fts"

    @classmethod
    def matches(cls, data: bytes) -> bool:
        return data[:9] == b"SIMPLE  ="  # 4.4.1.1

    @cached_property
    def parts(self) -> tuple[HeaderUnit, ...]:
        return parts(self.data)

    @property
    def image(self) -> HeaderUnit | None:
        """The first image of the file."""
        return next((part for part in self.parts if part.is_image), None)

    @property
    def header_fields(self) -> FitsFields:
        return read_fits(self.parts)

    def walk(self) -> Headers:
        part = self.image
        if part is None:
            return Headers(refusal=_NO_PICTURE)
        width, height, *others = part.axes
        why: NotFound | None = None
        if min(part.axes) < 1:
            why = _BROKEN
        elif [n for n in others if n != 1] not in ([], [3]):
            why = refuse("fits_cube", "send_one_plane", axes=" x ".join(map(str, part.axes)))
        elif part.packed:
            # more than any of the compressions makes of a byte
            why = _BROKEN if width * height > 8 * 1032 * len(self.data) else None
        elif part.whole("BITPIX", 0) not in _DTYPES or part.start + part.data_bytes > len(self.data):
            why = _BROKEN
        return Headers(size=(width, height), refusal=why)

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        """Linear light 0..1.

        Row 0 is the bottom one (Greisen & Calabretta 2002, A&A 395, 1061, section 5.1), unless ROWORDER says otherwise
        (common practice of capture programs). A file written the other way round without saying so shows a mirrored
        Moon; the hand that is found in the picture allows for it. A mosaic of colour filters is smoothed to grey, every
        cell weighing the same wherever the pattern begins.
        """
        import cv2

        part = self.image
        assert part is not None
        values = _unpack(self.data, part) if part.packed else _plain(self.data, part)
        values = values.reshape(
            [n for n in values.shape if n != 1] if min(values.shape[-2:]) > 1 else values.shape[-2:]
        )
        if str(part.values.get("ROWORDER", "")).strip().upper() != "TOP-DOWN":
            values = values[..., ::-1, :]
        good = np.isfinite(values)
        values = np.asarray(np.where(good, values, 0.0), np.float32)
        if values.ndim == 3:
            values = np.ascontiguousarray(np.moveaxis(values, 0, 2))
        elif "BAYERPAT" in part.values or "COLORTYP" in part.values or _is_mosaic(values):
            row = np.array([0.25, 0.5, 0.25], np.float32)
            values = np.asarray(cv2.sepFilter2D(values, cv2.CV_32F, row, row), np.float32)
        return Pixels(pixels=stretch(values), width=values.shape[1], height=values.shape[0])


def stretch(values: Float32Array) -> Float32Array:
    """Linear values of any scale to 0..1 (see the module's docstring)."""
    import cv2

    brightest = np.ascontiguousarray(values.max(axis=2) if values.ndim == 3 else values, np.float32)
    calm = cv2.medianBlur(brightest, 3).ravel()
    many = min(_BRIGHTER_PIXELS, len(calm) // 50)
    white = float(np.partition(calm, len(calm) - 1 - many)[len(calm) - 1 - many])
    black = float(np.percentile(calm[:: max(1, len(calm) // 1_000_000)], _BLACK_PERCENTILE))
    black = min(black, _BLACK_AT_MOST * white) if white > 0 else black
    if not white - black > 1e-30:
        return np.zeros(values.shape, np.float32)
    return np.asarray(np.clip((values - black) / (white - black), 0.0, 1.0), np.float32)


def _plain(data: bytes, part: HeaderUnit) -> NDArray[Any]:
    """Values with BSCALE, BZERO and BLANK applied (4.4.2.5), as float32: (..., H, W)."""
    kind = np.dtype(_DTYPES[part.whole("BITPIX", 0)])
    count = int(np.prod(part.axes, dtype=np.int64))
    stored = np.frombuffer(data, kind, count, part.start).reshape(part.axes[::-1])
    values = stored.astype(np.float32)
    scale, zero = part.number("BSCALE", 1.0), part.number("BZERO", 0.0)
    if (scale, zero) != (1.0, 0.0):
        values = values * np.float32(scale) + np.float32(zero)
    if kind.kind in "iu" and "BLANK" in part.values:
        values[stored == part.whole("BLANK", 0)] = np.nan
    return values


def _unpack(data: bytes, part: HeaderUnit) -> NDArray[Any]:
    """A tile-compressed image by astropy, imported only here: it takes a fifth of a second."""
    from astropy.io import fits

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with fits.open(io.BytesIO(data), memmap=False) as file:
            values = np.asarray(file[part.index].data)
    if values.shape != part.axes[::-1]:
        raise ValueError("the unpacked image has another shape than its header says")
    return values.astype(np.float32)


def _is_mosaic(values: Float32Array) -> bool:
    """Whether neighbours differ as under a mosaic of colour filters, told by the means of its four cells."""
    bright = values[: values.shape[0] // 2 * 2, : values.shape[1] // 2 * 2]
    means = [float(bright[y::2, x::2].mean()) for y in (0, 1) for x in (0, 1)]
    low = float(np.percentile(bright[::3, ::3], _BLACK_PERCENTILE))
    span = sum(means) / 4 - low
    return span > 0 and max(means) - min(means) > _MOSAIC_SPREAD * span
