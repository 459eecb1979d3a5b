"""An application on a free port of this machine, by the server that the product uses."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from moondesk.service.web.serving import GuardedServer, server_for


@contextmanager
def running(app: Any) -> Iterator[GuardedServer]:
    """The server, listening; its port is `effective_port`."""
    server = server_for(app, "127.0.0.1", 0)
    thread = threading.Thread(target=server.run)
    thread.start()

    def stop() -> None:  # in the server's own thread: its loop ends when nothing is left to listen to
        for channel in list(server.active_channels.values()):
            channel.handle_close()
        server.close()

    try:
        yield server
    finally:
        server.trigger.pull_trigger(stop)
        thread.join()
        server.task_dispatcher.shutdown()
