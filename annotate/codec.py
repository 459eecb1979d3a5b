"""A whole annotation as JSON text, as the store keeps it, and back.

Nothing is rounded, every field is kept. What an older version wrote is read too: fields that came later take their
defaults, keys that went are passed over.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import msgspec

from moondesk.records import Annotation, Pose
from moondesk.sentences import sentence_in_words

#: Not strict: older texts hold infinities as "inf", which JSON has no number for.
_READ = msgspec.json.Decoder(Annotation, strict=False)


class _InWords(msgspec.Struct):
    """What texts held before reasons were kept as codes."""

    reason: str = ""
    advice: str = ""


_READ_WORDS = msgspec.json.Decoder(_InWords)
#: What of a pose may be unknown, written as null.
_UNKNOWN = [name for name, value in vars(Pose).items() if isinstance(value, float) and math.isnan(value)]


def annotation_to_json(annotation: Annotation) -> str:
    """The record as compact JSON text.

    A nan is written as null and read back as nan (fields of a pose, errors of places), or as None where the field may be None. Raises
    ValueError for any other number that is not finite: it could not be read back.
    """
    text = msgspec.json.encode(annotation, enc_hook=lambda number: number.item())  # of numpy
    _read(text)
    return text.decode()


def annotation_from_json(text: str) -> Annotation:
    """The record that `annotation_to_json` wrote. Raises ValueError where the text is not such a record.

    >>> annotation_from_json('{"status": "annotated"}')
    Traceback (most recent call last):
    msgspec.ValidationError: Object missing required field `sure`
    """
    return _read(text.encode())


def _read(text: bytes) -> Annotation:
    read = _read_record(text)
    if b'"reasons":' in text:
        return read
    words = _READ_WORDS.decode(text)
    return replace(read, reasons=sentence_in_words(words.reason), advices=sentence_in_words(words.advice))


def _read_record(text: bytes) -> Annotation:
    try:
        return _READ.decode(text)
    except msgspec.ValidationError:
        plain = msgspec.json.decode(text)
        known = _with_nan(plain) if isinstance(plain, dict) else plain
        if known == plain:
            raise
        return msgspec.convert(known, Annotation, strict=False)


def _with_nan(plain: dict[str, Any]) -> dict[str, Any]:
    """The same with nan for what was not known of the pose, and so of the places of features."""
    pose: dict[str, Any] | None = plain.get("pose")
    known = {k: v for k, v in pose.items() if v is not None or k not in _UNKNOWN} if pose else None
    marks: list[dict[str, Any]] = plain.get("features") or []
    return {
        **plain,
        "pose": known,
        "features": [{**mark, "sigma_px": math.nan} if mark.get("sigma_px", 0.0) is None else mark for mark in marks],
    }
