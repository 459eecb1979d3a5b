"""A whole annotation as JSON text, as the store keeps it, and back.

Nothing is rounded, every field is kept. What an older version wrote is read too: fields that came later take their
defaults, keys that went are passed over.
"""

from __future__ import annotations

import math
from typing import Any

import msgspec

from moondesk.records import Annotation, Pose

#: Not strict: older texts hold infinities as "inf", which JSON has no number for.
_READ = msgspec.json.Decoder(Annotation, strict=False)
#: What of a pose may be unknown, written as null.
_UNKNOWN = [name for name, value in vars(Pose).items() if isinstance(value, float) and math.isnan(value)]


def annotation_to_json(annotation: Annotation) -> str:
    """The record as compact JSON text.

    A nan is written as null and read back as nan (fields of a pose), or as None where the field may be None. Raises
    ValueError for any other number that is not finite: it could not be read back.
    """
    text = msgspec.json.encode(annotation, enc_hook=lambda number: number.item())  # of numpy
    _read(text)
    return text.decode()


def annotation_from_json(text: str) -> Annotation:
    """The record that `annotation_to_json` wrote. Raises ValueError where the text is not such a record."""
    return _read(text.encode())


def _read(text: bytes) -> Annotation:
    try:
        return _READ.decode(text)
    except msgspec.ValidationError:
        plain = msgspec.json.decode(text)
        pose: dict[str, Any] | None = plain.get("pose") if isinstance(plain, dict) else None
        known = {k: v for k, v in pose.items() if v is not None or k not in _UNKNOWN} if pose else None
        if known == pose:
            raise
        return msgspec.convert({**plain, "pose": known}, Annotation, strict=False)
