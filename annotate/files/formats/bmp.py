"""BMP: the size that its header claims, and its pixels. Source: Microsoft, "Bitmap Storage" and BITMAPV5HEADER."""

from __future__ import annotations

import io
import struct

from moondesk.files.picture_file import Headers, PictureFile, Pixels
from moondesk.records import NotFound

#: Sizes of the second header, the only thing that tells a BMP from a text that begins with "BM"; the first is older and
#: holds its sides as 16 bits.
_OLD = 12
_HEADERS = {_OLD, 16, 40, 52, 56, 64, 108, 124}


class BmpFile(PictureFile):
    name = "bmp"
    media_type = "image/bmp"
    words = "BMP"
    accept = "image/bmp,.bmp"

    @classmethod
    def matches(cls, data: bytes) -> bool:
        return data[:2] == b"BM" and len(data) >= 26 and struct.unpack_from("<I", data, 14)[0] in _HEADERS

    def walk(self) -> Headers:
        if struct.unpack_from("<I", self.data, 14)[0] == _OLD:
            width, height = struct.unpack_from("<HH", self.data, 18)
        else:
            width, height = struct.unpack_from("<ii", self.data, 18)
        # a negative height means that the rows run from the top
        return Headers(size=(max(width, 0), abs(height)))

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        from PIL.BmpImagePlugin import BmpImageFile

        from moondesk.files.decoding import by_pillow

        return by_pillow(BmpImageFile(io.BytesIO(self.data)))
