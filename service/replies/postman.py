"""The thread beside the desk that sends what somebody said to send: a mail server may take its time, and no page waits.

It takes queued replies one after the other, each claimed in the store before anything goes over the line; so a second
desk, or `moondesk send`, may run at the same time.
"""

from __future__ import annotations

import logging
import threading
from datetime import UTC, datetime
from pathlib import Path

from moondesk.service.errors import DeskError
from moondesk.service.replies.sending import post_of, send_due
from moondesk.service.replies.smtp import SECONDS
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage

#: Between two looks for what is due again.
LOOK_SECONDS = 15.0


class ReplySender:
    """Of one data folder; started once."""

    def __init__(self, data_dir: Path) -> None:
        self._data_dir = data_dir
        self._due, self._stop = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="sending", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def wake(self) -> None:
        """Something was queued."""
        self._due.set()

    def stop(self) -> None:
        """End after the mail that is being sent: one that is cut off has an end that nobody knows."""
        self._stop.set()
        self._due.set()
        if self._thread.ident is not None:
            self._thread.join(SECONDS + 1)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                self._send()
            except (DeskError, OSError) as error:
                logging.getLogger(__name__).error("replies wait: %s", error)
            self._due.wait(LOOK_SECONDS)
            self._due.clear()

    def _send(self) -> None:
        config = load_config(self._data_dir)
        post = post_of(config)
        if post is None:
            return
        with Storage(self._data_dir) as storage:
            for _ in send_due(storage, config, post, lambda: datetime.now(UTC), queued=True):
                if self._stop.is_set():
                    return
