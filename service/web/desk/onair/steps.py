"""What stands on air, kept in the store; and in memory where that cannot be written: no full disk stops a programme.

What is kept in memory alone is lost with the process; the windows that drive the page still have it then.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, field

from moondesk.service.errors import StorageError
from moondesk.service.store import air as air_store
from moondesk.service.store.air import AirState
from moondesk.service.store.storage import Storage


@dataclass(frozen=True)
class Steps:
    """Of one application; a state of memory counts until the store has a later one. heard: each is called with the
    edition's id after a change."""

    heard: list[Callable[[int], None]] = field(default_factory=list)
    _kept: dict[int, AirState] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def now(self, storage: Storage, edition_id: int, now_ms: int) -> AirState:
        """What stands on air by now; now_ms: the desk's clock."""
        kept = self._kept.get(edition_id, AirState())
        stored = air_store.state(storage, edition_id, now_ms)
        return stored if stored.at_ms >= kept.at_ms else kept

    def put(self, storage: Storage, edition_id: int, told: AirState, now_ms: int) -> AirState:
        """Keep a state unless a later one is there; the one that stands then. ValueError for one from the future."""
        return self.change(storage, edition_id, lambda _: told, now_ms)

    def change(self, storage: Storage, edition_id: int, step: Callable[[AirState], AirState], now_ms: int) -> AirState:
        """Keep what becomes of the state that stands, if its count is later; the one that stands then."""
        with self._lock:
            now = self.now(storage, edition_id, now_ms)
            told = step(now)
            if told.at_ms > now_ms + air_store.AHEAD_MS:
                raise ValueError(f"a step of {told.at_ms} at {now_ms}")
            if told.at_ms <= now.at_ms:
                return now
            stands = self._keep(storage, edition_id, told, now_ms)
        for hear in tuple(self.heard):
            hear(edition_id)
        return stands

    def _keep(self, storage: Storage, edition_id: int, told: AirState, now_ms: int) -> AirState:
        try:
            return air_store.keep_state(storage, edition_id, told, now_ms)
        except StorageError as error:
            logging.getLogger(__name__).error("a step on air is kept in memory alone: %s", error)
            self._kept[edition_id] = told
            return told
