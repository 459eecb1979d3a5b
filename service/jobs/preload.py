"""Loaded by the program of the children before it forks any: the core, its maps and catalogue, read once.

Every child then starts with them in shared memory, and lives for one call: what is not here is loaded for each call
that needs it. Nothing here may leave a thread running: threads do not survive a fork.
"""

from __future__ import annotations

import logging
from datetime import UTC, datetime
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from moondesk.service.jobs.engine import Engine

#: Modules whose functions are called in children, and what those load only when it comes to it.
CALLED = (
    "moondesk.service.exports.collection_files",
    "moondesk.service.exports.science_files",
    "moondesk.service.intake.reading",
    "moondesk.service.replies.sending",
    "moondesk.service.jobs.frame_files",
    "moondesk.service.jobs.duplicate_search",
    "moondesk.service.jobs.hand_corrections",
    "moondesk.service.jobs.derived_pictures",
    "moondesk.service.jobs.comparison_pictures",
    "moondesk.service.jobs.turned_layouts",
    "moondesk.service.jobs.placing",
    "moondesk.service.jobs.plain_values",
    "moondesk.service.jobs.shadow_heights",
    "fontTools.ttLib",
    "moondesk.drawing.broadcast",
    "moondesk.drawing.svg",
    "moondesk.tour.rendered",
    "moondesk.tour.shared",
    "moondesk.tour.spotlight",
    "moondesk.corrections",
    "moondesk.duplicates.likeness",
    "moondesk.quality.measurement",
    "moondesk.shadows.craters",
    "moondesk.ephemeris.naked_eye",
    "moondesk.service.store.measured",
    "PIL.ImageOps",
)

#: Of the rehearsal.
FIRST_QUARTER, SIZE_PX = datetime(2026, 10, 18, 18, 0, tzinfo=UTC), 400


def load() -> None:
    """Load the core and what it reads but once."""
    import cv2

    cv2.setNumThreads(1)
    from moondesk.drawing.seas import sea_map
    from moondesk.drawing.text import text_size
    from moondesk.moon.catalogue import feature_arrays
    from moondesk.moon.maps import maps
    from moondesk.service.jobs.engine import load_engine

    for name in CALLED:
        import_module(name)
    maps()
    feature_arrays()
    sea_map()
    text_size("Mare Imbrium", 20.0)
    rehearse(load_engine())


def rehearse(engine: Engine) -> None:
    """Place and draw a Moon of our own, so that what is reckoned at the first picture is there before each."""
    import cv2

    from moondesk.comparison.predicted import predicted_moon
    from moondesk.ephemeris.aspect import aspect_at
    from moondesk.records import Known
    from moondesk.service.jobs.placing import Work, work_on
    from moondesk.service.store.media import AT_FIRST

    drawn = predicted_moon(aspect_at(FIRST_QUARTER, None), SIZE_PX, "north")
    done, data = cv2.imencode(".jpg", cv2.copyMakeBorder(drawn, 60, 60, 90, 90, cv2.BORDER_CONSTANT))
    worked = work_on(engine, data.tobytes(), Work(Known(taken_utc=FIRST_QUARTER), None, AT_FIRST, True))
    if not done or not worked.annotation.status.facts.is_named:
        logging.getLogger(__name__).info("the rehearsal was not placed: %s", worked.annotation.reason)


try:
    load()
except Exception:  # the program must live: each child meets the fault itself, and tells it with its picture
    logging.getLogger(__name__).exception("the core cannot be loaded")
