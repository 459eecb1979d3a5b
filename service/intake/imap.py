"""A mailbox on a server, by IMAP (RFC 3501) with IDLE (RFC 2177), over TLS. Transport only: it reads no mail.

The standard library speaks the protocol; the socket is our own, so that a wait can be ended, a line has a longest
length, and a dead connection is told within seconds. Mails are peeked at: nothing is marked but by `mark`.
"""

from __future__ import annotations

import base64
import contextlib
import imaplib
import ipaddress
import re
import select
import socket
import ssl
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from moondesk.service.errors import BadInputError

TLS_PORT, PLAIN_PORT = 993, 143
#: Silence after which a connection counts as dead.
ANSWER_SECONDS = 60.0
#: A server may end an IDLE after half an hour (RFC 2177); a router often much earlier.
IDLE_SECONDS = 540.0
_LINE_BYTES, _LITERAL_BYTES = 10_000_000, 1_000_000_000
#: Asked whether it lives after a minute, and then every 20 s; given up after three times.
_KEEP_ALIVE = (("TCP_KEEPIDLE", 60), ("TCP_KEEPINTVL", 20), ("TCP_KEEPCNT", 3))
_CHUNK = 1 << 16
_SIZES_AT_ONCE = 300
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class CutError(Exception):
    """The connection is gone, or the server cannot serve now: to be tried again. str(error): why, for the console."""


class RejectedError(BadInputError):
    """The server was reached and says no: to the certificate, the password, the folder."""


class UnfetchableError(CutError):
    """The server answers, and cannot do this one thing: give a mail, or mark it."""


@dataclass(frozen=True, kw_only=True)
class Account:
    """Where the mails are. plain: without TLS, to this machine only; ca_file: who signs the server's certificate, where
    that is nobody whom this machine knows; mark: set \\Seen on what was taken."""

    host: str
    user: str
    port: int | None = None
    folder: str = "INBOX"
    plain: bool = False
    ca_file: Path | None = None
    mark: bool = True

    def __post_init__(self) -> None:
        if self.plain and not _is_loopback(self.host):
            raise BadInputError(
                f"Without TLS the password would cross the net to {self.host} for all to read.",
                "Leave --plain away; it is for a server on this machine.",
            )

    @property
    def name(self) -> str:
        """By which the store knows the mailbox."""
        return f"{self.user}@{self.host}:{self.real_port}/{self.folder}"

    @property
    def real_port(self) -> int:
        return self.port or (PLAIN_PORT if self.plain else TLS_PORT)


class Mailbox:
    """An open mailbox. Methods raise CutError; the constructor RejectedError too. Use as a context manager."""

    def __init__(self, account: Account, password: str, answer_seconds: float = ANSWER_SECONDS) -> None:
        self._account = account
        self.uidvalidity = 0
        self._idles = False
        with _cuts():
            self._wire = _Wire(account, answer_seconds)
        try:
            with _cuts():
                self._log_in(password)
            self.select()
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Mailbox:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        with contextlib.suppress(imaplib.IMAP4.error, OSError):
            self._wire.logout()
        self._wire.shutdown()  # which a logout on a dead line does not come to

    def select(self) -> None:
        """Look at the folder afresh; reads `uidvalidity`."""
        with _cuts():
            try:
                status, data = self._wire.select(_quoted(_utf7(self._account.folder)), readonly=not self._account.mark)
            except imaplib.IMAP4.readonly as error:
                raise RejectedError(
                    f"The folder {self._account.folder} may only be read: nothing can be marked in it.",
                    "Allow it at the server, or use --no-mark.",
                ) from error
            if status != "OK":
                raise RejectedError(
                    f"The folder {self._account.folder} cannot be opened: {_said(data)}.",
                    "Check its name with --folder.",
                )
            self.uidvalidity = int((self._wire.response("UIDVALIDITY")[1] or [b"0"])[0] or 0)

    def uids(self, since: date | None = None) -> list[int]:
        """UIDs of all mails, or of those that reached the server on that day or later, in order."""
        asked = ("SINCE", f"{since.day:02}-{_MONTHS[since.month - 1]}-{since.year}") if since else ("ALL",)
        data = self._uid("SEARCH", *asked)
        return sorted({int(n) for line in data if isinstance(line, bytes) for n in line.split() if n.isdigit()})

    def sizes(self, uids: Iterable[int]) -> dict[int, int]:
        """What the server says of their sizes, bytes."""
        wanted, found = list(uids), {}
        for k in range(0, len(wanted), _SIZES_AT_ONCE):
            listed = ",".join(map(str, wanted[k : k + _SIZES_AT_ONCE]))
            for head, _, tail in _pieces(self._uid("FETCH", listed, "(UID RFC822.SIZE)")):
                uid, size = _number(rb"UID", head + tail), _number(rb"RFC822\.SIZE", head + tail)
                if uid is not None and size is not None:
                    found[uid] = size
        return found

    def fetch(self, uid: int, head_only: bool = False) -> bytes | None:
        """A mail's bytes, or its head's; None where it is gone. Raises UnfetchableError."""
        part = b"BODY[HEADER]" if head_only else b"BODY[]"
        asked = f"(UID {part.decode().replace('BODY', 'BODY.PEEK')})"
        answer = self._uid("FETCH", str(uid), asked)
        for head, data, tail in _pieces(answer):  # some servers answer about other mails as well, or twice
            if part in head.upper() and _number(rb"UID", head + tail) == uid:
                return data if data is not None else _short(head, part)
        return None

    def mark(self, uid: int) -> None:
        """Set \\Seen on a mail that was taken, where the account says so."""
        if self._account.mark:
            self._uid("STORE", str(uid), "+FLAGS.SILENT", "(\\Seen)")

    def wait(self, seconds: float, stopped: Callable[[], bool]) -> None:
        """Wait for news: by IDLE where the server offers it, until something happens; else for so long."""
        with _cuts():
            until = time.monotonic() + min(seconds, IDLE_SECONDS)
            if not self._idles:
                while time.monotonic() < until and not stopped():
                    time.sleep(min(0.2, seconds))
                self._wire.noop()
                return
            self._wire.send(b"WAIT1 IDLE\r\n")
            line = self._wire.readline()
            news = False
            while line and not line.startswith((b"+", b"WAIT1 ")):
                news |= _is_news(line)
                line = self._wire.readline()
            if line.startswith(b"WAIT1 "):  # offered and refused
                self._idles = False
                return
            while line and not news and time.monotonic() < until and not stopped():
                if self._wire.has_line(0.2):
                    line = self._wire.readline()
                    news = _is_news(line)
            if line:
                self._wire.send(b"DONE\r\n")
            while line and not line.startswith(b"WAIT1 "):
                line = self._wire.readline()
            if not line:
                raise CutError("the server closed the line")

    def _log_in(self, password: str) -> None:
        offered = self._capabilities()
        try:
            if "AUTH=PLAIN" in offered or not (self._account.user + password).isascii():
                secret = f"\0{self._account.user}\0{password}".encode()
                self._wire.authenticate("PLAIN", lambda _: secret)
            elif "LOGINDISABLED" in offered:
                raise RejectedError("The server takes no password on this connection.", "Leave --plain away.")
            else:
                self._wire.login(self._account.user, password)
        except imaplib.IMAP4.abort:
            raise
        except imaplib.IMAP4.error as error:
            said = _said(error.args)
            if any(code in said.upper() for code in ("[UNAVAILABLE]", "[INUSE]", "[LIMIT]")):  # RFC 5530
                raise CutError(f"the server says: {said}") from error
            raise RejectedError(
                f"The server does not take the password of {self._account.user}: {said}.",
                "Check the user's name and the password (some providers want one made for programs).",
            ) from error
        self._idles = "IDLE" in self._capabilities()

    def _capabilities(self) -> set[str]:
        _, data = self._wire.capability()
        lines = (line.decode("ascii", "replace") for line in data if isinstance(line, bytes))
        return {word.upper() for line in lines for word in line.split()}

    def _uid(self, *command: str) -> list[Any]:
        with _cuts():
            status, data = self._wire.uid(*command)
            if status != "OK":
                raise UnfetchableError(_said(data))
            return [item for item in data if item is not None]


class _Wire(imaplib.IMAP4):
    """The library's protocol on a socket of our own; open, read, readline, send and shutdown are its hooks."""

    def __init__(self, account: Account, seconds: float) -> None:
        self._context = None if account.plain else ssl.create_default_context(cafile=account.ca_file)
        self._buffer = bytearray()
        super().__init__(account.host, account.real_port, seconds)

    def open(self, host: str = "", port: int = TLS_PORT, timeout: float | None = None) -> None:
        self.host, self.port = host, port
        bare = socket.create_connection((host, port), timeout)
        bare.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)  # a line that died without a word, while we wait
        for name, value in _KEEP_ALIVE:
            if hasattr(socket, name):
                bare.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)
        try:
            self.sock = self._context.wrap_socket(bare, server_hostname=host) if self._context else bare
        except BaseException:
            bare.close()
            raise

    def read(self, size: int) -> bytes:
        if size > _LITERAL_BYTES:
            raise self.abort("the server sends more than any mail has")
        while len(self._buffer) < size:
            if not self._more():
                raise self.abort("the server closed the line")
        data = bytes(self._buffer[:size])
        del self._buffer[:size]
        return data

    def readline(self) -> bytes:
        looked = 0
        while (end := self._buffer.find(b"\n", looked)) < 0:
            looked = len(self._buffer)
            if looked > _LINE_BYTES:
                raise self.abort("the server sent an endless line")
            if not self._more():
                return b""  # which the library, and `wait`, take for the end
        return self.read(end + 1)

    def has_line(self, seconds: float) -> bool:
        """Whether a line can be read; waits for it so long at most."""
        if b"\n" in self._buffer:
            return True
        pending = self.sock.pending() if isinstance(self.sock, ssl.SSLSocket) else 0
        if not pending and not select.select([self.sock], [], [], seconds)[0]:
            return False
        before = self.sock.gettimeout()
        self.sock.settimeout(0)  # under TLS what has come need not be anything for us
        try:
            return not self._more() or b"\n" in self._buffer
        except (BlockingIOError, ssl.SSLWantReadError):
            return False
        finally:
            self.sock.settimeout(before)

    def send(self, data: Any) -> None:
        self.sock.sendall(data)

    def shutdown(self) -> None:
        with contextlib.suppress(OSError):
            self.sock.close()

    def _more(self) -> bool:
        data = self.sock.recv(_CHUNK)
        self._buffer += data
        return bool(data)


@contextlib.contextmanager
def _cuts() -> Iterator[None]:
    try:
        yield
    except ssl.SSLCertVerificationError as error:
        raise RejectedError(
            f"The server's certificate is not to be trusted: {error.verify_message}.",
            "Check the server's name; name the certificate's signer with --ca-file.",
        ) from error
    except imaplib.IMAP4.error as error:
        raise CutError(_said(error.args)) from error
    except TimeoutError as error:
        raise CutError("no answer") from error
    except OSError as error:
        raise CutError(error.strerror or type(error).__name__) from error


def _pieces(data: list[Any]) -> Iterator[tuple[bytes, bytes | None, bytes]]:
    """The library's answer, item by item: what stands before a literal, the literal, what stands after it."""
    for k, item in enumerate(data):
        if isinstance(item, tuple):
            tail = data[k + 1] if k + 1 < len(data) and isinstance(data[k + 1], bytes) else b""
            yield item[0], item[1], tail
        elif isinstance(item, bytes):
            yield item, None, b""


def _short(head: bytes, part: bytes) -> bytes:
    """A body that came as a quoted string or NIL, as a very short one may."""
    found = re.search(re.escape(part) + rb' "((?:[^"\\]|\\.)*)"', head, re.IGNORECASE)
    return re.sub(rb"\\(.)", rb"\1", found.group(1)) if found else b""


def _number(name: bytes, text: bytes) -> int | None:
    found = re.search(rb"\b" + name + rb" (\d+)", text, re.IGNORECASE)
    return int(found.group(1)) if found else None


def _is_news(line: bytes) -> bool:
    return bool(re.match(rb"\* \d+ (EXISTS|RECENT)", line, re.IGNORECASE))


def _said(data: Iterable[Any]) -> str:
    """A server's words as one line, for the console."""
    words = " ".join(d.decode("utf-8", "replace") if isinstance(d, bytes) else str(d) for d in data if d)
    line = " ".join("".join(c if c.isprintable() else " " for c in words).split())
    return line[:200].rstrip(".") or "no reason given"


def _quoted(name: str) -> str:
    return '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _utf7(name: str) -> str:
    """A folder's name as the protocol wants it (RFC 3501, 5.1.3)."""

    def encoded(match: re.Match[str]) -> str:
        code = base64.b64encode(match.group(0).encode("utf-16-be")).decode().rstrip("=").replace("/", ",")
        return f"&{code}-"

    return re.sub(r"[^\x20-\x7e]+", encoded, name.replace("&", "&-"))


def _is_loopback(host: str) -> bool:
    if host.lower() == "localhost":
        return True
    with contextlib.suppress(ValueError):
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    return False
