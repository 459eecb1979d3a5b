"""What is stated of a picture in more than one place: notes, reply, page and exports say the same."""

from __future__ import annotations

from moondesk.records import Annotation


def lit_fraction(annotation: Annotation) -> float | None:
    """The lit share (0..1) of the disc as the observer saw it; None without a light, and in an eclipse.

    Under the picture's one Sun (`time_of_picture.one_sun`): the ephemeris' where the time may be stated, else its light's.
    """
    return None if annotation.terminator is None else annotation.terminator.illuminated_fraction
