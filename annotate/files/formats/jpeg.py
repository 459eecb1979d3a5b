"""JPEG: what its segments say, walked without decoding a pixel, and its pixels. Source: ITU-T T.81, annex B."""

from __future__ import annotations

import io
import re
import struct

from moondesk.files.picture_file import Headers, PictureFile, Pixels, draft_factor, refuse
from moondesk.records import NotFound

#: Progressive JPEGs have about ten scans; a hostile one has thousands, at half a millisecond or more each.
MAX_SCANS = 100
_ENDLESS = refuse("jpeg_passes", "send_again", count=MAX_SCANS)
#: What an application segment begins with that holds an XMP packet (XMP specification, part 3, 1.1.3).
XMP_MARK = b"http://ns.adobe.com/xap/1.0/\x00"
#: A marker inside or after entropy-coded data: FF followed by neither a stuffed zero, a restart mark nor a fill byte.
_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")


class JpegFile(PictureFile):
    name = "jpeg"
    media_type = "image/jpeg"
    words = "JPEG"
    accept = "image/jpeg,.jpg,.jpeg"
    keeps_brightness = True
    keeps_reduced = False

    @classmethod
    def matches(cls, data: bytes) -> bool:
        return data[:3] == b"\xff\xd8\xff"

    def walk(self) -> Headers:
        return walk(self.data)

    def reduction(self, width: int, height: int, turn: int, longest_px: int | None) -> int:
        return draft_factor(width, height, turn, longest_px)

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        from PIL.JpegImagePlugin import JpegImageFile

        from moondesk.files.decoding import by_pillow

        image = JpegImageFile(io.BytesIO(self.data))
        if luma:
            image.draft("L", image.size)
        return by_pillow(image, self.reduction(*image.size, self.turn, longest_px))


def walk(data: bytes) -> Headers:
    """The segments up to the first scan; what makes no sense ends the walk."""
    at, components, progressive = 2, 0, False
    exif = xmp = None
    size = None
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:  # fill byte
            at += 1
            continue
        if marker in (0x01, 0xD8) or 0xD0 <= marker <= 0xD7:  # markers without a length
            at += 2
            continue
        (length,) = struct.unpack_from(">H", data, at + 2)
        body = data[at + 4 : at + 2 + length]
        if marker == 0xE1 and exif is None and body[:6] == b"Exif\x00\x00":
            exif = body[6:]
        elif marker == 0xE1 and xmp is None and body.startswith(XMP_MARK):
            xmp = body[len(XMP_MARK) :]
        elif 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC) and len(body) > 5:
            components, progressive = body[5], marker in (0xC2, 0xC6, 0xCA, 0xCE)
            size = int.from_bytes(body[3:5], "big"), int.from_bytes(body[1:3], "big")
        elif marker == 0xDA:
            several = progressive or (body[:1] or b"\x00")[0] < components
            refusal = _ENDLESS if several and scans(data, at, MAX_SCANS + 1) > MAX_SCANS else None
            return Headers(exif=exif, xmp=xmp, size=size, refusal=refusal)
        at += 2 + length
    return Headers(exif=exif, xmp=xmp, size=size)


def scans(data: bytes, first_scan: int, stop: int) -> int:
    """How many scans a JPEG has up to its end mark, counted to `stop` at most."""
    at, count = first_scan, 0
    while count < stop and (found := _MARKER.search(data, at)):
        marker = data[found.start() + 1]
        if marker == 0xD9:
            break
        count += marker == 0xDA
        length = int.from_bytes(data[found.end() : found.end() + 2], "big")
        at = found.end() + length
    return count
