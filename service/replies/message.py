"""A reply as a mail (RFC 5322): made of what stands in the store alone, so it is the same each time. Pure."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from datetime import datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime

ATTACHED, CARD = "moon.jpg", "moon-card.png"


@dataclass(frozen=True)
class From:
    """Who sends. address: of the programme; reply_to: where answers go, "" for the same."""

    name: str
    address: str
    reply_to: str = ""


def new_message_id(sender: str) -> str:
    """An id that no other mail has; kept before the first try, so that a mail sent twice by accident is one mail."""
    domain = sender.rpartition("@")[2] or "localhost"
    return f"<moondesk-{secrets.token_hex(12)}@{domain}>"


@dataclass(frozen=True)
class OutgoingMail:
    """What a person has written, and to whom."""

    to: str
    subject: str
    body: str
    message_id: str


def mail_of(
    sender: From,
    written: OutgoingMail,
    when: datetime,
    answers: str = "",
    picture: bytes | None = None,
    automatic: bool = False,
    card: bytes | None = None,
) -> bytes:
    """The mail's bytes with CRLF. answers: Message-ID of what it answers; picture: JPEG; card: PNG; automatic: no
    person has written it (RFC 3834, 5). ValueError for an address that is none."""
    mail = EmailMessage(policy=SMTP)
    mail["From"] = Address(sender.name, addr_spec=_address(sender.address))
    mail["To"] = Address(addr_spec=_address(written.to))
    if sender.reply_to:
        mail["Reply-To"] = Address(addr_spec=_address(sender.reply_to))
    mail["Subject"] = _one_line(written.subject)
    mail["Date"] = format_datetime(when)
    mail["Message-ID"] = written.message_id
    if re.fullmatch(r"<[^<>\s]{1,300}>", answers, re.ASCII):
        mail["In-Reply-To"] = answers
        mail["References"] = answers
    if automatic:
        mail["Auto-Submitted"] = "auto-generated"
    mail.set_content(written.body.rstrip() + "\n", cte="quoted-printable")
    if picture is not None:
        mail.add_attachment(picture, maintype="image", subtype="jpeg", filename=ATTACHED)
    if card is not None:
        mail.add_attachment(card, maintype="image", subtype="png", filename=CARD)
    return mail.as_bytes()


def _address(text: str) -> str:
    """One plain address; ValueError for another text, which could carry further recipients."""
    if not re.fullmatch(r"[^\s<>,;:\"@\\()\[\]]{1,64}@[A-Za-z0-9.-]{1,253}", text):
        raise ValueError(f"this is no mail address: {text[:80]!r}")
    return text


def is_address(text: str) -> bool:
    """Whether a mail can be sent there."""
    try:
        _address(text)
    except ValueError:
        return False
    return True


def _one_line(text: str) -> str:
    return " ".join(text.split()) or "Moon"
