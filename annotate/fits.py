"""FITS pictures, as astronomical cameras write them: header cards, what may be read of them, and their pixels.

Source: FITS Standard 4.0 (IAU FITS Working Group, 2018), by section. The headers are read here, so that size and layout
are known before any memory is asked for and a date costs no library; only tile-compressed images need astropy.
Values are linear light and are stretched to 0..1: black is their 0.1 percentile, white what 20 pixels of the
median-filtered picture exceed (no percentile, for a small disc covers less than a thousandth of a frame).
"""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from annotate.filetypes import refuse
from annotate.records import Float32Array, NotFound

_BLOCK, _CARD = 2880, 80
#: Headers longer than this, and files of more parts, are not from a camera.
_MOST_CARDS, _MOST_PARTS = 10_000, 50
_DTYPES = {8: "u1", 16: ">i2", 32: ">i4", 64: ">i8", -32: ">f4", -64: ">f8"}
_BLACK_PERCENTILE, _BLACK_AT_MOST = 0.1, 0.2
_BRIGHTER_PIXELS = 20
#: The four means of a mosaic of colour filters differ by more than this, those of a grey picture by less.
_MOSAIC_SPREAD = 0.05
_BROKEN = refuse("The FITS file is damaged or incomplete.", "Please send it again, or stretched as PNG or 16-bit TIFF.")

Value = str | float | bool


@dataclass(frozen=True)
class Part:
    """One header of a file and where its data lie. values: the first card of each keyword; comments: its comment."""

    values: dict[str, Value]
    comments: dict[str, str]
    start: int
    index: int

    def number(self, name: str, otherwise: float) -> float:
        value = self.values.get(name, otherwise)
        return otherwise if isinstance(value, str) else float(value)

    def whole(self, name: str, otherwise: int) -> int:
        value = self.number(name, otherwise)
        return int(value) if abs(value) < 2**62 else -1

    @property
    def packed(self) -> bool:
        """Whether it is a table that holds a tile-compressed image (section 10)."""
        return self.values.get("ZIMAGE") is True

    @property
    def axes(self) -> tuple[int, ...]:
        """Lengths of the image's axes, the fastest first; empty where it has none."""
        z = "Z" if self.packed else ""
        return tuple(self.whole(f"{z}NAXIS{k}", -1) for k in range(1, min(self.whole(f"{z}NAXIS", 0), 9) + 1))

    @property
    def is_image(self) -> bool:
        kind = self.values.get("XTENSION", "IMAGE")
        return len(self.axes) >= 2 and (self.packed or kind == "IMAGE")

    @property
    def data_bytes(self) -> int:
        """Size of the data, 4.4.1 and 7; 0 where the header makes no sense."""
        lengths = [self.whole(f"NAXIS{k}", -1) for k in range(1, min(self.whole("NAXIS", 0), 9) + 1)]
        if not lengths or min(lengths) < 0:
            return 0
        size = self.whole("PCOUNT", 0)
        product = 1
        for length in lengths:
            product *= length
        return max(0, abs(self.whole("BITPIX", 8)) // 8 * self.whole("GCOUNT", 1) * (size + product))


def parts(data: bytes) -> tuple[Part, ...]:
    """All headers of a file, as far as they can be read."""
    found: list[Part] = []
    at = 0
    while len(found) < _MOST_PARTS and at < len(data):
        part = _header(data, at, len(found))
        if part is None or not ({"SIMPLE", "XTENSION"} & part.values.keys()):
            break
        found.append(part)
        at = part.start + -(-part.data_bytes // _BLOCK) * _BLOCK
    return tuple(found)


def image_of(data: bytes) -> Part | None:
    """The first image of a file."""
    return next((part for part in parts(data) if part.is_image), None)


def check_layout(data: bytes) -> tuple[int, int] | NotFound:
    """Width and height of the image, or why it is not one that can be shown; its size is not judged here."""
    part = image_of(data)
    if part is None:
        return refuse("The FITS file holds no picture.", "Please send the picture itself as FITS, PNG or TIFF.")
    width, height, *others = part.axes
    if min(part.axes) < 1:
        return _BROKEN
    if [n for n in others if n != 1] not in ([], [3]):
        return refuse(f"The FITS file is a cube of {' x '.join(map(str, part.axes))} values, not one picture.",
                      "Please send one picture, in grey or with three colour planes.")
    if not part.packed:
        if part.whole("BITPIX", 0) not in _DTYPES or part.start + part.data_bytes > len(data):
            return _BROKEN
    elif width * height > 8 * 1032 * len(data):  # more than any of the compressions makes of a byte
        return _BROKEN
    return width, height


def load(data: bytes) -> Float32Array:
    """Linear light 0..1 as displayed, (H, W) or (H, W, 3). The layout must have been checked; raises for damaged data.

    Row 0 is the bottom one, as is the custom from the first paper on (Wells, Greisen & Harten 1981), unless ROWORDER
    says otherwise (common practice of capture programs). A mosaic of colour filters is smoothed to grey, every cell
    weighing the same wherever the pattern begins.
    """
    part = image_of(data)
    assert part is not None
    values = _unpacked(data, part) if part.packed else _plain(data, part)
    values = values.reshape([n for n in values.shape if n != 1] if min(values.shape[-2:]) > 1 else values.shape[-2:])
    if str(part.values.get("ROWORDER", "")).strip().upper() != "TOP-DOWN":
        values = values[..., ::-1, :]
    good = np.isfinite(values)
    values = np.asarray(np.where(good, values, 0.0), np.float32)
    if values.ndim == 3:
        values = np.ascontiguousarray(np.moveaxis(values, 0, 2))
    elif "BAYERPAT" in part.values or "COLORTYP" in part.values or _is_mosaic(values):
        row = np.array([0.25, 0.5, 0.25], np.float32)
        values = np.asarray(cv2.sepFilter2D(values, cv2.CV_32F, row, row), np.float32)
    return stretched(values)


def stretched(values: Float32Array) -> Float32Array:
    """Linear values of any scale to 0..1 (see the module's docstring)."""
    brightest = np.ascontiguousarray(values.max(axis=2) if values.ndim == 3 else values, np.float32)
    calm = cv2.medianBlur(brightest, 3).ravel()
    many = min(_BRIGHTER_PIXELS, len(calm) // 50)
    white = float(np.partition(calm, len(calm) - 1 - many)[len(calm) - 1 - many])
    black = float(np.percentile(calm[:: max(1, len(calm) // 1_000_000)], _BLACK_PERCENTILE))
    black = min(black, _BLACK_AT_MOST * white) if white > 0 else black
    if not white - black > 1e-30:
        return np.zeros(values.shape, np.float32)
    return np.asarray(np.clip((values - black) / (white - black), 0.0, 1.0), np.float32)


def _plain(data: bytes, part: Part) -> NDArray[Any]:
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


def _unpacked(data: bytes, part: Part) -> NDArray[Any]:
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


_TEXT = re.compile(r"'((?:[^']|'')*)'\s*(?:/(.*))?")


def _header(data: bytes, at: int, index: int) -> Part | None:
    """The header that begins at an offset; None where it has no end."""
    values: dict[str, Value] = {}
    comments: dict[str, str] = {}
    for count in range(_MOST_CARDS):
        card = data[at + _CARD * count : at + _CARD * (count + 1)].decode("latin-1")
        if len(card) < _CARD:
            return None
        name = card[:8].rstrip()
        if name == "END":
            return Part(values, comments, at + -(-_CARD * (count + 1) // _BLOCK) * _BLOCK, index)
        if card[8:10] != "= " or name in values:
            continue
        body = card[10:].strip()
        text = _TEXT.match(body)
        if text:
            values[name], comment = text[1].replace("''", "'").rstrip(), text[2]
        else:
            plain, _, comment = body.partition("/")
            value = _plain_value(plain.strip())
            if value is None:
                continue
            values[name] = value
        comments[name] = (comment or "").strip()
    return None


def _plain_value(text: str) -> Value | None:
    """A logical or a number (4.2.2 to 4.2.4); None for anything else."""
    if text in ("T", "F"):
        return text == "T"
    try:
        value = float(text.upper().replace("D", "E"))
    except ValueError:
        return None
    return value if abs(value) < 1e300 else None
