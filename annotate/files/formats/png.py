"""PNG: what its chunks say, and its pixels. Source: the PNG specification, third edition."""

from __future__ import annotations

import io
import struct
import zlib

from moondesk.files.picture_file import BROKEN, MAX_PIXELS, MOST_XMP_BYTES, Headers, PictureFile, Pixels
from moondesk.records import NotFound

#: No deflate stream grows by more than this when unpacked (zlib's technical notes: 258 bytes from 2 bits).
MAX_DEFLATE_RATIO = 1032
#: Samples per pixel by colour type (11.2.1).
_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
_XMP_KEYWORD = b"XML:com.adobe.xmp\x00"


class PngFile(PictureFile):
    name = "png"
    media_type = "image/png"
    words = "PNG"
    accept = "image/png,.png"

    @classmethod
    def matches(cls, data: bytes) -> bool:
        return data[:8] == b"\x89PNG\r\n\x1a\n"

    @property
    def is_deep(self) -> bool:
        """16 bits and colour, of which Pillow makes 8."""
        return self.data[24:25] == b"\x10" and self.data[25:26] != b"\x00"

    def walk(self) -> Headers:
        """Each chunk is length, name, body and check sum (5.3)."""
        data, at, name = self.data, 8, b""
        exif = xmp = None
        while at + 8 <= len(data) and name != b"IEND":
            length, name = struct.unpack_from(">I4s", data, at)
            if exif is None and name in (b"eXIf", b"EXIF"):
                exif = data[at + 8 : at + 8 + length].removeprefix(b"Exif\x00\x00")
            elif not xmp and name == b"iTXt":
                xmp = international_text(data[at + 8 : at + 8 + length])
            at += 12 + length
        width, height = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
        bits = int.from_bytes(data[24:25], "big") * _CHANNELS.get(int.from_bytes(data[25:26], "big"), 1)
        # where the pixels cannot be there OpenCV would make room for them all first; where a chunk reaches beyond the
        # file, OpenCV 5.0 makes room for whatever length it claims, up to 4 GB (seen)
        hollow = width * height * bits > 8 * MAX_DEFLATE_RATIO * len(data)
        whole = name == b"IEND" and at <= len(data)
        return Headers(
            exif=exif,
            xmp=xmp or None,
            size=(width, height),
            refusal=None if width * height > MAX_PIXELS else BROKEN if hollow or (self.is_deep and not whole) else None,
        )

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        from PIL.PngImagePlugin import PngImageFile

        from moondesk.files.decoding import by_opencv, by_pillow

        if self.is_deep:
            return by_opencv(self.data)
        return by_pillow(PngImageFile(io.BytesIO(self.data)))


def international_text(body: bytes) -> bytes | None:
    """Text of an iTXt chunk whose keyword is that of XMP (11.3.3.4)."""
    if not body.startswith(_XMP_KEYWORD) or len(body) < len(_XMP_KEYWORD) + 2:
        return None
    packed = body[len(_XMP_KEYWORD)]
    _, _, rest = body[len(_XMP_KEYWORD) + 2 :].partition(b"\x00")
    _, _, text = rest.partition(b"\x00")
    if packed:
        try:
            return zlib.decompressobj().decompress(text, MOST_XMP_BYTES)
        except zlib.error:
            return None
    return text
