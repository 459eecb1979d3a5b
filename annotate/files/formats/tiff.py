"""TIFF: the tags of its first directory, and its pixels. Source: TIFF revision 6.0."""

from __future__ import annotations

import io
import struct
from functools import cached_property

from moondesk.files.picture_file import MOST_XMP_BYTES, Headers, PictureFile, Pixels, refuse, tiff_tags
from moondesk.records import NotFound

MARKS = (b"II*\x00", b"MM\x00*")
#: Compression of TIFF-built raw files that no picture has: Nikon 34713, Pentax 65535, Sony 32767, Kodak 65000.
_RAW_COMPRESSION = {34713, 65535, 32767, 65000}
#: Photometric interpretation of sensor data: colour filter array, linear raw (TIFF/EP, DNG 1.7).
_RAW_PHOTOMETRIC = {32803, 34892}


class TiffFile(PictureFile):
    name = "tiff"
    media_type = "image/tiff"
    words = "TIFF"
    accept = "image/tiff,.tif,.tiff"
    turned_by_library = True

    @classmethod
    def matches(cls, data: bytes) -> bool:
        return data[:4] in MARKS and not is_camera_raw(data)

    @cached_property
    def tags(self) -> dict[int, tuple[int, ...]]:
        return tiff_tags(self.data)

    def walk(self) -> Headers:
        return Headers(
            exif=self.data,
            xmp=tag_bytes(self.data, 700, MOST_XMP_BYTES),
            size=(self.tags.get(256, (0,))[0], self.tags.get(257, (0,))[0]),
        )

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        from PIL.TiffImagePlugin import TiffImageFile

        from moondesk.files.decoding import by_opencv, by_pillow

        bits, form = max(self.tags.get(258, (1,))), self.tags.get(339, (1,))[0]
        colours = self.tags.get(262, (1,))[0]
        # Pillow loses depth (16-bit colour silently becomes 8 bit) or refuses (colour or 64-bit float)
        if bits != 64 and (self.tags.get(277, (1,))[0] <= 1 or (bits <= 8 and form != 3)):
            return by_pillow(TiffImageFile(io.BytesIO(self.data)), white_is_zero=colours == 0)
        if self.tags.get(284, (1,))[0] != 1:
            # OpenCV 5.0 returns scrambled values for separate colour planes (seen)
            return refuse("tiff_planes", "save_interleaved")
        if colours > 2:  # neither grey nor RGB: printing inks would be taken for red, green, blue, alpha
            return refuse("tiff_inks", "save_rgb")
        return by_opencv(self.data)


def is_camera_raw(data: bytes) -> bool:
    """Whether a TIFF is a camera's raw file: those of most makers are TIFFs whose first picture is a thumbnail
    (NewSubfileType bit 0) or that carry the DNG version; a thumbnail must never be placed as if it were the photograph.
    """
    tags = tiff_tags(data)
    return (
        data[8:10] == b"CR"
        or 50706 in tags
        or bool(tags.get(254, (0,))[0] & 1)
        or tags.get(259, (1,))[0] in _RAW_COMPRESSION
        or tags.get(262, (1,))[0] in _RAW_PHOTOMETRIC
    )


def tag_bytes(data: bytes, wanted: int, most: int) -> bytes | None:
    """Body of a tag of bytes in the first directory of a classic TIFF, at most `most` long; None where it has none."""
    order = "<" if data[:2] == b"II" else ">"
    try:
        (start,) = struct.unpack_from(order + "I", data, 4)
        (count,) = struct.unpack_from(order + "H", data, start)
        for i in range(count):
            tag, kind, n, where = struct.unpack_from(order + "HHII", data, start + 2 + 12 * i)
            if tag == wanted and kind in (1, 2, 7) and n > 4:
                return data[where : where + min(n, most)] or None
    except struct.error:
        pass
    return None
