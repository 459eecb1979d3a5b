"""WebSocket (RFC 6455): connections that the server hands over, each with a reader and a writer of its own.

The application says which paths they are (`SocketRoutes`); each asks at the door like any other request, when it opens
and again with what comes over it. What is to be sent waits in a short queue: who does not take it is let go, so that a
slow line never holds up the others.
"""

from __future__ import annotations

import logging
import queue
import re
import socket
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Protocol

from flask import Flask
from websockets.exceptions import ProtocolError
from websockets.frames import CloseCode, Frame, Opcode
from websockets.http11 import Request
from websockets.protocol import State
from websockets.server import ServerProtocol

from moondesk.service.errors import DeskError

#: Lines at the same time: mixers, controllers and windows of a few people.
MOST = 32
#: Bytes of one message; messages that wait for a line; seconds after which a silent line is asked whether it is there.
MESSAGE_BYTES, WAITING, SILENT_SECONDS = 4_096, 200, 20.0
#: How long what was found out about a line's right to be here may count.
ASK_AGAIN_SECONDS = 1.0

log = logging.getLogger(__name__)


class Talk(Protocol):
    """What an application does with a line."""

    def begin(self, line: Line) -> None:
        """It is open."""

    def hear(self, line: Line, text: str) -> None:
        """A message came; inside the request's context, after the door let it through."""

    def end(self, line: Line) -> None:
        """It is closed."""


@dataclass(frozen=True)
class SocketRoutes:
    """In an application's extensions as "moondesk.sockets". paths: of WebSockets; open: called inside the request's
    context after the door let it through; raises DeskError."""

    paths: re.Pattern[str]
    open: Callable[[], Talk]


@dataclass(eq=False)
class Line:
    """One connection. ask: whether it may still be here."""

    _socket: socket.socket
    _protocol: ServerProtocol
    _ask: Callable[[], bool]
    _waiting: queue.Queue[str | None] = field(default_factory=lambda: queue.Queue(WAITING))
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _asked: float = 0.0
    _allowed: bool = True

    def send(self, text: str) -> None:
        """Send a message when the line takes it; of any thread."""
        try:
            self._waiting.put_nowait(text)
        except queue.Full:
            self.drop()

    def drop(self) -> None:
        """End it now, whatever is on the way."""
        with suppress(OSError):  # it has gone already
            self._socket.shutdown(socket.SHUT_RDWR)

    def close(self, code: int = CloseCode.GOING_AWAY, reason: str = "") -> None:
        with self._lock:
            if self._protocol.state is State.OPEN:
                self._protocol.send_close(code, reason)
                self._flush()

    def is_allowed(self) -> bool:
        """Whether it may still be here, looked up once a second."""
        if time.monotonic() - self._asked >= ASK_AGAIN_SECONDS:
            self._asked, self._allowed = time.monotonic(), self._ask()
        return self._allowed

    def write(self) -> None:
        """Sends what waits, until None does."""
        try:
            while (text := self._waiting.get()) is not None:
                if not self.is_allowed():
                    self.close(CloseCode.POLICY_VIOLATION, "This address was ended.")
                    return
                with self._lock:
                    if self._protocol.state is State.OPEN:
                        self._protocol.send_text(text.encode())
                        self._flush()
        except (OSError, ProtocolError):
            self.drop()

    def read(self, hear: Callable[[str], None]) -> None:
        """Hands on what comes, until the line ends."""
        parts: list[bytes] = []
        silent = False
        while True:
            try:
                data = self._socket.recv(65_536)
            except TimeoutError:
                if silent:
                    return  # it was asked and has not answered
                silent = True
                if not self.is_allowed():
                    self.close(CloseCode.POLICY_VIOLATION, "This address was ended.")
                with self._lock:
                    if self._protocol.state is State.OPEN:
                        self._protocol.send_ping(b"there?")
                        self._flush()
                continue
            silent = False
            with self._lock:
                if data:
                    self._protocol.receive_data(data)
                else:
                    self._protocol.receive_eof()
                events = self._protocol.events_received()
                self._flush()
                over = self._protocol.close_expected()
            for event in events:
                if isinstance(event, Frame) and event.opcode in (Opcode.TEXT, Opcode.CONT):
                    parts.append(bytes(event.data))
                    if event.fin:
                        text, parts = b"".join(parts), []
                        hear(text.decode(errors="replace"))
                elif isinstance(event, Frame) and event.opcode is Opcode.BINARY:
                    self.close(CloseCode.UNSUPPORTED_DATA, "Messages are text.")
            if over or not data:
                return

    def _flush(self) -> None:
        for data in self._protocol.data_to_send():
            if data:
                self._socket.sendall(data)
            else:
                self._socket.shutdown(socket.SHUT_WR)

    def finish(self) -> None:
        """Ends the writer."""
        try:
            self._waiting.put_nowait(None)
        except queue.Full:
            with self._waiting.mutex:
                self._waiting.queue.clear()
            self._waiting.put_nowait(None)


class Sockets:
    """All lines of one server."""

    def __init__(self, app: Flask) -> None:
        self._app = app
        self._lines: set[Line] = set()
        self._lock = threading.Lock()
        self._ended = False

    @property
    def routes(self) -> SocketRoutes | None:
        return self._app.extensions.get("moondesk.sockets")

    def takes(self, path: str, headers: Mapping[str, str]) -> bool:
        """Whether a request is one for a line; headers: by names as the server keeps them."""
        routes = self.routes
        return (
            routes is not None
            and headers.get("UPGRADE", "").lower() == "websocket"
            and routes.paths.fullmatch(path) is not None
        )

    def take(self, sock: socket.socket, environ: dict[str, Any]) -> None:
        """Take a connection over, in threads of its own."""
        threading.Thread(target=self._serve, args=(sock, environ), name="socket", daemon=True).start()

    def close(self) -> None:
        with self._lock:
            self._ended = True
            lines = list(self._lines)
        for line in lines:
            with suppress(OSError):
                line.close()
            line.drop()

    def _serve(self, sock: socket.socket, environ: dict[str, Any]) -> None:
        try:
            sock.settimeout(SILENT_SECONDS)
            self._talk(sock, environ)
        except (OSError, ProtocolError):
            pass  # it has gone
        except Exception:
            log.exception("a line ended")
        finally:
            sock.close()

    def _talk(self, sock: socket.socket, environ: dict[str, Any]) -> None:
        protocol = ServerProtocol(max_size=MESSAGE_BYTES)
        protocol.receive_data(_head(environ))
        # for the application it is the address's plain request: its routes know no other
        environ = {k: v for k, v in environ.items() if k not in ("HTTP_UPGRADE", "HTTP_CONNECTION")}
        talk = self._admit(environ)
        asked = next((e for e in protocol.events_received() if isinstance(e, Request)), None)
        if asked is None or talk is None or not self._has_room():
            status = 400 if asked is None else 403 if talk is None else 503
            sock.sendall(b"HTTP/1.1 %d No\r\nContent-Length: 0\r\nConnection: close\r\n\r\n" % status)
            return
        protocol.send_response(protocol.accept(asked))
        line = Line(sock, protocol, lambda: self._admit(environ) is not None)
        with line._lock:
            line._flush()
        if protocol.state is not State.OPEN:
            return  # it was no WebSocket after all, and has been told so
        with self._lock:
            if self._ended:
                return
            self._lines.add(line)
        writer = threading.Thread(target=line.write, name="socket writer", daemon=True)
        writer.start()
        try:
            talk.begin(line)
            line.read(lambda text: self._hear(talk, line, environ, text))
        finally:
            with self._lock:
                self._lines.discard(line)
            talk.end(line)
            line.finish()
            writer.join(SILENT_SECONDS)

    def _hear(self, talk: Talk, line: Line, environ: dict[str, Any], text: str) -> None:
        if not line.is_allowed():
            line.close(CloseCode.POLICY_VIOLATION, "This address was ended.")
            return
        with self._app.request_context(dict(environ)):
            talk.hear(line, text)

    def _admit(self, environ: dict[str, Any]) -> Talk | None:
        """None: the door does not let it through."""
        routes = self.routes
        with self._app.request_context(dict(environ)):
            try:
                if routes is None or self._app.preprocess_request() is not None:
                    return None
                return routes.open()
            except DeskError:
                return None
            except Exception as error:
                if getattr(error, "code", None) is None:  # one of HTTP's own says that there is no such address
                    log.exception("a line could not be judged")
                return None

    def _has_room(self) -> bool:
        with self._lock:
            return len(self._lines) < MOST


def _head(environ: Mapping[str, Any]) -> bytes:
    """The request's head again, as the protocol reads it."""
    rows = [f"GET {environ['PATH_INFO'].encode('latin-1').decode('ascii', 'replace')} HTTP/1.1"]
    rows += [f"{k[5:].replace('_', '-')}: {v}" for k, v in environ.items() if k.startswith("HTTP_")]
    return "\r\n".join([*rows, "", ""]).encode("latin-1", "replace")
