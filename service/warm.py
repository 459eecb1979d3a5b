"""Imported by the server of the worker processes before it forks any: the core, its maps and catalogue, read once.

Every worker then starts with them in shared memory. Nothing here may leave a thread running: threads do not survive a
fork. Left to the workers: what only some pictures need.
"""

from __future__ import annotations

import gc
from datetime import UTC, datetime

import cv2

cv2.setNumThreads(1)

from annotate.catalogue import feature_arrays  # noqa: E402 (after the line that keeps OpenCV to one thread)
from annotate.ephemeris import aspect_at  # noqa: E402
from annotate.maps import maps  # noqa: E402
from annotate.overlay.font import text_size  # noqa: E402
from annotate.overlay.seas import sea_map  # noqa: E402
from service import derive, placing  # noqa: E402
from service.engine import load_engine  # noqa: E402

__all__ = ["derive", "placing"]

maps()
feature_arrays()
sea_map()
aspect_at(datetime(2026, 1, 1, tzinfo=UTC), None)
text_size("Mare Imbrium", 20.0)
load_engine()
#: What was loaded stays as it is: no collection need look through it again, nor copy its pages into each worker.
gc.collect()
gc.freeze()
