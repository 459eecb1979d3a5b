"""Small picture files for the tests of decoding, of dates and of bad inputs, each written by an independent library."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import tifffile
from PIL import Image


def scene(width: int = 48, height: int = 32) -> np.ndarray:
    """No two corners alike, smooth enough for JPEG: (H, W, 3) uint8."""
    y, x = np.mgrid[0:height, 0:width]
    return np.stack([255 * x // (width - 1), 255 * y // (height - 1), 40 + 0 * x], axis=-1).astype(np.uint8)


def disc(width: int = 64, height: int = 48, x: float = 20.0, y: float = 12.0, radius: float = 9.0) -> np.ndarray:
    """A bright disc nearer to the top-left corner, 0..1: (H, W) float."""
    rows, columns = np.mgrid[0:height, 0:width]
    return np.clip(radius + 0.5 - np.hypot(columns - x, rows - y), 0.0, 1.0)


def saved(pixels: np.ndarray | Image.Image, kind: str, **options: object) -> bytes:
    """By Pillow."""
    image = pixels if isinstance(pixels, Image.Image) else Image.fromarray(pixels)
    out = io.BytesIO()
    image.save(out, kind, **options)  # type: ignore[arg-type]
    return out.getvalue()


def exif_with(orientation: int) -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = orientation
    return exif


def png_header(width: int, height: int, depth: int = 8, colour: int = 2) -> bytes:
    """The first 33 bytes of a PNG."""
    head = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + b"IHDR" + head + struct.pack(">I", zlib.crc32(b"IHDR" + head))


def fits(values: np.ndarray, extension: str = "", **cards: object) -> bytes:
    """By astropy. extension: "" the primary part, "image" or "packed" a part after an empty one."""
    from astropy.io import fits as library

    kinds = {"": library.PrimaryHDU, "image": library.ImageHDU, "packed": library.CompImageHDU}
    part = kinds[extension](values)
    for name, value in cards.items():
        part.header[name.replace("_", "-")] = value
    out = io.BytesIO()
    library.HDUList([part] if not extension else [library.PrimaryHDU(), part]).writeto(out)
    return out.getvalue()


def dng(values: np.ndarray, orientation: int = 1, developed: bool = False) -> bytes:
    """A raw file of an invented camera (DNG 1.4, by tifffile). values: (H, W) 0..1 before the filters, sides even.

    developed: three colours at each pixel instead of a filter's one ("linear raw").
    """
    sensor = 200 + 15000 * values
    if developed:
        sensor = np.repeat(sensor[..., None], 3, axis=2)
    else:
        sensor[0::2, 0::2] *= 0.5  # red and blue cells see less
        sensor[1::2, 1::2] *= 0.6
    unit = tuple(v for m in (1, 0, 0, 0, 1, 0, 0, 0, 1) for v in (m, 1))
    tags = [
        (50706, 1, 4, (1, 4, 0, 0), True), (50707, 1, 4, (1, 1, 0, 0), True), (50708, 2, 0, "Invented C-1", True),
        (50714, 5, 1, (0, 1), True), (50717, 4, 1, 16383, True), (50721, 10, 9, unit, True), (50778, 3, 1, 21, True),
        (50728, 5, 3, (1, 2, 1, 1, 6, 10), True), (274, 3, 1, orientation, True), (271, 2, 0, "Invented", True),
        (272, 2, 0, "C-1", True),
    ]  # fmt: skip
    if not developed:
        tags += [(33421, 3, 2, (2, 2), True), (33422, 1, 4, (0, 1, 1, 2), True)]
    out = io.BytesIO()
    tifffile.imwrite(
        out,
        sensor.astype(np.uint16),
        photometric=34892 if developed else 32803,
        planarconfig=1,
        extratags=tags,
        metadata=None,
        software="",
    )
    return out.getvalue()
