"""Where a picture file keeps what it says about itself: its EXIF block, its XMP packet, the turn it is displayed with.

One function for each, for every kind; no pixel is decoded and nothing of the blocks' contents believed here.
"""

from __future__ import annotations

import zlib

from moondesk.files.containers import jpeg_layout, png_chunks, tiff_bytes, tiff_tags, webp_chunks
from moondesk.files.filetypes import FileKind
from moondesk.files.iso_media import heif_layout

#: No camera or program writes more of it; what lies beyond is not read.
MOST_XMP_BYTES = 1 << 18


def exif_block(data: bytes, kind: FileKind) -> bytes | None:
    """The EXIF block (a small TIFF) of a file of that kind, None where it has none."""
    if kind == "jpeg":
        return jpeg_layout(data).exif
    if kind == "tiff":
        return data
    if kind == "raw":  # those built as TIFF; in the others the block has no place that is documented
        return data if data[:4] in (b"II*\x00", b"MM\x00*") else None
    if kind in ("avif", "heic"):
        return heif_layout(data).exif
    chunks = {"png": png_chunks, "webp": webp_chunks}.get(kind)
    for name, body in () if chunks is None else chunks(data):
        if name in (b"eXIf", b"EXIF"):
            return body.removeprefix(b"Exif\x00\x00")
    return None


def xmp_packet(data: bytes, kind: FileKind) -> bytes | None:
    """The XMP packet of a file, cut at `MOST_XMP_BYTES`; None where it has none (XMP specification, part 3)."""
    packet: bytes | None = None
    if kind == "jpeg":
        packet = jpeg_layout(data).xmp
    elif kind in ("tiff", "raw"):
        packet = tiff_bytes(data, 700, MOST_XMP_BYTES) if data[:2] in (b"II", b"MM") else None
    elif kind in ("avif", "heic"):
        packet = heif_layout(data).xmp
    elif kind == "webp":
        packet = next((body for name, body in webp_chunks(data) if name == b"XMP "), None)
    elif kind == "png":
        packet = next(
            filter(None, (_international_text(body) for name, body in png_chunks(data) if name == b"iTXt")), None
        )
    return None if packet is None else packet[:MOST_XMP_BYTES]


def _international_text(body: bytes) -> bytes | None:
    """Text of an iTXt chunk whose keyword is that of XMP (PNG specification, third edition, 11.3.3.4)."""
    mark = b"XML:com.adobe.xmp\x00"
    if not body.startswith(mark) or len(body) < len(mark) + 2:
        return None
    packed = body[len(mark)]
    _, _, rest = body[len(mark) + 2 :].partition(b"\x00")
    _, _, text = rest.partition(b"\x00")
    if packed:
        try:
            return zlib.decompressobj().decompress(text, MOST_XMP_BYTES)
        except zlib.error:
            return None
    return text


def orientation(data: bytes, kind: FileKind) -> int:
    """The turn as an EXIF orientation, 1 to 8 (EXIF 3.0, tag 0x0112); 1 where there is none or it makes no sense."""
    if kind in ("avif", "heic"):  # their own properties count, and the EXIF tag must be passed over
        return heif_layout(data).turn
    block = exif_block(data, kind)
    if not block or block[:2] not in (b"II", b"MM"):
        return 1
    value = tiff_tags(block).get(0x0112, (1,))[0]
    return value if 1 <= value <= 8 else 1
