"""WebP: what its chunks say, and its pixels. Source: RFC 9649, section 2."""

from __future__ import annotations

import io
import struct
from functools import cached_property

from moondesk.files.picture_file import MOST_XMP_BYTES, PictureFile, Pixels
from moondesk.records import NotFound


class WebpFile(PictureFile):
    name = "webp"
    media_type = "image/webp"
    words = "WebP"
    accept = "image/webp,.webp"

    @classmethod
    def matches(cls, data: bytes) -> bool:
        return data[:4] == b"RIFF" and data[8:12] == b"WEBP"

    @cached_property
    def chunks(self) -> dict[bytes, bytes]:
        """Body of the first chunk of each name of those that describe the picture."""
        data, at = self.data, 12
        found: dict[bytes, bytes] = {}
        while at + 8 <= len(data):
            name, length = struct.unpack_from("<4sI", data, at)
            if name in (b"eXIf", b"EXIF", b"XMP "):
                found.setdefault(name, data[at + 8 : at + 8 + length])
            at += 8 + length + (length & 1)  # padded to even
        return found

    @property
    def exif(self) -> bytes | None:
        body = next((self.chunks[name] for name in self.chunks if name != b"XMP "), None)
        return None if body is None else body.removeprefix(b"Exif\x00\x00")

    @property
    def xmp(self) -> bytes | None:
        body = self.chunks.get(b"XMP ")
        return None if body is None else body[:MOST_XMP_BYTES]

    @property
    def size(self) -> tuple[int, int]:
        name, body = self.data[12:16], self.data[20:30]
        if len(body) == 10 and name == b"VP8X":
            return 1 + int.from_bytes(body[4:7], "little"), 1 + int.from_bytes(body[7:10], "little")
        if len(body) == 10 and name == b"VP8L":
            packed = int.from_bytes(body[1:5], "little")
            return 1 + (packed & 0x3FFF), 1 + (packed >> 14 & 0x3FFF)
        if len(body) == 10 and name == b"VP8 ":
            return int.from_bytes(body[6:8], "little") & 0x3FFF, int.from_bytes(body[8:10], "little") & 0x3FFF
        return 0, 0

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        from PIL.WebPImagePlugin import WebPImageFile

        from moondesk.files.decoding import by_pillow

        return by_pillow(WebPImageFile(io.BytesIO(self.data)))
