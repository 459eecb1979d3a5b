"""The thread beside the upload page that mails the links to receipts: no form waits for a mail server."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from datetime import datetime

from moondesk.service.errors import DeskError
from moondesk.service.replies.receipt_mail import send_receipts
from moondesk.service.replies.sending import Post, post_of
from moondesk.service.replies.smtp import SECONDS
from moondesk.service.settings.config import Config
from moondesk.service.store.storage import Storage
from moondesk.service.web.tokens import Tokens

#: Between two looks for what is due again.
LOOK_SECONDS = 60.0


def post_for_receipts(config: Config, address: str) -> Post | None:
    """Where the links go out; None where no mail server is set, or the page does not know its own address."""
    if not address:
        return None
    try:
        return post_of(config)
    except DeskError as error:
        logging.getLogger(__name__).error("no receipt is mailed: %s", error)
        return None


class ReceiptSender:
    """Of one application; started once."""

    def __init__(self, config: Config, post: Post, tokens: Tokens, address: str, now: Callable[[], datetime]) -> None:
        self._config, self._post, self._tokens, self._address, self._now = config, post, tokens, address, now
        self._due, self._stop = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="receipts", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def wake(self) -> None:
        """One was queued."""
        self._due.set()

    def stop(self) -> None:
        """End after the mail that is being sent."""
        self._stop.set()
        self._due.set()
        if self._thread.ident is not None:
            self._thread.join(SECONDS + 1)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                with Storage(self._config.data_dir) as storage:
                    for ending in send_receipts(
                        storage, self._config.programme.name, self._post, self._link, self._now
                    ):
                        if ending != "sent":
                            logging.getLogger(__name__).warning("a receipt was not mailed: %s", ending)
                        if self._stop.is_set():
                            return
            except (DeskError, OSError) as error:
                logging.getLogger(__name__).error("receipts wait: %s", error)
            self._due.wait(LOOK_SECONDS)
            self._due.clear()

    def _link(self, key: str) -> str:
        return f"{self._address}/receipt/{self._tokens.receipt(key)}"
