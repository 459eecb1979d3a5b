"""What is stated of a picture in more than one place, computed once: notes, reply, page and exports say the same."""

from __future__ import annotations

from annotate.records import Annotation
from annotate.telling.dating import time_to_state


def lit_fraction(annotation: Annotation) -> float | None:
    """The lit share (0..1) of the disc: by the ephemeris where the time may be stated, else as the picture's own light
    shows it; None where neither is known, and in an eclipse."""
    if annotation.terminator is None:
        return None
    if time_to_state(annotation) is None or annotation.aspect is None:
        return annotation.terminator.illuminated_fraction
    return annotation.aspect.illuminated_fraction
