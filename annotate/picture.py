"""Picture bytes to arrays: the type told from the bytes, the EXIF turn applied, the tone curve undone.

`decode` gives the reduced picture that is measured, `decode_rgb` the full one that is drawn on.

Neglected, and what it costs: colour profiles (a Display-P3 file is read as sRGB: the tone curve is the same, only
redness changes a little), PNG gamma, HDR gain maps. A truncated file is refused: the grey that a decoder puts in
place of the missing part looks like sky. Only the first picture of a multi-picture JPEG, TIFF or animated WebP is read.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFile, JpegImagePlugin, PngImagePlugin, TiffImagePlugin, WebPImagePlugin

from annotate import filetypes
from annotate.filetypes import MEDIA_TYPES, FileKind, refuse
from annotate.records import ByteArray, Float32Array, NotFound, Picture

#: More than any full frame that is sent by mail; decoded to RGB it takes 360 MB.
MAX_PIXELS = 120_000_000
#: A shorter side cannot hold a Moon whose limb could be measured.
MIN_SIDE_PX = 16
#: Progressive JPEGs have about ten scans; a hostile one has thousands, at half a millisecond or more each.
MAX_SCANS = 100
#: No deflate stream grows by more than this when unpacked (zlib's technical notes: 258 bytes from 2 bits).
MAX_DEFLATE_RATIO = 1032

#: Luminance of linear sRGB (IEC 61966-2-1, the Y row of its matrix to XYZ).
LUMINANCE_WEIGHTS = (0.2126, 0.7152, 0.0722)

#: Called directly, not through Image.open: that only warns about a large picture, and turning the warning into an
#: error would change the state of the whole process. The size is checked here, before any pixel is decoded.
_PLUGINS: dict[FileKind, type[ImageFile.ImageFile]] = {
    "jpeg": JpegImagePlugin.JpegImageFile,
    "png": PngImagePlugin.PngImageFile,
    "webp": WebPImagePlugin.WebPImageFile,
    "tiff": TiffImagePlugin.TiffImageFile,
}
#: EXIF orientation to the turn that undoes it, as array operations (transpose first, then flips of y and x).
_TURNS: dict[int, tuple[bool, bool, bool]] = {
    1: (False, False, False),
    2: (False, False, True),
    3: (False, True, True),
    4: (False, True, False),
    5: (True, False, False),
    6: (True, False, True),
    7: (True, True, True),
    8: (True, True, False),
}
#: Samples per pixel by colour type (PNG specification, 11.2.1).
_PNG_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
_BROKEN = "The file is damaged or incomplete."
_AGAIN = "Please send it again; if it fails again, open it, save it anew as JPEG and send that."
#: Rows computed at a time, about: keeps the float planes of a large picture small.
_BAND_ROWS = 256
#: The side of an averaged cell is a multiple of this part of a pixel.
_PARTS = 64


def linear_light(encoded: NDArray[Any]) -> Float32Array:
    """Undo the sRGB tone curve (IEC 61966-2-1): stored values scaled to 0..1, any shape, to linear light 0..1."""
    v = np.asarray(encoded, np.float64)
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)


_LINEAR_8 = linear_light(np.arange(256) / 255.0)


def decode(data: bytes, longest_px: int = 2048) -> Picture | NotFound:
    """Decode for measuring: linear luminance and redness, turned as displayed, longer side at most `longest_px`.

    Reduction is by area averaging of linear light; where an eighth, a quarter or half of a JPEG comes out just below
    `longest_px`, its decoder does the reduction (averaging stored values: a sharp edge moves by up to a quarter of a
    working pixel). 16-bit files keep their depth. Transparent parts are black. Floating-point TIFFs, and integer ones
    of 32 bits, are taken as linear already and divided by their maximum where that is above 1.
    """
    if longest_px < MIN_SIDE_PX:
        raise ValueError(f"longest_px must be at least {MIN_SIDE_PX}, not {longest_px}")
    raw = _load(data, longest_px)
    if isinstance(raw, NotFound):
        return raw
    linear, side = _reduced(raw.pixels, longest_px)
    if linear.ndim == 2:
        luminance, redness = linear, None
    else:
        luminance = _weighted(linear, LUMINANCE_WEIGHTS)
        redness, total = _weighted(linear, (1.0, 0.0, -1.0)), _weighted(linear, (1.0, 1.0, 1.0))
        redness /= np.maximum(total, np.float32(1e-6), out=total)
        redness.setflags(write=False)
    luminance.setflags(write=False)
    return Picture(luminance, redness, raw.draft * side, raw.width, raw.height, raw.turn, MEDIA_TYPES[raw.kind])


def decode_rgb(data: bytes) -> ByteArray | NotFound:
    """The whole picture as displayed: (H, W, 3) uint8 in stored (not linear) values, full resolution, read-only.

    Transparent parts are black; 16-bit values are scaled; floating-point TIFFs are given the sRGB tone curve.
    """
    raw = _load(data, None)
    if isinstance(raw, NotFound):
        return raw
    pixels = raw.pixels
    if pixels.dtype == np.uint16:
        pixels = ((pixels.astype(np.uint32) * 255 + 32767) // 65535).astype(np.uint8)
    elif pixels.dtype == np.float32:
        # smallest stored value whose linear light is not below the pixel's: the curve inverted by its own table
        pixels = np.searchsorted((_LINEAR_8[:-1] + _LINEAR_8[1:]) / 2, pixels).astype(np.uint8)
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[..., None], 3, axis=2)
    rgb = np.ascontiguousarray(pixels)
    rgb.setflags(write=False)
    return rgb


@dataclass(frozen=True, eq=False)
class _Raw:
    """Decoded pixels as displayed: (H, W) grey or (H, W, 3) RGB; uint8 and uint16 as stored, float32 linear 0..1."""

    pixels: NDArray[Any]
    #: Reduction already done by the JPEG decoder.
    draft: int
    #: Displayed size at full resolution.
    width: int
    height: int
    kind: FileKind
    turn: int


def _load(data: bytes, longest_px: int | None) -> _Raw | NotFound:
    kind = filetypes.sniff(data)
    if isinstance(kind, NotFound):
        return kind
    turn = filetypes.orientation(data, kind)
    if (refusal := _check_layout(data, kind)) is not None:
        return refusal
    try:
        # A hostile or damaged file makes the decoders raise nearly anything (OSError, SyntaxError, ValueError,
        # struct.error, EOFError, MemoryError, cv2.error ... were all seen under mutation), and each means the same.
        loaded = _load_deep(data, kind) if _is_deep(data, kind) else _load_plain(data, kind, turn, longest_px)
    except Exception:
        return refuse(_BROKEN, _AGAIN)
    if isinstance(loaded, NotFound):
        return loaded
    pixels, draft, (width, height) = loaded
    if kind != "tiff":  # both libraries turn a TIFF themselves, and nothing else
        transpose, flip_y, flip_x = _TURNS[turn]
        if transpose:
            pixels, width, height = pixels.swapaxes(0, 1), height, width
        pixels = pixels[:: -1 if flip_y else 1, :: -1 if flip_x else 1]
    return _Raw(pixels, draft, width, height, kind, turn)


def _check_size(width: int, height: int) -> NotFound | None:
    if width * height > MAX_PIXELS:
        return refuse(
            f"The picture has {width} x {height} pixels, more than the {MAX_PIXELS // 1_000_000} million handled here.",
            "Please send it reduced to half its size.",
        )
    if min(width, height) < MIN_SIDE_PX:
        return refuse(
            f"The picture has only {width} x {height} pixels: no Moon can be made out in it.",
            "Please send the picture itself, not its thumbnail.",
        )
    return None


def _check_layout(data: bytes, kind: FileKind) -> NotFound | None:
    """Refuse by the headers alone what a decoder must not be given."""
    if kind == "jpeg":
        layout = filetypes.jpeg_layout(data)
        if layout.multi_scan and filetypes.jpeg_scans(data, layout.first_scan, MAX_SCANS + 1) > MAX_SCANS:
            return refuse(f"The JPEG is made of more than {MAX_SCANS} passes, as no camera does.", _AGAIN)
        return None
    if kind == "tiff":
        tags = filetypes.tiff_tags(data)
        size = tags.get(256, (0,))[0], tags.get(257, (0,))[0]
    elif kind == "png":
        size = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
        bits = int.from_bytes(data[24:25], "big") * _PNG_CHANNELS.get(int.from_bytes(data[25:26], "big"), 1)
        if size[0] * size[1] <= MAX_PIXELS and size[0] * size[1] * bits > 8 * MAX_DEFLATE_RATIO * len(data):
            return refuse(_BROKEN, _AGAIN)  # the pixels cannot be there; OpenCV would make room for them all first
    else:
        size = filetypes.webp_size(data)
    return refuse(_BROKEN, _AGAIN) if min(size) < 1 else _check_size(*size)


def _is_deep(data: bytes, kind: FileKind) -> bool:
    """Whether Pillow would lose depth (16-bit colour silently becomes 8 bit) or refuse (colour or 64-bit float)."""
    if kind == "png":
        return data[24:25] == b"\x10" and data[25:26] != b"\x00"  # IHDR: bit depth 16, colour type not grey
    if kind == "tiff":
        tags = filetypes.tiff_tags(data)
        bits, form = max(tags.get(258, (1,))), tags.get(339, (1,))[0]
        return bits == 64 or (tags.get(277, (1,))[0] > 1 and (bits > 8 or form == 3))
    return False


_Loaded = tuple[NDArray[Any], int, tuple[int, int]]


def _load_deep(data: bytes, kind: FileKind) -> _Loaded | NotFound:
    """16-bit colour and floating point by OpenCV, which gives blue, green, red (and turns a TIFF, nothing else)."""
    if kind == "png" and not filetypes.png_is_whole(data):
        return refuse(_BROKEN, _AGAIN)  # OpenCV 5.0 makes room for whatever length a chunk claims, up to 4 GB (seen)
    if kind == "tiff" and filetypes.tiff_tags(data).get(284, (1,))[0] != 1:
        # OpenCV 5.0 returns scrambled values for separate colour planes (seen)
        return refuse("The TIFF keeps its colours in separate planes.", "Please save it with interleaved colours.")
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if pixels is None or pixels.dtype not in (np.uint16, np.float32, np.float64):
        return refuse(_BROKEN, _AGAIN)
    height, width = pixels.shape[:2]
    if (refusal := _check_size(width, height)) is not None:
        return refusal
    if pixels.dtype == np.uint16:
        values: NDArray[Any] = pixels
        opaque = np.float32(65535)
    else:
        values, opaque = _scaled_linear(pixels), np.float32(1)
    if values.ndim == 3 and values.shape[2] == 4:
        colour = values[..., :3] * (values[..., 3:] / opaque)
        values = np.rint(colour).astype(np.uint16) if pixels.dtype == np.uint16 else colour.astype(np.float32)
    return (values[..., ::-1] if values.ndim == 3 else values), 1, (width, height)


def _load_plain(data: bytes, kind: FileKind, turn: int, longest_px: int | None) -> _Loaded | NotFound:
    """Everything else by Pillow."""
    image = _PLUGINS[kind](io.BytesIO(data))
    width, height = image.size
    if (refusal := _check_size(width, height)) is not None:
        return refusal
    draft = 1
    if isinstance(image, JpegImagePlugin.JpegImageFile) and longest_px is not None:
        draft = _draft_factor(width, height, turn, longest_px)
        if draft > 1:
            image.draft(None, (width // draft, height // draft))
            draft = round(width / image.size[0])
    image.load()
    mode = image.mode
    if mode in ("L", "I", "F") or mode.startswith("I;16"):
        pixels = np.asarray(image)
        if mode in ("I", "F"):
            pixels = _scaled_linear(pixels)
        elif mode != "L":
            pixels = pixels.astype(np.uint16)
            if kind == "tiff" and filetypes.tiff_tags(data).get(262, (1,))[0] == 0:
                pixels = np.uint16(65535) - pixels  # white is zero; Pillow inverts 8 bits, not 16 (seen)
    elif mode == "1":
        pixels = np.asarray(image.convert("L"))
    elif mode in ("LA", "La", "PA", "RGBA", "RGBa") or "transparency" in image.info:
        # composited in stored values, as browsers do
        rgba = image.convert("RGBA")
        ground = Image.new("RGBA", rgba.size, (0, 0, 0, 255))
        ground.alpha_composite(rgba)
        pixels = np.asarray(ground)[..., :3]
    else:
        pixels = np.asarray(image if mode == "RGB" else image.convert("RGB"))
    return pixels, draft, (width, height)


def _draft_factor(width: int, height: int, turn: int, longest_px: int) -> int:
    """How much the JPEG decoder may reduce: 8, 4, 2 or 1.

    Only what leaves the longer side at 90 % of `longest_px` or more, so that no resolution is given away. A reduced
    last column holds fewer full pixels than the others; turned round it would become the first and shift all others.
    """
    for factor in (8, 4, 2):
        whole = width % factor == 0 and height % factor == 0
        if max(width, height) >= 0.9 * longest_px * factor and (turn == 1 or whole):
            return factor
    return 1


def _scaled_linear(pixels: NDArray[Any]) -> Float32Array:
    """Values that are linear already: what is not a number becomes 0, the range 0..1 (by the maximum if above 1)."""
    values = np.nan_to_num(pixels.astype(np.float64), nan=0.0, posinf=0.0, neginf=0.0)
    return np.clip(values / max(1.0, float(values.max())), 0.0, 1.0).astype(np.float32)


def _linear(pixels: NDArray[Any]) -> Float32Array:
    if pixels.dtype == np.uint8:
        return np.asarray(cv2.LUT(np.ascontiguousarray(pixels), _LINEAR_8), np.float32)
    if pixels.dtype == np.uint16:
        return linear_light(pixels / np.float32(65535))
    return np.ascontiguousarray(pixels, np.float32)


def _weighted(rgb: Float32Array, weights: tuple[float, float, float]) -> Float32Array:
    return np.asarray(cv2.transform(rgb, np.array([weights], np.float32)), np.float32)


def _reduced(pixels: NDArray[Any], longest_px: int) -> tuple[Float32Array, float]:
    """Linear light averaged over squares, longer side at most `longest_px`; and the side of a square in pixels.

    The side is a multiple of 1/64 pixel, the same on both axes and never rounded to the picture's size: a scale that
    differed by a pixel's worth between the axes would make a circle an ellipse. Cells are counted from the top-left
    corner; a last one that is less than half covered is dropped. Done in bands of rows, so that a large picture never
    exists as floats.
    """
    height, width = pixels.shape[:2]
    across = math.ceil(_PARTS * max(height, width) / longest_px)
    if across <= _PARTS:
        return _linear(pixels), 1.0
    side = across / _PARTS
    across, into = across // math.gcd(across, _PARTS), _PARTS // math.gcd(across, _PARTS)
    rows = across * math.ceil(_BAND_ROWS / across)
    bands = [_averaged(_linear(pixels[y : y + rows]), across, into) for y in range(0, height, rows)]
    whole = np.concatenate(bands)[: max(1, round(height / side)), : max(1, round(width / side))]
    return np.ascontiguousarray(whole), side


def _averaged(values: Float32Array, across: int, into: int) -> Float32Array:
    """Averages of cells of across / into pixels; the last column and row are repeated to fill whole groups of cells."""
    height, width = values.shape[:2]
    down, right = -height % across, -width % across
    filled = cv2.copyMakeBorder(values, 0, down, 0, right, cv2.BORDER_REPLICATE)
    # OpenCV takes the scale of each axis from the sizes, which here stand in exactly the wanted ratio
    size = (width + right) // across * into, (height + down) // across * into
    return np.asarray(cv2.resize(filled, size, interpolation=cv2.INTER_AREA), np.float32)
