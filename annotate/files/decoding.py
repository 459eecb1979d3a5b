"""The decoders that several formats share: Pillow's, and OpenCV's for what Pillow would take the depth of.

What no decoder must be given was refused by the headers before (`PictureFile.refusal`).
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from moondesk.files.picture_file import BROKEN, Pixels, check_size
from moondesk.records import Float32Array, NotFound


def by_pillow(image: Any, draft: int = 1, white_is_zero: bool = False) -> Pixels | NotFound:
    """The pixels of an image of Pillow's.

    Formats call Pillow's plug-ins directly, not through Image.open: that only warns about a large picture, and turning
    the warning into an error would change the state of the whole process.

    Parameters: the image opened, its pixels not yet decoded; by what a JPEG's decoder is to reduce it; white_is_zero:
    of 16 bits, which Pillow does not invert as it does 8 (seen).
    Raises: nearly anything for a damaged file.
    """
    width, height = image.size
    if (refusal := check_size(width, height)) is not None:
        return refusal
    if draft > 1:
        image.draft(None, (width // draft, height // draft))
        draft = round(width / image.size[0])
    image.load()
    if draft == 1:
        width, height = image.size  # a HEIC's size is certain only now
    mode = image.mode
    if mode in ("I", "F"):
        pixels: NDArray[Any] = scale_linear(np.asarray(image))
    elif mode.startswith("I;16"):
        pixels = np.asarray(image).astype(np.uint16)
        if white_is_zero:
            pixels = np.uint16(65535) - pixels
    elif mode == "1":
        pixels = np.asarray(image.convert("L"))
    elif mode in ("LA", "La", "PA", "RGBA", "RGBa") or (mode != "L" and "transparency" in image.info):
        # composited in stored values, as browsers do
        rgba = image.convert("RGBA")
        ground = Image.new("RGBA", rgba.size, (0, 0, 0, 255))
        ground.alpha_composite(rgba)
        pixels = np.asarray(ground)[..., :3]
    else:
        pixels = np.asarray(image if mode in ("L", "RGB") else image.convert("RGB"))
    return Pixels(pixels=pixels, draft=draft, width=width, height=height)


def by_opencv(data: bytes) -> Pixels | NotFound:
    """16-bit colour and floating point; OpenCV gives blue, green, red (and turns a TIFF, nothing else)."""
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if pixels is None or pixels.dtype not in (np.uint16, np.float32, np.float64):
        return BROKEN
    height, width = pixels.shape[:2]
    if (refusal := check_size(width, height)) is not None:
        return refusal
    if pixels.dtype == np.uint16:
        values: NDArray[Any] = pixels
        opaque = np.float32(65535)
    else:
        values, opaque = scale_linear(pixels), np.float32(1)
    if values.ndim == 3 and values.shape[2] in (2, 4):
        colour = values[..., :-1] * (values[..., -1:] / opaque)
        values = np.rint(colour).astype(np.uint16) if pixels.dtype == np.uint16 else colour.astype(np.float32)
    if values.ndim == 3 and values.shape[2] == 1:
        values = values[..., 0]
    return Pixels(pixels=values[..., ::-1] if values.ndim == 3 else values, width=width, height=height)


def scale_linear(pixels: NDArray[Any]) -> Float32Array:
    """Values that are linear already: what is not a number becomes 0, the range 0..1 (by the maximum if above 1)."""
    values = np.nan_to_num(pixels.astype(np.float64), nan=0.0, posinf=0.0, neginf=0.0)
    return np.clip(values / max(1.0, float(values.max())), 0.0, 1.0).astype(np.float32)
