"""One mail to a mail server (RFC 5321), and what is known of it afterwards: sent, not sent, or nobody can tell.

Until the text of the mail goes out, a fault leaves it surely unsent: it may be tried again. From its first byte on a
line that breaks leaves open whether the server took it (RFC 1047): that is told to a person and never tried again by
itself, because a second copy cannot be taken back.
"""

from __future__ import annotations

import re
import smtplib
import socket
import ssl
from contextlib import suppress
from dataclasses import dataclass
from typing import Literal

from moondesk.service.store.messages import NOTHING, StoredMessage, message

SECONDS = 20.0
_FAULTS = (OSError, smtplib.SMTPException, ssl.SSLError, socket.timeout)

Ending = Literal["sent", "later", "failed", "unknown"]
Security = Literal["starttls", "tls", "plain"]


@dataclass(frozen=True, kw_only=True)
class Server:
    """Where mails go. user: "" logs in as nobody. ca_file: trusted beside the system's, "" for none."""

    host: str
    port: int = 587
    security: Security = "starttls"
    user: str = ""
    password: str = ""
    ca_file: str = ""


@dataclass(frozen=True)
class Outcome:
    """sent; later: surely not sent, try again; failed: refused for good; unknown: a person must find out. words: a
    sentence for the desk, empty where it was sent."""

    ending: Ending
    message: StoredMessage = NOTHING

    @property
    def words(self) -> str:
        return self.message.words()


def send(server: Server, sender: str, to: str, mail: bytes, seconds: float = SECONDS) -> Outcome:
    """Send a mail to one address. Never raises for what a server or a line may do."""
    try:
        line = _connect(server, seconds)
    except smtplib.SMTPAuthenticationError as error:
        return Outcome("later", message("mail_login", said=_server_words(error.smtp_error)))
    except smtplib.SMTPNotSupportedError as error:
        return Outcome("later", message("mail_unable", why=error))
    except ssl.SSLError as error:
        return Outcome("later", message("mail_certificate", why=error.reason or error))
    except _FAULTS as error:
        return Outcome("later", message("mail_silent", why=_fault(error)))
    try:
        return _converse(line, sender, to, mail)
    finally:
        with suppress(*_FAULTS):
            line.quit()
        line.close()


def _connect(server: Server, seconds: float) -> smtplib.SMTP:
    context = ssl.create_default_context()
    if server.ca_file:
        context.load_verify_locations(server.ca_file)
    if server.security == "tls":
        line: smtplib.SMTP = smtplib.SMTP_SSL(server.host, server.port, timeout=seconds, context=context)
    else:
        line = smtplib.SMTP(server.host, server.port, timeout=seconds)
    try:
        line.ehlo_or_helo_if_needed()
        if server.security == "starttls":
            line.starttls(context=context)
            line.ehlo()
        if server.user:
            line.login(server.user, server.password)
    except BaseException:
        line.close()
        raise
    return line


def _converse(line: smtplib.SMTP, sender: str, to: str, mail: bytes) -> Outcome:
    try:
        for code, words in ((line.mail(sender)), (line.rcpt(to)), (line.docmd("DATA"))):
            if code not in (250, 251, 354):
                return _outcome_of_refusal(code, words)
    except _FAULTS as error:
        return Outcome("later", message("mail_broke_before", why=_fault(error)))
    try:
        line.send(_stuff_dots(mail))
        code, words = line.getreply()
    except _FAULTS as error:
        return Outcome("unknown", message("mail_broke_after", why=_fault(error)))
    return Outcome("sent") if code == 250 else _outcome_of_refusal(code, words)


def _outcome_of_refusal(code: int, words: bytes) -> Outcome:
    """RFC 5321, 4.2.1: 4yz may pass, 5yz will not."""
    if 400 <= code < 500 or code == -1:
        return Outcome("later", message("mail_later", number=code, said=_server_words(words)))
    return Outcome("failed", message("mail_refused", number=code, said=_server_words(words)))


def _stuff_dots(mail: bytes) -> bytes:
    """Dots at the begin of lines doubled, and the end (RFC 5321, 4.5.2)."""
    text = re.sub(rb"\r\n|\r|\n", b"\r\n", mail)
    if not text.endswith(b"\r\n"):
        text += b"\r\n"
    return re.sub(rb"(?m)^\.", b"..", text) + b".\r\n"


def _server_words(words: bytes | str) -> str:
    text = words.decode("utf-8", "replace") if isinstance(words, bytes) else words
    return " ".join(text.split())[:200].rstrip(".")


def _fault(error: BaseException) -> str:
    return _server_words(str(error)) or type(error).__name__
