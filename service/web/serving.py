"""The server of both applications: waitress, with bounds on what a stranger may hold of it.

    connections of an address      the longest idle one gives way to a new one, else one whose head is still on its way
    a request's head               all of it within seconds (`Pace`)
    a request's body               judged by the application before a byte of it is kept (`arriving`); a least rate
    a WebSocket                    taken out of all this, with bounds of its own (`sockets`)
    a proxy's connections          not counted: it has its own bounds, and its requests name whom they come from

Everything here but the answering itself runs in the server's one thread of input and output.
"""

from __future__ import annotations

import functools
import io
import logging
import re
import threading
import time
from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

from flask import Flask
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.server import TcpWSGIServer
from waitress.task import ErrorTask, ThreadedTaskDispatcher, WSGITask

from moondesk.service.errors import DeskError
from moondesk.service.web.arriving import VERDICT, Arriving, RequestBody, Verdict
from moondesk.service.web.bodies import TEXT_BYTES
from moondesk.service.web.sockets import Sockets
from moondesk.service.web.visitors import client_address, networks_of

#: Threads that answer, and those kept for what must not wait behind anything (see `Bounds.prompt`).
THREADS, PROMPT_THREADS = 6, 2
#: Connections of all addresses together.
CONNECTIONS = 400
#: Addresses of IPv6 are one customer's by the /64; a whole /48 may have so many times what one may.
WIDER = 4
#: Of a head; common practice is 8 kB.
HEAD_BYTES = 32_768
#: Of a refused body, what is thrown away at least before the connection is ended.
DRAINED = 4_000_000
#: Answers lie in memory: the disk may be full.
ANSWER_BYTES = 64_000_000

_TOO_MANY = (
    b"<!doctype html><meta charset=utf-8><title>A moment, please</title><h1>A moment, please</h1><p>Too many "
    b"connections are open from where you are. Please go back and try again in a minute."
)


@dataclass(frozen=True, kw_only=True)
class Pace:
    """Seconds: for a head, of an idle connection; and the bytes that a body brings at least in so many seconds."""

    head: float = 10.0
    idle: float = 30.0
    #: Of a proxy, which keeps its connections for what comes next; common practice there is a minute.
    proxy_idle: float = 150.0
    window: float = 30.0
    least: int = 60_000


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """What an application lets in; it stands in its extensions as "moondesk.bounds".

    judge: asked inside the request's context, before its body is read, if that is no short text. most: of the largest
    body; connections: of one address; prompt: paths that are answered by threads of their own.
    """

    judge: Callable[[], Verdict]
    arriving: Arriving
    most: int
    connections: int
    proxies: Collection[str] = ()
    prompt: re.Pattern[str] | None = None
    pace: Pace = Pace()


def server_for(app: Flask, host: str, port: int) -> GuardedServer:
    """A server for an application, listening; `run` serves until Ctrl-C. Raises OSError where the port is taken."""
    bounds: Bounds = app.extensions["moondesk.bounds"]
    settings = Adjustments(
        host=host,
        port=port,
        ident=None,
        threads=THREADS,
        recv_bytes=65_536,
        connection_limit=CONNECTIONS + 100,
        asyncore_use_poll=True,
        max_request_header_size=HEAD_BYTES,
        max_request_body_size=3 * bounds.most,
        outbuf_overflow=ANSWER_BYTES,
        clear_untrusted_proxy_headers=False,
    )  # they are judged by `visitors`
    return GuardedServer(app, settings, bounds)


class Parser(HTTPRequestParser):
    """One request as it comes in; its body goes where `RequestBody` puts it."""

    body_rcv: Any
    content_length: int
    expect_continue: bool

    def __init__(self, adj: Adjustments, channel: Channel) -> None:
        super().__init__(adj)
        self.body: RequestBody | None = None
        self.judged = False
        self.began = time.monotonic()
        self._channel = channel

    def received(self, data: bytes) -> int:
        count: int = super().received(data)
        body = self.body
        if body is not None and body.verdict.status and body.drained > max(DRAINED, 2 * body.verdict.most):
            self.end(body.verdict.status)
        return count

    def parse_header(self, header_plus: bytes) -> None:
        super().parse_header(header_plus)
        if self.body_rcv is None:
            return
        self.judged = self.chunked or self.content_length > TEXT_BYTES
        verdict = self._channel.judged(self) if self.judged else Verdict(TEXT_BYTES)
        self.body = RequestBody(self._channel.server.bounds.arriving, self._channel.asking(self), verdict)
        self.body_rcv.buf = self.body
        self.began = time.monotonic()
        if verdict.status and self.expect_continue:  # it waits for a word before it sends anything
            self.expect_continue = False
            self.body_rcv, self.content_length = None, 0
            self.end(verdict.status)

    def end(self, status: int) -> None:
        """Complete it as it is, refused; the connection ends with the answer, for what still comes is no request."""
        if self.body is not None and not self.body.verdict.status:
            self.body.cut(status)
        self.headers["CONNECTION"] = "close"
        self.completed = True

    def close(self) -> None:
        if self.body is not None:
            self.body.close()


class GuardedTask(WSGITask):
    """Hands the verdict on a request's body to the application; of a refused one there is nothing to read."""

    def get_environment(self) -> dict[str, Any]:
        environ: dict[str, Any] = super().get_environment()
        body: RequestBody | None = self.request.body
        if body is None:
            return environ
        if self.request.judged or body.verdict.status:
            environ[VERDICT] = body.verdict
        if body.verdict.status:
            environ["CONTENT_LENGTH"] = "0"
            environ["wsgi.input"] = io.BytesIO()
        return environ


class Channel(HTTPChannel):
    """One connection."""

    request: Parser | None
    requests: list[Parser]
    task_class = GuardedTask
    error_task_class = ErrorTask

    def __init__(self, server: GuardedServer, sock: Any, addr: Any, adj: Adjustments, map: Any = None) -> None:
        self.seen = self.opened = time.monotonic()
        self.answered = False
        self.networks = networks_of(str(addr[0]))
        self._mark = (0.0, 0)
        super().__init__(server, sock, addr, adj, map)
        self.parser_class = functools.partial(Parser, channel=self)

    def judged(self, request: Parser) -> Verdict:
        """What the application says to the body that is announced."""
        server: GuardedServer = self.server
        environ = {**WSGITask(self, request).get_environment(), "wsgi.input": io.BytesIO()}
        try:
            with server.app.request_context(environ):
                return server.bounds.judge()
        except DeskError:
            return Verdict(status=503)
        except Exception:
            logging.getLogger(__name__).exception("a request's body could not be judged")
            return Verdict(status=503)

    def asking(self, request: Parser) -> str:
        """The address that a body is counted for."""
        return client_address(str(self.addr[0]), request.headers.get("X_FORWARDED_FOR", ""), self.server.bounds.proxies)

    def handle_read(self) -> None:
        self.seen = time.monotonic()
        super().handle_read()

    def _flush_some(self, do_close: bool = True) -> bool:
        sent: bool = super()._flush_some(do_close)
        if sent:
            self.seen = time.monotonic()
        return sent

    def write_soon(self, data: Any) -> int:
        self.seen = time.monotonic()
        return int(super().write_soon(data))

    def service(self) -> None:
        self.answered = True
        super().service()
        self.seen = time.monotonic()

    def handle_close(self) -> None:
        request, self.request = self.request, None
        if request is not None:
            request.close()
        super().handle_close()

    def is_idle(self) -> bool:
        """Nothing is asked, answered or on the way."""
        return not (self.requests or self.request or self.total_outbufs_len)

    def hand_over(self) -> tuple[Any, dict[str, Any]]:
        """Its connection and the request that asked for it; the server has no part in it any more."""
        environ: dict[str, Any] = GuardedTask(self, self.requests[0]).get_environment()
        self.del_channel()
        self.connected, self.requests = False, []
        return self.socket, environ

    def is_asking(self) -> bool:
        """A head is on the way."""
        return not self.requests and self.request is not None and not self.request.headers_finished

    def look(self, now: float, pace: Pace) -> None:
        """End what has lasted too long."""
        if self.requests or self.will_close:
            return
        request = self.request
        if request is None and self.answered and not self.total_outbufs_len:
            proxy = self.addr[0] in self.server.bounds.proxies
            late = now - self.seen > (pace.proxy_idle if proxy else pace.idle)
        elif self.total_outbufs_len:
            late = now - self.seen > pace.idle
        elif request is None or not request.headers_finished:
            late = now - (request.began if request else self.opened) > pace.head
        else:
            self._look_at_body(request, now, pace)
            return
        if late:
            self.handle_close()

    def _look_at_body(self, request: Parser, now: float, pace: Pace) -> None:
        since, came = self._mark
        if since < request.began:
            since, came = request.began, 0
        if now - since < pace.window:
            return
        if request.body_bytes_received - came >= pace.least:
            self._mark = (now, request.body_bytes_received)
            return
        request.end(408)
        with self.requests_lock:  # as `received` does with a request that is complete
            self.request = None
            self.requests.append(request)
            self.server.add_task(self)


class GuardedServer(TcpWSGIServer):
    """See the module."""

    channel_class = Channel

    def __init__(self, app: Flask, adj: Adjustments, bounds: Bounds) -> None:
        self.app, self.bounds, self._looked = app, bounds, 0.0
        self.sockets, self._own_thread = Sockets(app), 0
        answering, self.prompt = ThreadedTaskDispatcher(), ThreadedTaskDispatcher()
        answering.set_thread_count(adj.threads)
        self.prompt.set_thread_count(PROMPT_THREADS if bounds.prompt else 0)
        super().__init__(app, dispatcher=answering, adj=adj, sockinfo=adj.listen[0])

    def readable(self) -> bool:
        now, self._own_thread = time.monotonic(), threading.get_ident()
        if now - self._looked >= min(1.0, self.bounds.pace.head / 4):
            self._looked = now
            for channel in list(self.active_channels.values()):
                channel.look(now, self.bounds.pace)
        return bool(super().readable())

    def maintenance(self, now: float) -> None:
        """See `Channel.look`: by seconds that only grow, whatever is done to the clock."""

    def add_task(self, task: Channel) -> None:
        request, paths = task.requests[0], self.bounds.prompt
        own = threading.get_ident() == self._own_thread  # else it came with others on one line, which stays what it was
        if own and not request.error and self.sockets.takes(request.path, request.headers):
            self.sockets.take(*task.hand_over())
            return
        prompt = paths and not request.error and paths.fullmatch(request.path)
        (self.prompt if prompt else self.task_dispatcher).add_task(task)

    def handle_accept(self) -> None:
        try:
            accepted = self.accept()
            if accepted is None:
                return
            line, address = accepted
            self.set_socket_options(line)
        except OSError:
            return  # it has gone again
        if self._makes_way(str(address[0])):
            Channel(self, line, address, self.adj, map=self._map)
        else:
            _turn_away(line)

    def run(self) -> None:
        try:
            super().run()
        finally:
            self.sockets.close()
            self.prompt.shutdown()

    def _makes_way(self, remote: str) -> bool:
        """Whether a further connection may stay; of those that nobody needs one gives way to it."""
        groups = [(list(self.active_channels.values()), CONNECTIONS)]
        if remote not in self.bounds.proxies:
            for place, network in enumerate(networks_of(remote)):
                theirs = [c for c in self.active_channels.values() if network in c.networks]
                groups.append((theirs, self.bounds.connections * (WIDER if place else 1)))
        return all(len(channels) < most or _one_gives_way(channels) for channels, most in reversed(groups))


def _one_gives_way(channels: list[Channel]) -> bool:
    for spare in ([c for c in channels if c.is_idle()], [c for c in channels if c.is_asking()]):
        if spare:
            min(spare, key=lambda c: c.request.began if c.request else c.seen).handle_close()
            return True
    return False


def _turn_away(line: Any) -> None:
    try:
        line.setblocking(False)
        line.send(
            b"HTTP/1.1 429 Too Many Requests\r\nContent-Type: text/html\r\nRetry-After: 60\r\n"
            b"Connection: close\r\nContent-Length: %d\r\n\r\n%b" % (len(_TOO_MANY), _TOO_MANY)
        )
    except OSError:
        pass
    finally:
        line.close()
