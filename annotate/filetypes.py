"""What kind of file the bytes are, told from the bytes alone: a small magic table, and where the EXIF block stands.

Neither the file's name nor the type a browser or mail program states is asked: both are often wrong. Four kinds are
decoded (JPEG, PNG, WebP, TIFF); the others that people send are recognised so that the refusal says what to do.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass
from typing import Literal

from annotate.records import NotFound

FileKind = Literal["jpeg", "png", "webp", "tiff"]

MEDIA_TYPES: dict[FileKind, str] = {
    "jpeg": "image/jpeg",
    "png": "image/png",
    "webp": "image/webp",
    "tiff": "image/tiff",
}

AS_JPEG = "Please send the picture as JPEG or PNG."
_PHONE = (
    "Please send it as JPEG: share or export the picture as JPEG, or set the phone's camera to the most compatible "
    "format and send it again."
)
_RAW = "Please develop it in the camera or a photo program and send a JPEG."
_STILL = "Please send one still picture from it as JPEG or PNG."
_SCREEN = "Please export it as PNG or JPEG."

#: (offset, magic bytes, what it is, what to do); the first match counts.
_REFUSED: tuple[tuple[int, bytes, str, str], ...] = (
    (0, b"GIF8", "a GIF, which keeps only 256 colours", AS_JPEG),
    (0, b"SIMPLE  =", "a FITS file", "Please stretch it for viewing and send it as PNG or 16-bit TIFF."),
    (0, b"%PDF-", "a PDF document", "Please send the picture itself as JPEG or PNG, not a document with it."),
    (0, b"%!PS", "a PostScript drawing", _SCREEN),
    (0, b"8BPS", "a layered Photoshop document", _SCREEN),
    (0, b"PK\x03\x04", "a zip archive or office document", "Please unpack it and send the pictures themselves."),
    (0, b"II+\x00", "a BigTIFF", _SCREEN),
    (0, b"MM\x00+", "a BigTIFF", _SCREEN),
    (0, b"IIRO", "a camera raw file", _RAW),
    (0, b"IIRS", "a camera raw file", _RAW),
    (0, b"IIU\x00", "a camera raw file", _RAW),
    (0, b"FUJIFILMCCD-RAW", "a camera raw file", _RAW),
    (0, b"\xff\x0a", "a JPEG XL picture", AS_JPEG),
    (0, b"\x00\x00\x00\x0cJXL ", "a JPEG XL picture", AS_JPEG),
    (0, b"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture", AS_JPEG),
    (0, b"\x1a\x45\xdf\xa3", "a video", _STILL),
    (0, b"\x00\x00\x01\xba", "a video", _STILL),
    (0, b"\x00\x00\x01\xb3", "a video", _STILL),
    (0, b"LUCAM-RECORDER", "a video", _STILL),
    (8, b"AVI ", "a video", _STILL),
    (0, b"<", "a web page or drawing", _SCREEN),
)
_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
_AVIF_BRANDS = {b"avif", b"avis"}
#: Sizes of the second header of a BMP, the only thing that tells one from a text that begins with "BM".
_BMP_HEADERS = {12, 16, 40, 52, 56, 64, 108, 124}


def refuse(reason: str, advice: str = AS_JPEG) -> NotFound:
    """The expected failure of this stage."""
    return NotFound("picture", reason, advice)


def sniff(data: bytes) -> FileKind | NotFound:
    """FileKind of a picture file that can be decoded, or why not."""
    if not data:
        return refuse("The file is empty.", "Please send the picture again; the transfer broke off before it began.")
    if data[:3] == b"\xff\xd8\xff":
        return "jpeg"
    if data[:8] == b"\x89PNG\r\n\x1a\n":
        return "png"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    if data[:4] in (b"II*\x00", b"MM\x00*"):
        tags = tiff_tags(data)
        # Raw files of most makers are TIFFs whose first picture is a thumbnail (NewSubfileType bit 0) or that carry
        # the DNG version; a thumbnail must never be placed as if it were the photograph.
        if data[8:10] == b"CR" or 50706 in tags or tags.get(254, (0,))[0] & 1:
            return refuse("The file is a camera raw file.", _RAW)
        return "tiff"
    if data[4:8] == b"ftyp":
        brand = data[8:12]
        if brand in _HEIF_BRANDS:
            return refuse("The file is a HEIC picture, as phones store them.", _PHONE)
        if brand in _AVIF_BRANDS:
            return refuse("The file is an AVIF picture.", AS_JPEG)
        if brand == b"crx ":
            return refuse("The file is a camera raw file.", _RAW)
        return refuse("The file is a video.", _STILL)
    if data[:2] == b"BM" and len(data) > 18 and struct.unpack_from("<I", data, 14)[0] in _BMP_HEADERS:
        return refuse("The file is a BMP bitmap.", AS_JPEG)
    text = data[:64].lstrip(b"\xef\xbb\xbf \t\r\n")
    for offset, magic, what, advice in _REFUSED:
        if (text if magic == b"<" else data)[offset : offset + len(magic)] == magic:
            return refuse(f"The file is {what}.", advice)
    return refuse("The file is not a picture of a kind known here.")


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


@dataclass(frozen=True)
class JpegLayout:
    """Header segments of a JPEG: its EXIF block (without the "Exif" mark), whether it comes in several scans."""

    exif: bytes | None
    multi_scan: bool
    #: Offset of the first start-of-scan marker; the length of the data where there is none.
    first_scan: int


def jpeg_layout(data: bytes) -> JpegLayout:
    """Walk the segments of a JPEG up to its first scan. Source: ITU-T T.81, annex B."""
    at, exif, components, progressive = 2, None, 0, False
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
        elif 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC) and len(body) > 5:
            components, progressive = body[5], marker in (0xC2, 0xC6, 0xCA, 0xCE)
        elif marker == 0xDA:
            return JpegLayout(exif, progressive or (body[:1] or b"\x00")[0] < components, at)
        at += 2 + length
    return JpegLayout(exif, False, len(data))


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


def exif_block(data: bytes, kind: FileKind) -> bytes | None:
    """The EXIF block (a small TIFF) of a file of that kind, None where it has none. Never decodes pixels."""
    if kind == "jpeg":
        return jpeg_layout(data).exif
    if kind == "tiff":
        return data
    # PNG chunk: length, name, body, check sum (PNG specification, 5.3); RIFF chunk: name, length, body padded to even.
    at, order = (8, ">") if kind == "png" else (12, "<")
    while at + 8 <= len(data):
        if kind == "png":
            length, name = struct.unpack_from(order + "I4s", data, at)
        else:
            name, length = struct.unpack_from(order + "4sI", data, at)
        if name in (b"eXIf", b"EXIF"):
            body = data[at + 8 : at + 8 + length]
            return body.removeprefix(b"Exif\x00\x00")
        if name == b"IEND":
            break
        at += 12 + length if kind == "png" else 8 + length + (length & 1)
    return None


def orientation(data: bytes, kind: FileKind) -> int:
    """EXIF orientation 1 to 8 (EXIF 3.0, tag 0x0112); 1 where there is none or it makes no sense."""
    block = exif_block(data, kind)
    if not block or block[:2] not in (b"II", b"MM"):
        return 1
    value = tiff_tags(block).get(0x0112, (1,))[0]
    return value if 1 <= value <= 8 else 1
