"""A picture's measured quality as the store keeps it: JSON text. Pure."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any

from moondesk.sentences import Sentence

if TYPE_CHECKING:
    from moondesk.quality.measurement import Quality
    from moondesk.records import NotFound


def quality_text(quality: Quality | NotFound) -> str:
    """Numbers that are none (nan) become null."""
    return json.dumps(_plain(asdict(quality)), ensure_ascii=False, allow_nan=False)


def quality_of(text: str) -> Quality | NotFound:
    """Raises ValueError, KeyError or TypeError for what `quality_text` of this release did not write."""
    from moondesk.quality.measurement import Quality, TerminatorMeasure
    from moondesk.quality.resolution import Resolution

    told: dict[str, Any] = json.loads(text)
    if "stage" in told:
        return _failure(told)
    low, fine = told.pop("terminator"), told.pop("resolution")
    numbers = {f.name: math.nan if told[f.name] is None else told[f.name] for f in fields(Quality) if f.name in told}
    terminator = TerminatorMeasure(low["share"], tuple(low["names"]), low["possible"]) if low else None
    return Quality(
        **numbers, terminator=terminator, resolution=_failure(fine) if "stage" in fine else Resolution(**fine)
    )


def _failure(told: dict[str, Any]) -> NotFound:
    from moondesk.records import NotFound

    if "reason" in told:  # of a time when it was kept in words
        return NotFound(**told)
    reasons, advices = (tuple(Sentence(**one) for one in told[name]) for name in ("reasons", "advices"))
    return NotFound(told["stage"], reasons, advices)


def measured_quality(text: str) -> Quality | None:
    """None where it could not be measured, or another release wrote it: it is measured anew when placed anew."""
    from moondesk.quality.measurement import Quality

    try:
        found = quality_of(text) if text else None
    except (ValueError, KeyError, TypeError):
        return None
    return found if isinstance(found, Quality) else None


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
