"""Imported by the server of the worker processes before it forks any: the core, its maps and catalogue, read once.

Every worker then starts with them in shared memory. Nothing here may leave a thread running: threads do not survive a
fork. Left to the workers: what only some pictures need.
"""

from __future__ import annotations

import gc
import logging
from datetime import UTC, datetime
from importlib import import_module


def load() -> None:
    """Load the core and what it reads but once."""
    import cv2

    cv2.setNumThreads(1)
    from annotate.moon.catalogue import feature_arrays
    from annotate.moon.maps import maps
    from annotate.overlay.font import text_size
    from annotate.overlay.seas import sea_map
    from annotate.sky.ephemeris import aspect_at
    from service.work.engine import load_engine

    for name in ("service.arrivals.reading", "service.work.copies", "service.work.derive", "service.work.placing"):
        import_module(name)
    maps()
    feature_arrays()
    sea_map()
    aspect_at(datetime(2026, 1, 1, tzinfo=UTC), None)
    text_size("Mare Imbrium", 20.0)
    load_engine()
    # What was loaded stays as it is: no collection need look through it again, nor copy its pages into each worker.
    gc.collect()
    gc.freeze()


try:
    load()
except Exception:  # the server must live: each worker meets the fault itself, and tells it with its picture
    logging.getLogger(__name__).exception("the core cannot be loaded")
