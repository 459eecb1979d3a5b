"""Frames that are not there yet, made while the windows wait: no answer stands in line behind a drawing.

One thread an edition and format; whoever asks meanwhile is told what is still being made.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Collection
from dataclasses import dataclass, field, replace

from moondesk.service.errors import DeskError
from moondesk.service.programme.air_plan import AirPlan

#: A frame that could not be made is tried again after so many seconds.
AGAIN_SECONDS = 30.0


@dataclass(frozen=True)
class FrameMaker:
    """Of one application."""

    _running: set[tuple[int, str]] = field(default_factory=set)
    #: What could not be made, and when that was: (sender, why) by edition and format.
    _failed: dict[tuple[int, str], tuple[float, tuple[tuple[str, str], ...]]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def begin(self, edition_id: int, shape: str, wanted: Collection[str], make: Callable[[], AirPlan]) -> None:
        """Have all frames made, unless that is being done or has just failed. wanted: the senders of those that are
        not there; make: the whole plan, however long it takes."""
        key = edition_id, shape
        with self._lock:
            failed_at = self._failed.get(key, (-AGAIN_SECONDS, ()))[0]
            if key in self._running or time.monotonic() - failed_at < AGAIN_SECONDS:
                return
            self._running.add(key)
        threading.Thread(target=self._run, args=(key, wanted, make), name="frames", daemon=True).start()

    def amend(self, edition_id: int, shape: str, plan: AirPlan) -> AirPlan:
        """The plan with what could not be made told as such."""
        failed = dict(self._failed.get((edition_id, shape), (0.0, ()))[1])
        told = tuple((sender, failed[sender]) for sender in plan.making if sender in failed)
        making = tuple(sender for sender in plan.making if sender not in failed)
        return replace(plan, making=making, left_out=(*plan.left_out, *told)) if told else plan

    def _run(self, key: tuple[int, str], wanted: Collection[str], make: Callable[[], AirPlan]) -> None:
        failed: tuple[tuple[str, str], ...] = ()
        try:
            failed = tuple((sender, why) for sender, why in make().left_out if sender in wanted)
        except DeskError as error:
            logging.getLogger(__name__).error("frames for air wait: %s", error)
        except Exception:
            logging.getLogger(__name__).exception("frames for air")
        with self._lock:
            self._running.discard(key)
            self._failed[key] = time.monotonic() if failed else -AGAIN_SECONDS, failed
