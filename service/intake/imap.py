"""A mailbox on a server, by IMAP (RFC 3501) with IDLE (RFC 2177), over TLS. Transport only: it reads no mail.

IMAPClient speaks the protocol. Here: a wait can be ended, a dead connection is told within seconds, and what a server
says becomes one of three errors. Mails are peeked at: nothing is marked but by `mark`.
"""

from __future__ import annotations

import contextlib
import imaplib
import ipaddress
import re
import socket
import ssl
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from imapclient import SEEN, IMAPClient
from imapclient.exceptions import IMAPClientAbortError, IMAPClientError, IMAPClientReadOnlyError, LoginError

from moondesk.service.errors import BadInputError

TLS_PORT, PLAIN_PORT = 993, 143
#: Silence after which a connection counts as dead.
ANSWER_SECONDS = 60.0
#: A server may end an IDLE after half an hour (RFC 2177); a router often much earlier.
IDLE_SECONDS = 540.0
#: Asked whether it lives after a minute, and then every 20 s; given up after three times.
_KEEP_ALIVE = (("TCP_KEEPIDLE", 60), ("TCP_KEEPINTVL", 20), ("TCP_KEEPCNT", 3))
_SIZES_AT_ONCE = 300
#: How long the end of a wait may take to be noticed.
_LOOK_SECONDS = 0.2
#: Of one line: the standard library's limit holds the numbers of some 130,000 mails.
imaplib._MAXLINE = 10_000_000  # type: ignore[attr-defined]


class CutError(Exception):
    """The connection is gone, or the server cannot serve now: to be tried again. str(error): why, for the console."""


class RejectedError(BadInputError):
    """The server was reached and says no: to the certificate, the password, the folder."""


class UnfetchableError(CutError):
    """The server answers, and cannot do this one thing: give a mail, or mark it."""


@dataclass(frozen=True, kw_only=True)
class MailboxAccount:
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

    def __init__(self, account: MailboxAccount, password: str, answer_seconds: float = ANSWER_SECONDS) -> None:
        self._account = account
        self.uidvalidity = 0
        with _cuts():
            context = None if account.plain else ssl.create_default_context(cafile=account.ca_file)
            self._client = IMAPClient(
                account.host, port=account.real_port, ssl=not account.plain, ssl_context=context, timeout=answer_seconds
            )
        try:
            with _cuts():
                _keep_alive(self._client.socket())
                self._log_in(password)
                self._idles = bool(self._client.has_capability("IDLE"))
            self.select()
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Mailbox:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        with contextlib.suppress(IMAPClientError, OSError, ValueError):
            self._client.logout()
        with contextlib.suppress(OSError):  # which a logout on a dead line does not come to
            self._client.shutdown()

    def select(self) -> None:
        """Look at the folder afresh; reads `uidvalidity`."""
        folder = self._account.folder
        with _cuts():
            try:
                told = self._client.select_folder(folder, readonly=not self._account.mark)
            except IMAPClientReadOnlyError as error:
                raise RejectedError(
                    f"The folder {folder} may only be read: nothing can be marked in it.",
                    "Allow it at the server, or use --no-mark.",
                ) from error
            except IMAPClientError as error:
                if not _is_refusal(error):
                    raise
                raise RejectedError(
                    f"The folder {folder} cannot be opened: {_words(error)}.", "Check its name with --folder."
                ) from error
            self.uidvalidity = int(told.get(b"UIDVALIDITY", 0))

    def uids(self, since: date | None = None) -> list[int]:
        """UIDs of all mails, or of those that reached the server on that day or later, in order."""
        with _cuts():
            return sorted(set(self._client.search(["SINCE", since] if since else "ALL")))

    def sizes(self, uids: Iterable[int]) -> dict[int, int]:
        """What the server says of their sizes, bytes."""
        wanted, found = list(uids), dict[int, int]()
        for k in range(0, len(wanted), _SIZES_AT_ONCE):
            with _cuts():
                answer = self._client.fetch(wanted[k : k + _SIZES_AT_ONCE], ["RFC822.SIZE"])
            found |= {uid: said[b"RFC822.SIZE"] for uid, said in answer.items() if b"RFC822.SIZE" in said}
        return found

    def fetch(self, uid: int, head_only: bool = False) -> bytes | None:
        """A mail's bytes, or its head's; None where it is gone. Raises UnfetchableError."""
        part = "[HEADER]" if head_only else "[]"
        with _cuts():
            said = self._client.fetch([uid], [f"BODY.PEEK{part}"]).get(uid, {})
        name = f"BODY{part}".encode()
        return (said[name] or b"") if name in said else None

    def mark(self, uid: int) -> None:
        """Set \\Seen on a mail that was taken, where the account says so."""
        if self._account.mark:
            with _cuts():
                self._client.add_flags([uid], [SEEN], silent=True)

    def wait(self, seconds: float, stopped: Callable[[], bool]) -> None:
        """Wait for news: by IDLE where the server offers it, until something happens; else for so long."""
        until = time.monotonic() + min(seconds, IDLE_SECONDS)
        with _cuts():
            if not self._idles:
                while time.monotonic() < until and not stopped():
                    time.sleep(min(_LOOK_SECONDS, seconds))
                self._client.noop()
                return
            try:
                self._client.idle()
            except IMAPClientAbortError:
                raise
            except IMAPClientError as error:
                if "b'* " in str(error):  # news before the answer: it waits all the same, which the library cannot
                    raise CutError("news came in between") from error
                self._idles = False  # offered and refused
                return
            while time.monotonic() < until and not stopped():
                began = time.monotonic()
                news = self._client.idle_check(timeout=_LOOK_SECONDS)
                # nothing, and too soon: the line is closed, which the end of the wait brings to light
                if any(_is_news(n) for n in news) or (not news and time.monotonic() - began < _LOOK_SECONDS / 2):
                    break
            self._client.idle_done()

    def _log_in(self, password: str) -> None:
        client, user = self._client, self._account.user
        try:
            if client.has_capability("AUTH=PLAIN") or not (user + password).isascii():
                client.plain_login(user, password)
            elif client.has_capability("LOGINDISABLED"):
                raise RejectedError("The server takes no password on this connection.", "Leave --plain away.")
            else:
                client.login(user, password)
        except LoginError as error:
            said = error.__context__ if isinstance(error.__context__, IMAPClientError) else error
            words = _words(said)
            codes = ("[UNAVAILABLE]", "[INUSE]", "[LIMIT]")  # RFC 5530
            if isinstance(said, IMAPClientAbortError) or any(code in words.upper() for code in codes):
                raise CutError(f"the server says: {words}") from error
            raise RejectedError(
                f"The server does not take the password of {user}: {words}.",
                "Check the user's name and the password (some providers want one made for programs).",
            ) from error


def _keep_alive(line: socket.socket) -> None:
    """So that a line is noticed that died without a word while we wait."""
    line.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    for name, value in _KEEP_ALIVE:
        if hasattr(socket, name):
            line.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)


@contextlib.contextmanager
def _cuts() -> Iterator[None]:
    try:
        yield
    except ssl.SSLCertVerificationError as error:
        raise RejectedError(
            f"The server's certificate is not to be trusted: {error.verify_message}.",
            "Check the server's name; name the certificate's signer with --ca-file.",
        ) from error
    except IMAPClientError as error:
        raise (UnfetchableError if _is_refusal(error) else CutError)(_words(error)) from error
    except TimeoutError as error:
        raise CutError("no answer") from error
    except OSError as error:
        raise CutError(error.strerror or type(error).__name__) from error
    except MemoryError as error:
        raise CutError("the server sends more than any mail has") from error
    except ValueError as error:  # the library's, where an answer is no IMAP
        raise CutError(f"the server says what cannot be read: {_words(error)}") from error


#: How the library begins what it says of a command that the server answered with NO.
_REFUSAL = re.compile(r"\w+ failed: ")


def _is_refusal(error: Exception) -> bool:
    return not isinstance(error, IMAPClientAbortError) and _REFUSAL.match(str(error)) is not None


def _is_news(line: Any) -> bool:
    return isinstance(line, tuple) and len(line) > 1 and line[1] in (b"EXISTS", b"RECENT")


def _words(error: BaseException) -> str:
    """A server's words as one line, for the console."""
    words = " ".join(d.decode("utf-8", "replace") if isinstance(d, bytes) else str(d) for d in error.args if d)
    line = " ".join("".join(c if c.isprintable() else " " for c in _REFUSAL.sub("", words, count=1)).split())
    return line[:200].rstrip(".") or "no reason given"


def _is_loopback(host: str) -> bool:
    if host.lower() == "localhost":
        return True
    with contextlib.suppress(ValueError):
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    return False
