"""Camera raw: the makers' own formats, most of them built as TIFF, developed by LibRaw."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
from numpy.typing import NDArray

from moondesk.files.extras import Extra
from moondesk.files.formats.heif import brands
from moondesk.files.formats.tiff import MARKS, TiffFile, is_camera_raw, tag_bytes
from moondesk.files.picture_file import MOST_XMP_BYTES, Headers, Pixels, check_size, draft_factor, refuse
from moondesk.records import NotFound

#: What raw files begin with that are not built as TIFF (Olympus, Panasonic, Fujifilm, Sigma, Minolta).
_MAGIC = (b"IIRO", b"IIRS", b"MMOR", b"IIU\x00", b"FUJIFILMCCD-RAW", b"FOVb", b"\x00MRM")
#: LibRaw's turns (3 half round, 5 and 6 a quarter to the left and to the right) as EXIF orientations.
_TURNS = {3: 3, 5: 8, 6: 6}


class RawFile(TiffFile):
    name = "raw"
    media_type = "image/x-raw"  # makers' own formats have no registered type in common
    words = "camera raw"
    accept = ".dng,.cr2,.cr3,.nef,.arw,.raf,.orf,.rw2"
    extra = Extra(
        name="raw",
        module="rawpy",
        distribution="rawpy",
        lacking="Camera raw files cannot be opened here; pip install 'moondesk[raw]' adds that.",
    )
    broken = refuse("raw_damaged", "send_developed")

    @classmethod
    def matches(cls, data: bytes) -> bool:
        if data[:4] in MARKS:
            return is_camera_raw(data)
        return data.startswith(_MAGIC) or brands(data)[:1] == (b"crx ",)

    def walk(self) -> Headers:
        """EXIF of those built as TIFF: in the others the block has no place that is documented. Each maker has a header
        of its own, so that the size is judged when the library has read it."""
        return Headers(
            exif=self.data if self.data[:4] in MARKS else None,
            xmp=tag_bytes(self.data, 700, MOST_XMP_BYTES) if self.data[:2] in (b"II", b"MM") else None,
        )

    def reduction(self, width: int, height: int, turn: int, longest_px: int | None) -> int:
        """At half size where that is enough, which makes no colour up."""
        return min(draft_factor(width, height, turn, longest_px), 2)

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        library = self.extra.load()
        if isinstance(library, NotFound):
            return library
        raw = library.RawPy()
        raw.open_buffer(io.BytesIO(self.data))
        width, height, turn = raw.sizes.width, raw.sizes.height, _TURNS.get(raw.sizes.flip, 1)
        if (refusal := check_size(width, height)) is not None:
            return refusal
        pixels = _develop(library, raw, self.reduction(width, height, turn, longest_px) > 1)
        if pixels.shape[2:] == (1,):  # a sensor without colour filters
            pixels = pixels[..., 0]
        # sensors without filters, and files already developed, come whole also where half was asked for
        draft = 2 if 1.5 * max(pixels.shape[:2]) < max(width, height) else 1
        return Pixels(
            pixels=pixels, draft=draft, width=pixels.shape[1] * draft, height=pixels.shape[0] * draft, turn=turn
        )


def _develop(library: Any, raw: Any, half: bool) -> NDArray[np.uint16]:
    """(H, W, 3) uint16 in sRGB values: daylight as the camera saw it, the brightest 0.001 % white. half: four sensor
    pixels to one, each in its own colours."""
    raw.unpack()
    pixels: NDArray[np.uint16] = raw.postprocess(
        half_size=half,
        use_camera_wb=True,
        output_bps=16,
        gamma=(2.4, 12.92),
        auto_bright_thr=1e-5,
        highlight_mode=library.HighlightMode.Clip,
    )
    return pixels
