"""WebP: what its chunks say, and its pixels. Source: RFC 9649, section 2."""

from __future__ import annotations

import io
import struct

from moondesk.files.picture_file import Headers, PictureFile, Pixels
from moondesk.records import NotFound


class WebpFile(PictureFile):
    name = "webp"
    media_type = "image/webp"
    words = "WebP"
    accept = "image/webp,.webp"

    @classmethod
    def matches(cls, data: bytes) -> bool:
        return data[:4] == b"RIFF" and data[8:12] == b"WEBP"

    def walk(self) -> Headers:
        data, at = self.data, 12
        exif = xmp = None
        while at + 8 <= len(data):
            name, length = struct.unpack_from("<4sI", data, at)
            if exif is None and name in (b"eXIf", b"EXIF"):
                exif = data[at + 8 : at + 8 + length].removeprefix(b"Exif\x00\x00")
            elif xmp is None and name == b"XMP ":
                xmp = data[at + 8 : at + 8 + length]
            at += 8 + length + (length & 1)  # padded to even
        return Headers(exif=exif, xmp=xmp, size=_size(data[12:16], data[20:30]))

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        from PIL.WebPImagePlugin import WebPImageFile

        from moondesk.files.decoding import by_pillow

        return by_pillow(WebPImageFile(io.BytesIO(self.data)))


def _size(name: bytes, body: bytes) -> tuple[int, int]:
    """By the first chunk."""
    if len(body) == 10 and name == b"VP8X":
        return 1 + int.from_bytes(body[4:7], "little"), 1 + int.from_bytes(body[7:10], "little")
    if len(body) == 10 and name == b"VP8L":
        packed = int.from_bytes(body[1:5], "little")
        return 1 + (packed & 0x3FFF), 1 + (packed >> 14 & 0x3FFF)
    if len(body) == 10 and name == b"VP8 ":
        return int.from_bytes(body[6:8], "little") & 0x3FFF, int.from_bytes(body[8:10], "little") & 0x3FFF
    return 0, 0
