"""Who was turned away at the upload page, counted in memory and kept in the store now and then: a flood must not cost a
write for each of its requests."""

from __future__ import annotations

import logging
import threading
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from moondesk.service.errors import StorageError
from moondesk.service.store import turned_away
from moondesk.service.store.storage import Storage

Reason = Literal["often", "room"]
KEEP_EVERY = 20.0


@dataclass
class TurnedAway:
    """clock: seconds that only grow."""

    clock: Callable[[], float]
    _counts: Counter[str] = field(default_factory=Counter)
    _kept: float = field(default=float("-inf"))
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def count(self, reason: Reason) -> None:
        with self._lock:
            self._counts[reason] += 1

    def keep(self, open_storage: Callable[[], Storage], now: datetime, at_once: bool = False) -> None:
        """Write what was counted, at most every KEEP_EVERY seconds but for at_once; what cannot be is kept on."""
        with self._lock:
            if not self._counts or (not at_once and self.clock() - self._kept < KEEP_EVERY):
                return
            self._kept = self.clock()
            counts, self._counts = self._counts, Counter()
        logging.getLogger(__name__).warning("forms turned away: %s", dict(counts))
        with suppress(StorageError):
            turned_away.add(open_storage(), now, counts)
            return
        with self._lock:
            self._counts += counts
