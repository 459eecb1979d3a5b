"""A file's bytes to its pixels: what no decoder must be given is refused by the headers, then the right one is asked.

Sizes, passes and layouts are judged before any decoder runs, for each of them makes room for what a header claims.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFile, JpegImagePlugin, PngImagePlugin, TiffImagePlugin, WebPImagePlugin

from moondesk.files import blocks, containers, filetypes, fits_picture, optional_decoders
from moondesk.files.filetypes import FileKind, refuse
from moondesk.files.iso_media import heif_layout
from moondesk.records import Float32Array, NotFound

#: More than any full frame that is sent by mail; decoded to RGB it takes 360 MB.
MAX_PIXELS = 120_000_000
#: A shorter side cannot hold a Moon whose limb could be measured.
MIN_SIDE_PX = 16
#: A longer strip than this, side to side, is reduced to a few pixels' width (phones' panoramas reach 10).
MAX_ASPECT = 30
#: Progressive JPEGs have about ten scans; a hostile one has thousands, at half a millisecond or more each.
MAX_SCANS = 100
#: No deflate stream grows by more than this when unpacked (zlib's technical notes: 258 bytes from 2 bits).
MAX_DEFLATE_RATIO = 1032

#: Called directly, not through Image.open: that only warns about a large picture, and turning the warning into an
#: error would change the state of the whole process. The size is checked here, before any pixel is decoded.
_PLUGINS: dict[FileKind, type[ImageFile.ImageFile]] = {
    "jpeg": JpegImagePlugin.JpegImageFile,
    "png": PngImagePlugin.PngImageFile,
    "webp": WebPImagePlugin.WebPImageFile,
    "tiff": TiffImagePlugin.TiffImageFile,
}
#: EXIF orientation to the turn that undoes it, as array operations (transpose first, then flips of y and x).
TURNS: dict[int, tuple[bool, bool, bool]] = {
    1: (False, False, False),
    2: (False, False, True),
    3: (False, True, True),
    4: (False, True, False),
    5: (True, False, False),
    6: (True, False, True),
    7: (True, True, True),
    8: (True, True, False),
}
#: Their libraries turn these kinds themselves.
_TURNED_BY_LIBRARY = ("tiff", "heic", "raw")
#: LibRaw's turns (3 half round, 5 and 6 a quarter to the left and to the right) as EXIF orientations.
_RAW_TURNS = {3: 3, 5: 8, 6: 6}
#: Samples per pixel by colour type (PNG specification, 11.2.1).
_PNG_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
_BROKEN = "The file is damaged or incomplete."
_BROKEN_RAW = "The camera raw file is damaged, or of a camera that is not known here."
_AGAIN = "Please send it again; if it fails again, open it, save it anew as JPEG and send that."


@dataclass(frozen=True, eq=False, kw_only=True)
class Raw:
    """Decoded pixels as displayed: (H, W) grey or (H, W, 3) RGB; uint8 and uint16 as stored, float32 linear 0..1."""

    pixels: NDArray[Any]
    #: Reduction already done by the decoder.
    draft: int
    #: Displayed size at full resolution.
    width: int
    height: int
    kind: FileKind
    turn: int


def load(data: bytes, longest_px: int | None, luma: bool = False) -> Raw | NotFound:
    """longest_px: how long the longer side need be for the caller, None for all of it. luma: of a JPEG in colour the
    brightness alone, as it is stored (ITU-T T.871); its colours are not made then."""
    kind = filetypes.sniff(data)
    if isinstance(kind, NotFound):
        return kind
    turn = blocks.orientation(data, kind)
    if (refusal := _check_layout(data, kind)) is not None:
        return refusal
    try:
        # A hostile or damaged file makes the decoders raise nearly anything (OSError, SyntaxError, ValueError,
        # struct.error, EOFError, MemoryError, cv2.error ... were all seen under mutation), and each means the same.
        loaded = _decoded(data, kind, turn, longest_px, luma)
    except MemoryError:
        return refuse("The picture takes more memory to open than it may.", "Please send it reduced to half its size.")
    except Exception:
        return refuse(_BROKEN, _AGAIN) if kind != "raw" else refuse(_BROKEN_RAW, filetypes.DEVELOPED)
    if isinstance(loaded, NotFound):
        return loaded
    pixels, draft, (width, height) = loaded[:3]
    if pixels.dtype not in (np.uint8, np.uint16, np.float32) or pixels.shape[2:] not in ((), (3,)):
        return refuse(_BROKEN, _AGAIN)
    if kind not in _TURNED_BY_LIBRARY:
        transpose, flip_y, flip_x = TURNS[turn]
        if transpose:
            pixels, width, height = pixels.swapaxes(0, 1), height, width
        pixels = pixels[:: -1 if flip_y else 1, :: -1 if flip_x else 1]
    return Raw(
        pixels=pixels, draft=draft, width=width, height=height, kind=kind, turn=loaded[3] if len(loaded) > 3 else turn
    )


#: Pixels, reduction done, width and height at full resolution; the turn where only the decoder knows it.
_Loaded = tuple[NDArray[Any], int, tuple[int, int]] | tuple[NDArray[Any], int, tuple[int, int], int]


def _decoded(data: bytes, kind: FileKind, turn: int, longest_px: int | None, luma: bool) -> _Loaded | NotFound:
    if kind == "fits":
        pixels = fits_picture.load(data)
        return pixels, 1, (pixels.shape[1], pixels.shape[0])
    if kind == "raw":
        return _load_raw(data, longest_px)
    if kind == "heic":
        opened = optional_decoders.open_heic(data)
        return opened if isinstance(opened, NotFound) else _load_plain(opened, data, kind, turn, longest_px)
    if kind == "avif":
        from PIL import AvifImagePlugin  # 30 ms that the other kinds need not wait for

        if not AvifImagePlugin.SUPPORTED:
            return refuse("The file is an AVIF picture, which this installation's Pillow cannot open.")
        return _load_plain(AvifImagePlugin.AvifImageFile(io.BytesIO(data)), data, kind, turn, longest_px)
    if _is_deep(data, kind):
        return _load_deep(data, kind)
    image = _PLUGINS[kind](io.BytesIO(data))
    if luma and isinstance(image, JpegImagePlugin.JpegImageFile):
        image.draft("L", image.size)
    return _load_plain(image, data, kind, turn, longest_px)


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
    if max(width, height) > MAX_ASPECT * min(width, height):
        return refuse(
            f"The picture is a strip of {width} x {height} pixels: no Moon can be made out in it.",
            "Please send the picture itself.",
        )
    return None


def _check_layout(data: bytes, kind: FileKind) -> NotFound | None:
    """Refuse by the headers alone what a decoder must not be given."""
    if kind == "jpeg":
        layout = containers.jpeg_layout(data)
        if layout.multi_scan and containers.jpeg_scans(data, layout.first_scan, MAX_SCANS + 1) > MAX_SCANS:
            return refuse(f"The JPEG is made of more than {MAX_SCANS} passes, as no camera does.", _AGAIN)
        return None
    if kind in ("avif", "heic"):
        # of every image in the file, for a decoder may make room for tiles and thumbnails too
        largest = max(heif_layout(data).sizes, key=lambda size: size[0] * size[1], default=None)
        return refuse(_BROKEN, _AGAIN) if largest is None or min(largest) < 1 else _check_size(*largest)
    if kind == "fits":
        found = fits_picture.check_layout(data)
        return found if isinstance(found, NotFound) else _check_size(*found)
    if kind == "raw":
        return None  # judged when the library has read its header, for each maker has its own
    if kind == "tiff":
        tags = containers.tiff_tags(data)
        size = tags.get(256, (0,))[0], tags.get(257, (0,))[0]
    elif kind == "png":
        size = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
        bits = int.from_bytes(data[24:25], "big") * _PNG_CHANNELS.get(int.from_bytes(data[25:26], "big"), 1)
        if size[0] * size[1] <= MAX_PIXELS and size[0] * size[1] * bits > 8 * MAX_DEFLATE_RATIO * len(data):
            return refuse(_BROKEN, _AGAIN)  # the pixels cannot be there; OpenCV would make room for them all first
    else:
        size = containers.webp_size(data)
    return refuse(_BROKEN, _AGAIN) if min(size) < 1 else _check_size(*size)


def _is_deep(data: bytes, kind: FileKind) -> bool:
    """Whether Pillow would lose depth (16-bit colour silently becomes 8 bit) or refuse (colour or 64-bit float)."""
    if kind == "png":
        return data[24:25] == b"\x10" and data[25:26] != b"\x00"  # IHDR: bit depth 16, colour type not grey
    if kind == "tiff":
        tags = containers.tiff_tags(data)
        bits, form = max(tags.get(258, (1,))), tags.get(339, (1,))[0]
        return bits == 64 or (tags.get(277, (1,))[0] > 1 and (bits > 8 or form == 3))
    return False


def _load_deep(data: bytes, kind: FileKind) -> _Loaded | NotFound:
    """16-bit colour and floating point by OpenCV, which gives blue, green, red (and turns a TIFF, nothing else)."""
    if kind == "png" and not containers.png_is_whole(data):
        return refuse(_BROKEN, _AGAIN)  # OpenCV 5.0 makes room for whatever length a chunk claims, up to 4 GB (seen)
    if kind == "tiff":
        tags = containers.tiff_tags(data)
        if tags.get(284, (1,))[0] != 1:
            # OpenCV 5.0 returns scrambled values for separate colour planes (seen)
            return refuse("The TIFF keeps its colours in separate planes.", "Please save it with interleaved colours.")
        if tags.get(262, (1,))[0] > 2:  # neither grey nor RGB: printing inks would be taken for red, green, blue, alpha
            return refuse("The TIFF keeps more than 8 bits of a colour model for print.", "Please save it as RGB.")
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
    if values.ndim == 3 and values.shape[2] in (2, 4):
        colour = values[..., :-1] * (values[..., -1:] / opaque)
        values = np.rint(colour).astype(np.uint16) if pixels.dtype == np.uint16 else colour.astype(np.float32)
    if values.ndim == 3 and values.shape[2] == 1:
        values = values[..., 0]
    return (values[..., ::-1] if values.ndim == 3 else values), 1, (width, height)


def _load_raw(data: bytes, longest_px: int | None) -> _Loaded | NotFound:
    """Sensor data, developed; at half size where that is enough, which makes no colour up."""
    raw = optional_decoders.open_raw(data)
    if isinstance(raw, NotFound):
        return raw
    width, height, turn = raw.sizes.width, raw.sizes.height, _RAW_TURNS.get(raw.sizes.flip, 1)
    if (refusal := _check_size(width, height)) is not None:
        return refusal
    half = longest_px is not None and _draft_factor(width, height, turn, longest_px) > 1
    pixels = optional_decoders.develop(raw, half)
    if pixels.shape[2:] == (1,):  # a sensor without colour filters
        pixels = pixels[..., 0]
    # sensors without filters, and files already developed, come whole also where half was asked for
    draft = 2 if 1.5 * max(pixels.shape[:2]) < max(width, height) else 1
    return pixels, draft, (pixels.shape[1] * draft, pixels.shape[0] * draft), turn


def _load_plain(image: Any, data: bytes, kind: FileKind, turn: int, longest_px: int | None) -> _Loaded | NotFound:
    """Everything else by Pillow. image: opened, its pixels not yet decoded."""
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
    if draft == 1:
        width, height = image.size  # a HEIC's size is certain only now
    mode = image.mode
    if mode in ("L", "I", "F") or mode.startswith("I;16"):
        pixels = np.asarray(image)
        if mode in ("I", "F"):
            pixels = _scaled_linear(pixels)
        elif mode != "L":
            pixels = pixels.astype(np.uint16)
            if kind == "tiff" and containers.tiff_tags(data).get(262, (1,))[0] == 0:
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
