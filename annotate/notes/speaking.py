"""The notes of one picture, put together: cautions first, then the Moon as a whole, then feature by feature."""

from __future__ import annotations

from datetime import datetime

from annotate.notes.records import Night, Note, Notes
from annotate.notes.said import Number, say
from annotate.records import Annotation, NotFound


def notes_of(annotation: Annotation, when: datetime | None, earlier: Night | None = None,
             following: Night | None = None) -> Notes | NotFound:
    """What can be said of a placed picture; NotFound for one that is not placed.

    when: when it was taken, None where nobody knows: then only the picture's own light speaks. earlier: the evening
    from which it is counted what has newly come into the light; following: the next evening.
    """
    if annotation.pose is None or annotation.terminator is None:
        return NotFound("notes", annotation.reason or "The picture is not placed.",
                        annotation.advice or "Place it by hand on its page.")
    lit = annotation.terminator.illuminated_fraction
    return Notes((Note("phase", say("{percent} % of the disc is lit.", percent=Number(100 * lit))),))
