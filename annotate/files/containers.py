"""How picture files are built: the walks through their segments, chunks and directories, without decoding a pixel.

Each reads only what it is given, in steps that always go forward, and gives up quietly where the bytes make no sense.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass


def tiff_tags(data: bytes) -> dict[int, tuple[int, ...]]:
    """Whole-number tags (BYTE, SHORT, LONG) of the first directory of a classic TIFF; what cannot be read is left out.

    Source: TIFF revision 6.0, section 2. At most the first 16 values of a tag are read.
    """
    order = "<" if data[:2] == b"II" else ">"
    tags: dict[int, tuple[int, ...]] = {}
    try:
        (start,) = struct.unpack_from(order + "I", data, 4)
        (count,) = struct.unpack_from(order + "H", data, start)
        for i in range(count):
            at = start + 2 + 12 * i
            tag, kind, n = struct.unpack_from(order + "HHI", data, at)
            if kind not in (1, 3, 4) or n == 0:
                continue
            letter, size = {1: ("B", 1), 3: ("H", 2), 4: ("I", 4)}[kind]
            where = at + 8 if n * size <= 4 else struct.unpack_from(order + "I", data, at + 8)[0]
            tags[tag] = struct.unpack_from(f"{order}{min(n, 16)}{letter}", data, where)
    except struct.error:
        pass  # the file ends inside its directory: the tags read so far are what there is
    return tags


def tiff_bytes(data: bytes, wanted: int, most: int) -> bytes | None:
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


#: What an application segment of a JPEG begins with that holds an XMP packet (XMP specification, part 3, 1.1.3).
XMP_MARK = b"http://ns.adobe.com/xap/1.0/\x00"


@dataclass(frozen=True)
class JpegLayout:
    """Header segments of a JPEG: EXIF block and XMP packet without their marks, whether it comes in several scans."""

    exif: bytes | None
    multi_scan: bool
    #: Offset of the first start-of-scan marker; the length of the data where there is none.
    first_scan: int
    xmp: bytes | None = None


def jpeg_layout(data: bytes) -> JpegLayout:
    """Walk the segments of a JPEG up to its first scan. Source: ITU-T T.81, annex B."""
    at, exif, xmp, components, progressive = 2, None, None, 0, False
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            break
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
        elif marker == 0xDA:
            return JpegLayout(exif, progressive or (body[:1] or b"\x00")[0] < components, at, xmp)
        at += 2 + length
    return JpegLayout(exif, False, len(data), xmp)


#: A marker inside or after entropy-coded data: FF followed by neither a stuffed zero, a restart mark nor a fill byte.
_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")


def jpeg_scans(data: bytes, first_scan: int, stop: int) -> int:
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


def png_is_whole(data: bytes) -> bool:
    """Whether every chunk of a PNG lies inside the file, up to its end chunk (PNG specification, 5.3)."""
    at = 8
    while at + 12 <= len(data):
        name = data[at + 4 : at + 8]
        at += 12 + int.from_bytes(data[at : at + 4], "big")
        if name == b"IEND":
            return at <= len(data)
    return False


def webp_size(data: bytes) -> tuple[int, int]:
    """Width and height of a WebP from its first chunk; (0, 0) where it makes no sense. Source: RFC 9649, section 2."""
    name, body = data[12:16], data[20:30]
    if len(body) < 10:
        return 0, 0
    if name == b"VP8X":
        return 1 + int.from_bytes(body[4:7], "little"), 1 + int.from_bytes(body[7:10], "little")
    if name == b"VP8L":
        packed = int.from_bytes(body[1:5], "little")
        return 1 + (packed & 0x3FFF), 1 + (packed >> 14 & 0x3FFF)
    if name == b"VP8 ":
        return int.from_bytes(body[6:8], "little") & 0x3FFF, int.from_bytes(body[8:10], "little") & 0x3FFF
    return 0, 0


def png_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Name and body of each chunk of a PNG: length, name, body, check sum (PNG specification, 5.3)."""
    at = 8
    while at + 8 <= len(data):
        length, name = struct.unpack_from(">I4s", data, at)
        yield name, data[at + 8 : at + 8 + length]
        if name == b"IEND":
            return
        at += 12 + length


def webp_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Name and body of each chunk of a WebP: name, length, body padded to even (RFC 9649, section 2.3)."""
    at = 12
    while at + 8 <= len(data):
        name, length = struct.unpack_from("<4sI", data, at)
        yield name, data[at + 8 : at + 8 + length]
        at += 8 + length + (length & 1)
