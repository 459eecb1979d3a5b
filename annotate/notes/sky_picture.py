"""The Moon of an evening as a picture that nobody took: for what is said of it while no picture stands."""

from __future__ import annotations

import math
from datetime import datetime

from moondesk.comparison.predicted import predicted_pose
from moondesk.ephemeris.aspect import aspect_at
from moondesk.records import (
    Annotation,
    Clock,
    ClockVerdict,
    EveningKnowledge,
    EveningVerdict,
    Place,
    Status,
    Terminator,
    TimeCandidate,
    TimeReadings,
)

#: Of a drawing nobody looks at; claims ask only what lies inside its frame.
SIZE_PX = 1024


def sky_picture(when: datetime, place: Place | None) -> Annotation:
    """As a sharp picture of the whole disc at that instant would be annotated, without marks: nothing can be seen in it."""
    aspect = aspect_at(when, place)
    candidate = TimeCandidate(when, 0.0, "told")
    return Annotation(
        status=Status.ANNOTATED,
        sure=True,
        width=SIZE_PX,
        height=SIZE_PX,
        taken=TimeReadings(candidates=(candidate,), earliest_utc=None, latest_utc=None),
        time=candidate,
        clock=Clock(ClockVerdict.AGREES, when, 0.0),
        pose=predicted_pose(aspect, SIZE_PX),
        terminator=Terminator(
            math.degrees(math.acos(2.0 * aspect.illuminated_fraction - 1.0)), aspect.illuminated_fraction, math.nan, 0.0
        ),
        aspect=aspect,
        dated=EveningKnowledge(EveningVerdict.SURE),
    )
