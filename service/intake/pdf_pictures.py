"""The pictures in a PDF document. Pure: bytes in, bytes out.

Objects are looked at one by one, not pages, whose tree may run in circles. A photograph is kept as the JPEG that it is;
what is only packed is written as PNG where its own numbers say that it is not too large.
"""

from __future__ import annotations

import io
import logging
import time

from PIL import Image
from pypdf import PdfReader
from pypdf.generic import IndirectObject, StreamObject

from moondesk.service.settings.config import IntakeLimits

#: It writes pieces of damaged documents, which are strangers', into the log.
logging.getLogger("pypdf").setLevel(logging.CRITICAL)
MOST_OBJECTS = 20_000
#: Seconds after which no further picture is looked for.
PATIENCE_S = 15.0
_AS_THEY_ARE = ("/DCTDecode", "/JPXDecode")
_PACKED = ("/FlateDecode", "/LZWDecode", "/RunLengthDecode")


def pictures_of_pdf(data: bytes, limits: IntakeLimits) -> tuple[list[bytes], int] | None:
    """Its pictures, and how many were too many, too large or in a form that is not read; None: it wants a password. Raises
    what pypdf raises on damaged ones."""
    reader = PdfReader(io.BytesIO(data))
    if reader.is_encrypted:
        return None
    begun = time.monotonic()
    numbers = sorted({(n, generation) for generation, rows in reader.xref.items() for n in rows})[:MOST_OBJECTS]
    found: dict[int, bytes] = {}
    masks: set[int] = set()
    left, left_out = limits.archive_bytes, 0
    for number, generation in numbers:
        if time.monotonic() - begun > PATIENCE_S:
            left_out += 1
            break
        try:
            stream = reader.get_object(IndirectObject(number, generation, reader))
            if not isinstance(stream, StreamObject) or stream.get("/Subtype") != "/Image":
                continue
            for key in ("/SMask", "/Mask"):
                mask = stream.raw_get(key) if key in stream else None
                if isinstance(mask, IndirectObject):
                    masks.add(mask.idnum)
            content = _picture(stream, min(left, limits.picture_bytes))
        except Exception:  # whatever a forged object makes the parser raise costs that object
            content = None
        if content is None or len(found) >= limits.archive_files:
            left_out += 1
            continue
        left -= len(content)
        found[number] = content
    return [content for number, content in found.items() if number not in masks], left_out


def _picture(stream: StreamObject, most: int) -> bytes | None:
    """None where it is too large, or in a form that is not read."""
    said = stream.get("/Filter", [])
    filters = [str(f) for f in said] if isinstance(said, list) else [str(said)]
    width, height = int(stream.get("/Width", 0)), int(stream.get("/Height", 0))
    if not filters or not set(filters) <= {*_AS_THEY_ARE, *_PACKED} or len(filters) > 2 or width < 1 or height < 1:
        return None
    if filters[-1] in _AS_THEY_ARE:
        content = bytes(stream._data) if len(filters) == 1 else bytes(stream.get_data())
        return content if 0 < len(content) <= most else None
    if width * height * 4 > most or stream.get("/ImageMask"):
        return None
    picture = stream.decode_as_image()
    if not isinstance(picture, Image.Image):
        return None
    out = io.BytesIO()
    picture.convert("RGB").save(out, "PNG", compress_level=1)
    return out.getvalue() if len(out.getvalue()) <= most else None
