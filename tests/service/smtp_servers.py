"""Mail servers for tests: a real one (aiosmtpd) on loopback, and a scripted one that breaks off where a test says."""

from __future__ import annotations

import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

PASSWORD = "a lantern in the harbour"


@dataclass
class Kept:
    """What a server was given. answer: to the mail's text; rcpt: to the recipient."""

    mails: list[bytes] = field(default_factory=list)
    answer: str = "250 Ok"
    rcpt: str = "250 Ok"

    async def handle_RCPT(self, server, session, envelope, address, options):  # noqa: N802  the library's names
        if self.rcpt.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.rcpt

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        if self.answer.startswith("250"):
            self.mails.append(envelope.original_content)
        return self.answer


def _right(server, session, envelope, mechanism, data):
    good = isinstance(data, LoginPassword) and (data.login, data.password) == (b"desk", PASSWORD.encode())
    return AuthResult(success=good, handled=False)


@contextmanager
def mail_server(cert=None, key=None) -> Iterator[tuple[Kept, int]]:
    """A server on a free port; with a certificate it wants STARTTLS and a log-in."""
    kept, more = Kept(), {}
    if cert is not None:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(cert, key)
        more = {"tls_context": context, "require_starttls": True, "auth_required": True, "authenticator": _right}
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    controller = Controller(kept, hostname="127.0.0.1", port=port, **more)
    controller.start()
    try:
        yield kept, port
    finally:
        controller.stop()


@contextmanager
def breaking_server(at: str) -> Iterator[tuple[list[bytes], int]]:
    """A server that closes the line at a step: connect, ehlo, mail, rcpt, data, text (in its middle), end (after the
    last dot, with the mail kept, before the answer). Yields what it has kept whole."""
    kept: list[bytes] = []
    with socket.create_server(("127.0.0.1", 0)) as listening:
        listening.settimeout(0.2)
        stop = threading.Event()

        def serve():
            while not stop.is_set():
                try:
                    line, _ = listening.accept()
                except OSError:
                    continue
                with line:
                    line.settimeout(5)
                    _speak(line, at, kept)

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            yield kept, listening.getsockname()[1]
        finally:
            stop.set()
            thread.join()


def _speak(line, at, kept):
    if at == "connect":
        return
    file = line.makefile("rb")
    line.sendall(b"220 here\r\n")
    for raw in file:
        word = raw.split()[0].decode().lower() if raw.split() else ""
        if word == at or (word in ("ehlo", "helo") and at == "ehlo"):
            return
        if word == "data":
            line.sendall(b"354 go on\r\n")
            if at == "text":
                file.read(200)
                return
            text = b""
            for row in file:
                if row == b".\r\n":
                    break
                text += row
            kept.append(text)
            return  # at the end
        if word == "quit":
            line.sendall(b"221 bye\r\n")
            return
        line.sendall(b"250 ok\r\n")
