"""Placing beside the desk: a thread of its process leases what waits and has its children place it.

It is meant to run as long as the desk does. Whatever goes wrong ends one round, is told at the desk with the time since
when nothing is placed, and the next round begins anew. Other programs may place at the same time, see `store.queue`.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from moondesk.service.errors import DeskError
from moondesk.service.store.records import SentPicture, StoredAnnotation
from moondesk.service.store.storage import Storage

log = logging.getLogger(__name__)

#: Between two looks at the queue, and before another try after something went wrong.
LOOK_SECONDS, AGAIN_SECONDS = 1.0, 5.0
#: How long a round may take to end once it is asked to.
STOP_SECONDS = 15.0

AGAIN = "It is tried again by itself."

#: One round: places what waits, yields what was placed; asked after each whether to stop.
Round = Callable[[Storage, Callable[[], bool]], Iterator[tuple[SentPicture, StoredAnnotation]]]


@dataclass(frozen=True)
class WorkTrouble:
    """Why nothing is placed, as a sentence, and since when."""

    sentence: str
    since_utc: datetime


class Beside:
    """place: one round. told: called with each picture that was placed."""

    def __init__(
        self,
        data_dir: Path,
        place: Round,
        told: Callable[[SentPicture, StoredAnnotation], None],
        again_seconds: float = AGAIN_SECONDS,
        look_seconds: float = LOOK_SECONDS,
    ) -> None:
        self._data_dir, self._place, self._told = data_dir, place, told
        self._again, self._look = again_seconds, look_seconds
        self._stop = threading.Event()
        self._trouble: WorkTrouble | None = None
        self._thread = threading.Thread(target=self._run, name="placing", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """Give back what is being placed, end the children, and wait for it."""
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join(STOP_SECONDS)

    @property
    def trouble(self) -> WorkTrouble | None:
        """None while all is well."""
        if self._trouble is None and self._thread.ident is not None and not self._thread.is_alive():
            return WorkTrouble("It has ended; start the desk again.", datetime.now(UTC))
        return self._trouble

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                with Storage(self._data_dir) as storage:
                    while not self._stop.wait(self._look):
                        self._round(storage)
            except DeskError as error:
                self._failed(" ".join(filter(None, (str(error), error.advice, AGAIN))))
            except Exception as error:
                log.exception("placing")
                self._failed(f"{type(error).__name__}: {error}. {AGAIN}")
            self._stop.wait(self._again)

    def _round(self, storage: Storage) -> None:
        with closing(self._place(storage, self._stop.is_set)) as placed:  # type: ignore[type-var]
            for picture, stored in placed:
                self._trouble = None
                self._told(picture, stored)
        self._trouble = None

    def _failed(self, sentence: str) -> None:
        since = self._trouble.since_utc if self._trouble else datetime.now(UTC)
        if self._trouble is None or self._trouble.sentence != sentence:
            log.warning("Placing has stopped: %s", sentence)
        self._trouble = WorkTrouble(sentence, since)
