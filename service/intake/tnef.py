"""winmail.dat: the wrapping in which a mail program sends files and text to itself (MS-OXTNEF). Pure: bytes in, bytes out.

A row of attributes, each with its length; an attachment's name and bytes stand in attributes of their own, or in a list
of MAPI properties. Nothing that it says of lengths is believed beyond its end.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field

SIGNATURE = b"\x78\x9f\x3e\x22"
MOST_ATTRIBUTES, MOST_PROPERTIES = 5_000, 1_000
# MS-OXTNEF 2.1.3.1: level and id of attributes
_RENDERED, _TITLE, _DATA, _PROPERTIES, _BODY, _MAPI = 0x9002, 0x8010, 0x800F, 0x9005, 0x800C, 0x9003
# MS-OXPROPS: PidTagAttachLongFilename, -Filename, -DataBinary, PidTagBody
_LONG_NAME, _SHORT_NAME, _BYTES, _TEXT = 0x3707, 0x3704, 0x3701, 0x1000
_SIZES = {
    0x0002: 4,
    0x0003: 4,
    0x0004: 4,
    0x0005: 8,
    0x0006: 8,
    0x0007: 8,
    0x000A: 4,
    0x000B: 4,
    0x0014: 8,
    0x0040: 8,
    0x0048: 16,
}
_VARIABLE = (0x000D, 0x001E, 0x001F, 0x0102)


@dataclass
class Wrapped:
    """What it holds. text: of the mail, "" where it is kept in a form that is not read. whole: False where it is cut."""

    files: list[tuple[str, bytes]] = field(default_factory=list)
    text: str = ""
    whole: bool = True


def is_wrapped(data: bytes) -> bool:
    return data[:4] == SIGNATURE


def unwrap(data: bytes) -> Wrapped:
    found = Wrapped()
    name, held = "", b""

    def close() -> None:
        nonlocal name, held
        if held:
            found.files.append((name, held))
        name, held = "", b""

    at, count = 6, 0
    while at + 9 <= len(data) and count < MOST_ATTRIBUTES:
        _, attribute, _, length = struct.unpack_from("<BHHI", data, at)
        value = data[at + 9 : at + 9 + length]
        found.whole = found.whole and len(value) == length
        at, count = at + 9 + length + 2, count + 1
        if attribute == _RENDERED:
            close()
        elif attribute == _TITLE:
            name = name or _letters(value)
        elif attribute == _DATA:
            held = held or value
        elif attribute == _PROPERTIES:
            for tag, kind, content in _properties(value):
                if tag == _LONG_NAME or (tag == _SHORT_NAME and not name):
                    name = _string(kind, content) or name
                elif tag == _BYTES and kind == 0x0102:
                    held = held or content
        elif attribute == _BODY:
            found.text = found.text or _letters(value)
        elif attribute == _MAPI:
            for tag, kind, content in _properties(value):
                if tag == _TEXT:
                    found.text = found.text or _string(kind, content)
    close()
    found.whole = found.whole and at >= len(data)
    return found


def _properties(data: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Tag, type and content of MAPI properties (MS-OXTNEF 2.1.3.4); ends at the first that cannot be read."""
    if len(data) < 4:
        return
    left, at = min(struct.unpack_from("<I", data)[0], MOST_PROPERTIES), 4
    while left and at + 4 <= len(data):
        kind, tag = struct.unpack_from("<HH", data, at)
        at, left = at + 4, left - 1
        many, kind = bool(kind & 0x1000), kind & 0x0FFF
        if tag >= 0x8000:  # a named one: its set, then a number or a name
            if at + 24 > len(data):
                return
            by_name, size = struct.unpack_from("<II", data, at + 16)
            at += 24 + (_padded(size) if by_name else 0)
        values = 1
        if (many or kind in _VARIABLE) and at + 4 <= len(data):
            values = struct.unpack_from("<I", data, at)[0]
            at += 4
        for _ in range(min(values, MOST_PROPERTIES)):
            if kind in _VARIABLE:
                if at + 4 > len(data):
                    return
                size = struct.unpack_from("<I", data, at)[0]
                at += 4
            elif kind in _SIZES:
                size = _SIZES[kind]
            else:
                return
            yield tag, kind, data[at : at + size]
            at += _padded(size)


def _padded(size: int) -> int:
    return size + (-size % 4)


def _string(kind: int, content: bytes) -> str:
    if kind == 0x001F:
        return content.decode("utf-16-le", "replace").split("\0")[0]
    return _letters(content) if kind == 0x001E else ""


def _letters(content: bytes) -> str:
    content = content.split(b"\0")[0]
    try:
        return content.decode()
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")
