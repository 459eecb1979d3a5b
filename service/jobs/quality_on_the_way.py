"""What a child measured of a picture, on its way to the store."""

from __future__ import annotations

from typing import TYPE_CHECKING

from moondesk.service.jobs.plain_values import NotPlainError, plain_of, read_plain

if TYPE_CHECKING:
    from moondesk.quality.measurement import Quality
    from moondesk.records import NotFound


def measure_quality(quality: Quality | NotFound) -> bytes:
    """In the child."""
    return plain_of(quality)[0]


def quality_row(told: bytes) -> str:
    """As the store keeps it; b"": nothing was measured. Raises ValueError for what is no quality.

    The records are loaded here and not before: half a second of processor, in a thread, while children work.
    """
    if not told:
        return ""
    from moondesk.quality.measurement import Quality
    from moondesk.records import NotFound
    from moondesk.service.store.measured import quality_text

    try:
        return quality_text(read_plain(Quality | NotFound, told, []))
    except NotPlainError as error:
        raise ValueError(f"what was measured cannot be read: {error}") from error
