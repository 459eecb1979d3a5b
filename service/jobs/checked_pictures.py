"""Pictures and drawings that came from a child, looked at before anything is done with them: types for `plain`.

A picture goes on to browsers and files as the kind that it is; so it must begin as one of those. A drawing (SVG) is set
into pages: it may hold shapes, words and pictures of its own, nothing that acts or fetches.
"""

from __future__ import annotations

import re
from typing import NewType
from xml.parsers import expat

#: Bytes of a JPEG, PNG, WebP, GIF, MP4, or of a drawing.
Picture = NewType("Picture", bytes)
#: Text of an SVG.
Drawing = NewType("Drawing", str)

_ELEMENTS = frozenset(
    (
        "svg",
        "g",
        "path",
        "circle",
        "ellipse",
        "line",
        "polyline",
        "polygon",
        "rect",
        "text",
        "tspan",
        "title",
        "desc",
        "defs",
        "clipPath",
        "image",
    )
)
_LINKS = ("href", "xlink:href")
_OWN_PICTURE = re.compile(r"data:image/(?:png|jpeg);base64,[A-Za-z0-9+/=\s]*")
#: In any attribute: what fetches, or calls up a style that does.
_FETCHES = re.compile(r"url\s*\(\s*[^#\s]|@import|expression|javascript:|\\", re.IGNORECASE)


def is_picture(data: bytes) -> bool:
    head = data[:16]
    if head.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"GIF87a", b"GIF89a")):
        return True
    return (
        (head[:4] == b"RIFF" and head[8:12] == b"WEBP")
        or head[4:8] == b"ftyp"
        or (head.startswith(b"<svg") and is_drawing(data))
    )


def is_drawing(data: bytes | str) -> bool:
    """Whether this is an SVG that only draws."""
    parser = expat.ParserCreate()
    parser.StartElementHandler = _start
    parser.StartDoctypeDeclHandler = parser.ProcessingInstructionHandler = _refuse
    try:
        parser.Parse(data.encode() if isinstance(data, str) else data, True)
    except (expat.ExpatError, _NotAPictureError, ValueError):
        return False
    return True


class _NotAPictureError(Exception):
    pass


def _refuse(*_: object) -> None:
    raise _NotAPictureError


def _start(name: str, attributes: dict[str, str]) -> None:
    if name not in _ELEMENTS:
        raise _NotAPictureError
    for key, value in attributes.items():
        if key.lower().startswith("on") or key.lower() == "style":
            raise _NotAPictureError
        if key in _LINKS:
            if not _OWN_PICTURE.fullmatch(value):
                raise _NotAPictureError
        elif key.lower().endswith("href") or _FETCHES.search(value):
            raise _NotAPictureError
