"""HEIC and AVIF: what the boxes of their headers say, walked without a decoder, and their pixels.

Sources: ISO/IEC 14496-12 (boxes, item location), ISO/IEC 23008-12 (HEIF: properties of items). A phone's HEIC and an
AVIF differ in their codec alone: size, turn, EXIF and XMP stand in the same places.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator
from dataclasses import dataclass

from moondesk.files.extras import Extra
from moondesk.files.picture_file import Headers, PictureFile, Pixels, refuse
from moondesk.records import NotFound

#: More boxes, items or properties than any camera writes end the reading: a hostile file may have millions.
_MOST = 4096
#: EXIF orientation that means the same as a turn of 0, 90, 180, 270 degrees counter-clockwise (irot), and what each
#: becomes by mirroring after it: top and bottom exchanged (imir 0), left and right (imir 1).
_TURNED = {0: 1, 1: 8, 2: 3, 3: 6}
_MIRRORED = {0: {1: 4, 8: 5, 3: 2, 6: 7, 2: 3, 4: 1, 5: 8, 7: 6}, 1: {1: 2, 8: 7, 3: 4, 6: 5, 2: 1, 4: 3, 5: 6, 7: 8}}


_HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs"}
_AVIF_BRANDS = {b"avif", b"avis"}
#: Says only that it is a HEIF; which codec it needs stands among the compatible brands.
_ANY_HEIF = {b"mif1", b"msf1", b"mif2"}


class HeifFile(PictureFile):
    """What the two have in common."""

    def walk(self) -> Headers:
        found = heif_layout(self.data)
        # of every image in the file, for a decoder may make room for tiles and thumbnails too
        largest = max(found.sizes, key=lambda size: size[0] * size[1], default=(0, 0))
        return Headers(exif=found.exif, xmp=found.xmp, size=largest, turn=found.turn)


class AvifFile(HeifFile):
    name = "avif"
    media_type = "image/avif"
    words = "AVIF"
    accept = "image/avif,.avif"

    @classmethod
    def matches(cls, data: bytes) -> bool:
        major, compatible = heif_brands(data)
        return major in _AVIF_BRANDS or (major in _ANY_HEIF and bool(_AVIF_BRANDS & compatible))

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        from PIL import AvifImagePlugin

        from moondesk.files.decoding import by_pillow

        if not AvifImagePlugin.SUPPORTED:
            return refuse("avif_unopened")
        return by_pillow(AvifImagePlugin.AvifImageFile(io.BytesIO(self.data)))


class HeicFile(HeifFile):
    name = "heic"
    media_type = "image/heic"
    words = "HEIC"
    accept = "image/heic,image/heif,.heic,.heif"
    turned_by_library = True
    extra = Extra(
        name="heic",
        module="pillow_heif",
        distribution="pillow-heif",
        # older releases bundle a decoder that hostile files can make write out of bounds (CVE-2026-84383, fixed in
        # 1.6.0; another hole of 1.6.0 in 1.7.0)
        at_least=(1, 7),
        lacking="HEIC, what many phones store, cannot be opened here; pip install 'moondesk[heic]' adds it.",
    )

    @classmethod
    def matches(cls, data: bytes) -> bool:
        major, compatible = heif_brands(data)
        return major in _HEIC_BRANDS or (major in _ANY_HEIF and not _AVIF_BRANDS & compatible)

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        from moondesk.files.decoding import by_pillow

        library = self.extra.load()
        if isinstance(library, NotFound):
            return library
        return by_pillow(library.HeifImageFile(io.BytesIO(self.data)))


def brands(data: bytes) -> tuple[bytes, ...]:
    """Major brand and compatible brands of a file that begins with a file-type box; empty for others."""
    if data[4:8] != b"ftyp":
        return ()
    length = min(int.from_bytes(data[:4], "big"), len(data), 16 + 4 * 64)
    return (data[8:12], *(data[at : at + 4] for at in range(16, length - 3, 4)))


def heif_brands(data: bytes) -> tuple[bytes, set[bytes]]:
    """Major brand and the set of the compatible ones; b"" for other files."""
    major, *compatible = brands(data) or (b"",)
    return major, set(compatible)


@dataclass(frozen=True)
class HeifLayout:
    """Header of a HEIF picture. sizes: width and height of every image in it, tiles and thumbnails too."""

    sizes: tuple[tuple[int, int], ...] = ()
    #: The turn that a display has to make, as the EXIF orientation that means the same; EXIF itself must not be asked.
    turn: int = 1
    #: EXIF block without its mark, and XMP packet.
    exif: bytes | None = None
    xmp: bytes | None = None


def heif_layout(data: bytes) -> HeifLayout:
    """Never raises; what cannot be read is left out."""
    try:
        return _layout(data)
    except (struct.error, IndexError, ValueError):
        return HeifLayout()


def _boxes(data: bytes, start: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """Name, start and end of the body of each box between two offsets."""
    for _ in range(_MOST):
        if start + 8 > end:
            return
        length, name = struct.unpack_from(">I4s", data, start)
        body = start + 8
        if length == 1:
            (length,) = struct.unpack_from(">Q", data, body)
            body += 8
        stop = end if length == 0 else min(start + length, end)
        if stop < body:
            return
        yield name, body, stop
        start = stop


def _layout(data: bytes) -> HeifLayout:
    meta = next(((a + 4, b) for name, a, b in _boxes(data, 0, len(data)) if name == b"meta"), None)
    if meta is None:
        return HeifLayout()
    found = {name: (a, b) for name, a, b in _boxes(data, *meta)}
    primary = _primary(data, *found.get(b"pitm", (0, 0)))
    sizes, turn = _properties(data, *found.get(b"iprp", (0, 0)), primary)
    where = _locations(data, *found.get(b"iloc", (0, 0)))
    exif = xmp = None
    for item, kind, rest in _items(data, *found.get(b"iinf", (0, 0))):
        body = _join(data, where.get(item, ()))
        if kind == b"Exif" and exif is None and len(body) > 8:
            # the first four bytes say how far the TIFF header is from there (ISO/IEC 23008-12, A.2.1)
            exif = body[4 + int.from_bytes(body[:4], "big") :].removeprefix(b"Exif\x00\x00") or None
        elif kind == b"mime" and xmp is None and b"application/rdf+xml" in rest:
            xmp = body or None
    return HeifLayout(sizes, turn, exif, xmp)


def _primary(data: bytes, start: int, end: int) -> int:
    if end - start < 6:
        return -1
    return int.from_bytes(data[start + 4 : start + (6 if data[start] == 0 else 8)], "big")


def _properties(data: bytes, start: int, end: int, primary: int) -> tuple[tuple[tuple[int, int], ...], int]:
    """Sizes of all images, and the turn of the primary one by its properties in their order."""
    properties: list[tuple[bytes, int, int]] = []
    links: list[int] = []
    for name, a, b in _boxes(data, start, end):
        if name == b"ipco":
            properties = list(_boxes(data, a, b))
        elif name == b"ipma":
            links += _associations(data, a, b, primary)
    sizes = tuple(
        (struct.unpack_from(">I", data, a + 4)[0], struct.unpack_from(">I", data, a + 8)[0])
        for name, a, b in properties
        if name == b"ispe" and b - a >= 12
    )
    turn = 1
    for index in links:
        if not 1 <= index <= len(properties):
            continue
        name, a, b = properties[index - 1]
        if name == b"irot" and b > a and turn == 1:
            turn = _TURNED[data[a] & 3]
        elif name == b"imir" and b > a:
            turn = _MIRRORED[data[a] & 1][turn]
    return sizes, turn


def _associations(data: bytes, start: int, end: int, wanted: int) -> list[int]:
    """Numbers, from 1, of the properties of one item."""
    version, wide = data[start], data[start + 3] & 1
    (count,) = struct.unpack_from(">I", data, start + 4)
    at = start + 8
    for _ in range(min(count, _MOST)):
        if at >= end:
            break
        id_length = 2 if version == 0 else 4
        item = int.from_bytes(data[at : at + id_length], "big")
        number = data[at + id_length]
        at += id_length + 1
        step = 2 if wide else 1
        links = [
            int.from_bytes(data[at + step * k : at + step * (k + 1)], "big") & (0x7FFF if wide else 0x7F)
            for k in range(number)
        ]
        if item == wanted:
            return links
        at += step * number
    return []


def _items(data: bytes, start: int, end: int) -> Iterator[tuple[int, bytes, bytes]]:
    """Number and type of each item, and what follows: its name and content type."""
    if end - start < 8:
        return
    for name, a, b in _boxes(data, start + (6 if data[start] == 0 else 8), end):
        if name == b"infe" and data[a] in (2, 3):
            id_length = 2 if data[a] == 2 else 4
            at = a + 4 + id_length + 2
            yield int.from_bytes(data[a + 4 : a + 4 + id_length], "big"), data[at : at + 4], data[at + 4 : b]


def _locations(data: bytes, start: int, end: int) -> dict[int, list[tuple[int, int]]]:
    """Offset and length of the pieces of each item that lies in the file itself (ISO/IEC 14496-12, 8.11.3)."""
    where: dict[int, list[tuple[int, int]]] = {}
    if end - start < 8:
        return where
    version = data[start]
    offset_size, length_size = data[start + 4] >> 4, data[start + 4] & 15
    base_size, index_size = data[start + 5] >> 4, (data[start + 5] & 15 if version in (1, 2) else 0)
    at = start + 6

    def number(size: int) -> int:
        nonlocal at
        if at + size > end:
            raise ValueError("the location box ends early")
        at += size
        return int.from_bytes(data[at - size : at], "big")

    for _ in range(min(number(2 if version < 2 else 4), _MOST)):
        item = number(2 if version < 2 else 4)
        in_file = version == 0 or number(2) & 15 == 0
        number(2)
        base = number(base_size)
        pieces = []
        for _ in range(min(number(2), _MOST)):
            number(index_size)
            offset = base + number(offset_size)
            pieces.append((offset, number(length_size)))
        if in_file:
            where[item] = pieces
    return where


def _join(data: bytes, pieces: list[tuple[int, int]] | tuple[()], most: int = 1 << 20) -> bytes:
    body = b"".join(data[offset : offset + min(length, most)] for offset, length in pieces[:64])
    return body[:most]
