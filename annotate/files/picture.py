"""Picture bytes to arrays: turned as displayed, the tone curve undone, reduced to what is measured.

`decode` gives the reduced picture that is measured, `decode_rgb` the full one that is drawn on, `decode_grey` that one
without its colours.

Neglected, and what it costs: colour profiles (a Display-P3 file is read as sRGB: the tone curve is the same, only
redness changes a little), PNG gamma, HDR gain maps. A truncated file is refused: the grey that a decoder puts in
place of the missing part looks like sky. Only the first picture of a multi-picture JPEG, TIFF or animated WebP is
read, of a HEIC its main one. HEIC is read with 8 bits a colour.
"""

from __future__ import annotations

import math
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from moondesk.files.formats import open_picture
from moondesk.files.picture_file import MIN_SIDE_PX, PictureFile
from moondesk.records import ByteArray, Float32Array, NotFound, Picture

#: Luminance of linear sRGB (IEC 61966-2-1, the Y row of its matrix to XYZ).
LUMINANCE_WEIGHTS = (0.2126, 0.7152, 0.0722)
#: Rows computed at a time, about: keeps the float planes of a large picture small.
_BAND_ROWS = 256
#: The side of an averaged cell is a multiple of this part of a pixel, coarser where a group of cells that is of whole
#: pixels would be longer than the second: the last group is filled up, which in a long strip took gigabytes.
_PARTS, _MOST_ACROSS = 64, 512


def linear_light(encoded: NDArray[Any]) -> Float32Array:
    """Undo the sRGB tone curve (IEC 61966-2-1): stored values scaled to 0..1, any shape, to linear light 0..1.

    >>> [round(float(light), 3) for light in linear_light([0.0, 0.5, 1.0])]
    [0.0, 0.214, 1.0]
    """
    v = np.asarray(encoded, np.float64)
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)


_LINEAR_8 = linear_light(np.arange(256) / 255.0)


def decode(data: bytes | PictureFile, longest_px: int = 2048) -> Picture | NotFound:
    """Decode for measuring: linear luminance and redness, turned as displayed, longer side at most `longest_px`.

    Reduction is by area averaging of linear light; where an eighth, a quarter or half of a JPEG comes out just below
    `longest_px`, its decoder does the reduction (averaging stored values: a sharp edge moves by up to a quarter of a
    working pixel). 16-bit files keep their depth. Transparent parts are black. Floating-point TIFFs, and integer ones
    of 32 bits, are taken as linear already and divided by their maximum where that is above 1; FITS is stretched (see
    `formats.fits`); camera raw files are developed, where the extra for them is installed.

    Parameters: the file's bytes, or the file opened; the longest side, pixels.
    Returns: the picture, or why it cannot be opened and what to do.
    Raises: ValueError for a limit too small to find a Moon in.
    """
    if longest_px < MIN_SIDE_PX:
        raise ValueError(f"longest_px must be at least {MIN_SIDE_PX}, not {longest_px}")
    file = open_picture(data)
    raw = file.pixels(longest_px)
    if isinstance(raw, NotFound):
        return raw
    linear, side = _reduce(raw.pixels, longest_px)
    if linear.ndim == 2:
        luminance, redness = linear, None
    else:
        luminance = _weigh(linear, LUMINANCE_WEIGHTS)
        redness, total = _weigh(linear, (1.0, 0.0, -1.0)), _weigh(linear, (1.0, 1.0, 1.0))
        redness /= np.maximum(total, np.float32(1e-6), out=total)
        redness.setflags(write=False)
    luminance.setflags(write=False)
    return Picture(
        luminance=luminance,
        redness=redness,
        shrink=raw.draft * side,
        width=raw.width,
        height=raw.height,
        orientation_applied=raw.turn or 1,
        media_type=file.media_type,
    )


def decode_rgb(data: bytes | PictureFile) -> ByteArray | NotFound:
    """The whole picture as displayed: (H, W, 3) uint8 in stored (not linear) values, full resolution, read-only.

    Transparent parts are black; 16-bit values are scaled; floating-point TIFFs are given the sRGB tone curve.

    Parameters: the file's bytes, or the file opened. Returns: the array, or why there is none.

    >>> decode_rgb(b"GIF89a").reason
    'The file is a GIF, which keeps only 256 colours.'
    """
    file = open_picture(data)
    raw = file.pixels()
    if isinstance(raw, NotFound):
        return raw
    pixels = _eight_bits(raw.pixels)
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[..., None], 3, axis=2)
    if raw.pixels.dtype != np.uint8:
        file.forget_pixels()  # what was made of them is smaller, and all that is wanted afterwards
    rgb = np.ascontiguousarray(pixels)
    rgb.setflags(write=False)
    return rgb


def decode_grey(data: bytes | PictureFile) -> ByteArray | NotFound:
    """The brightness (ITU-T T.871: 0.299 red, 0.587 green, 0.114 blue) of what `decode_rgb` gives: (H, W) uint8. Of a
    JPEG as the file holds it, before its colours are clipped to 0..255; a third of the time, and of the memory.

    Parameters: the file's bytes, or the file opened. Returns: the array, or why there is none.
    """
    raw = open_picture(data).pixels(luma=True)
    if isinstance(raw, NotFound):
        return raw
    pixels = np.ascontiguousarray(_eight_bits(raw.pixels))
    return pixels if pixels.ndim == 2 else np.asarray(Image.fromarray(pixels).convert("L"))


def _eight_bits(pixels: NDArray[Any]) -> ByteArray:
    if pixels.dtype == np.uint16:
        return ((pixels.astype(np.uint32) * 255 + 32767) // 65535).astype(np.uint8)
    if pixels.dtype == np.float32:
        # smallest stored value whose linear light is not below the pixel's: the curve inverted by its own table
        return np.searchsorted((_LINEAR_8[:-1] + _LINEAR_8[1:]) / 2, pixels).astype(np.uint8)
    return pixels


def _linear(pixels: NDArray[Any]) -> Float32Array:
    if pixels.dtype == np.uint8:
        return np.asarray(cv2.LUT(np.ascontiguousarray(pixels), _LINEAR_8), np.float32)
    if pixels.dtype == np.uint16:
        return linear_light(pixels / np.float32(65535))
    return np.ascontiguousarray(pixels, np.float32)


def _weigh(rgb: Float32Array, weights: tuple[float, float, float]) -> Float32Array:
    return np.asarray(cv2.transform(rgb, np.array([weights], np.float32)), np.float32)


def _reduce(pixels: NDArray[Any], longest_px: int) -> tuple[Float32Array, float]:
    """Linear light averaged over squares, longer side at most `longest_px`; and the side of a square in pixels.

    The side is a multiple of 1/64 pixel (of a coarser part where it is long), the same on both axes, never rounded to
    the picture's size: a scale that differed by a pixel's worth between the axes would make a circle an ellipse. Cells
    are counted from the top-left corner; a last one that is less than half covered is dropped. Done in bands of rows,
    so that a large picture never exists as floats.
    """
    height, width = pixels.shape[:2]
    if max(height, width) <= longest_px:
        return _linear(pixels), 1.0
    parts = _PARTS
    while parts > 1 and parts * max(height, width) > _MOST_ACROSS * longest_px:
        parts //= 2
    across = math.ceil(parts * max(height, width) / longest_px)
    side = across / parts
    across, into = across // math.gcd(across, parts), parts // math.gcd(across, parts)
    rows = across * math.ceil(_BAND_ROWS / across)
    bands = [_average(_linear(pixels[y : y + rows]), across, into) for y in range(0, height, rows)]
    whole = np.concatenate(bands)[: max(1, round(height / side)), : max(1, round(width / side))]
    return np.ascontiguousarray(whole), side


def _average(values: Float32Array, across: int, into: int) -> Float32Array:
    """Averages of cells of across / into pixels; the last column and row are repeated to fill whole groups of cells."""
    height, width = values.shape[:2]
    down, right = -height % across, -width % across
    filled = cv2.copyMakeBorder(values, 0, down, 0, right, cv2.BORDER_REPLICATE)
    # OpenCV takes the scale of each axis from the sizes, which here stand in exactly the wanted ratio
    size = (width + right) // across * into, (height + down) // across * into
    return np.asarray(cv2.resize(filled, size, interpolation=cv2.INTER_AREA), np.float32)
