"""One mail: raw bytes in, a plain record out; no file, no store, no clock.

The standard parser with its modern policy fails on hostile mail in a dozen ways (unknown charsets, NULs, endless
brackets); under `compat32` the structure parses, and each header is decoded here on its own, so that a bad one costs
that header and never the message. Structure is capped: parts and nesting.
"""

from __future__ import annotations

import email
import email.errors
import email.message
import email.policy
import email.utils
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from email.header import decode_header
from itertools import islice
from typing import TypeVar
from urllib.parse import unquote_to_bytes

from moondesk.files.formats import open_picture
from moondesk.files.formats.not_pictures import NotPicture
from moondesk.records import NotFound
from moondesk.sentences import Sentence, sentence
from moondesk.service.intake.bounces import bounce_of, is_machine
from moondesk.service.intake.forwards import WORDS_CHARACTERS, Forwarded, forwarded_in
from moondesk.service.intake.mail_sender import (
    MOST_ADDRESSES,
    NAME_CHARACTERS,
    Mailbox,
    Writer,
    addresses_in,
    mailbox_of,
    writer_of,
)
from moondesk.service.intake.tnef import is_wrapped, unwrap
from moondesk.service.programme.mail_text import MailBody, beside, body_of, decode_bytes, links_in, parts_of
from moondesk.service.settings.config import IntakeLimits
from moondesk.service.store.records import Bounce
from moondesk.service.texts import clean_text

T = TypeVar("T")

#: What the standard library is known to raise on forged headers and bodies.
PARSER_ERRORS = (
    ValueError,
    TypeError,
    IndexError,
    LookupError,
    AttributeError,
    RecursionError,
    AssertionError,
    email.errors.MessageError,
)

HEADER_CHARACTERS = 2_000
#: Of a mail that cannot be opened, so many at its beginning are looked at.
HEAD_BYTES = 200_000
#: Of the mails that one answers, so many.
MOST_ANSWERS = 30


@dataclass(frozen=True)
class Attachment:
    """One file of a mail. declared_type is the mail's own claim, used only to tell files from text. inline: it stands in
    the text, as the pictures of signatures do."""

    given_name: str
    data: bytes
    declared_type: str
    inline: bool = False


@dataclass(frozen=True, kw_only=True)
class Mail:
    """What a mail says. received_utc: the last server's stamp, else the sender's Date; None where neither is read."""

    sender_name: str
    sender_address: str
    subject: str
    message_id: str
    received_utc: datetime | None
    attachments: tuple[Attachment, ...]
    remarks: tuple[Sentence, ...]
    #: Its text (see `mail_text.body_of`). whole: False where there are words in it that were not read.
    body: MailBody = field(default_factory=MailBody)
    #: Written by a program: a bounce, an automatic answer, bulk mail.
    machine: bool = False
    #: Message-IDs of what it answers; every address in From, Sender and Reply-To, in small letters.
    answers: tuple[str, ...] = ()
    #: Its Date by the sender's own clock, with that clock's offset; None where it has none that can be read.
    written: datetime | None = None
    addresses: tuple[str, ...] = ()
    #: Where answers go, "" for the sender's address; of a form or list that passed it on.
    answer_to: str = ""
    service: str = ""
    #: Whose mail it forwards.
    forwarded: Forwarded | None = None
    bounce: Bounce | None = None

    @property
    def text(self) -> str:
        """The sender's own words; empty where there are none."""
        return self.body.words("own")

    @property
    def links(self) -> tuple[str, ...]:
        """Addresses of pages that its own words name, as of an album; nothing follows them."""
        return links_in(self.text, self.body.targets)


def read_mail(raw: bytes, limits: IntakeLimits | None = None) -> Mail | NotFound:
    """The mail of its raw bytes; NotFound where it is too large or no message can be made of it."""
    limits = limits or IntakeLimits()
    if len(raw) > limits.mail_bytes:
        return NotFound(
            "mail", sentence("mail_larger_than", megabytes=limits.mail_bytes // 1_000_000), sentence("fewer_pictures")
        )
    try:
        message = email.message_from_bytes(raw, policy=email.policy.compat32)
    except PARSER_ERRORS:
        return NotFound("mail", sentence("mail_nested"), sentence("send_new_mail"))
    return _mail_of(message, limits)


def read_head(raw: bytes, limits: IntakeLimits | None = None) -> Mail:
    """Who sent a mail that cannot be opened, and about what; nothing below its head is read."""
    head = re.split(rb"\r?\n\r?\n", raw[:HEAD_BYTES], maxsplit=1)[0]
    head = re.sub(rb"^Content-[^\n]*(?:\n[ \t][^\n]*)*\n?", b"", head, flags=re.IGNORECASE | re.MULTILINE)
    message = email.message_from_bytes(head + b"\n\n", policy=email.policy.compat32)
    mail = _mail_of(message, limits or IntakeLimits())
    return replace(mail, body=MailBody(whole=False), attachments=(), machine=False)


def _mail_of(message: email.message.Message, limits: IntakeLimits) -> Mail:
    remarks: list[Sentence] = []

    def attempt(what: str, read: Callable[[], T], otherwise: T) -> T:
        try:
            return read()
        except PARSER_ERRORS:
            remarks.append(sentence(f"mail_{what}_unreadable"))
            return otherwise

    subject = attempt("subject", lambda: header_text(message, "Subject"), "")
    body = attempt("text", lambda: _body(message, limits), MailBody(whole=False))
    attachments, more = _attachments(message, limits)
    if remarks or more:  # so far they are about words
        body = replace(body, whole=False)
    writer = attempt("sender", lambda: _writer(message), Writer())
    if not writer.known:
        remarks.append(sentence("mail_no_address"))
    forwarded = attempt("sender", lambda: _forwarded(message, limits, body, subject, writer), None)
    addresses: tuple[str, ...] = attempt("sender", lambda: _addresses(message), tuple[str, ...]())
    if forwarded is not None and forwarded.sender.address:
        addresses = tuple(dict.fromkeys((*addresses, forwarded.sender.address.casefold())))
    answers: tuple[str, ...] = attempt("thread", lambda: _answers(message), tuple[str, ...]())
    form, from_ = bool(writer.service), writer.service or writer.address
    machine = attempt("kind", lambda: is_machine(message, _raw, from_, subject, form), False)
    text = "\n".join(part.text for part in body.parts)
    received = attempt("date", lambda: _received_time(message), None)
    if received is None:
        remarks.append(sentence("mail_undated"))
    return Mail(
        sender_name=writer.name,
        sender_address=writer.address,
        answer_to=writer.answer_to,
        service=writer.service,
        subject=subject,
        message_id=attempt("identifier", lambda: clean_text(_raw(message, "Message-ID"), 300), ""),
        received_utc=received,
        attachments=attachments,
        remarks=(*remarks, *more),
        body=body,
        machine=machine,
        bounce=attempt("kind", lambda: bounce_of(message, _all_parts(message, limits), _raw, answers, text), None)
        if machine
        else None,
        answers=answers,
        written=attempt("date", lambda: _written(message), None),
        addresses=addresses,
        forwarded=forwarded,
    )


def _body(message: email.message.Message, limits: IntakeLimits) -> MailBody:
    """Of the mail itself, not of mails forwarded in it as attachments: those, and documents, are not read."""
    parts = list(islice(_parts(message, limits.mail_nesting, [], forwarded=False), limits.mail_parts))
    body = body_of((p for p in parts if not _is_file(p) and p.get_content_type() in _TEXT), PARSER_ERRORS)
    every = list(islice(_parts(message, limits.mail_nesting, []), limits.mail_parts))
    wrapped = [
        p for p in parts if p.get_content_type() == "application/ms-tnef" or _file_name(p).lower() == "winmail.dat"
    ]
    if len(wrapped) == 1 and (text := _text_of_wrapped(wrapped[0])):
        body = beside(body, parts_of(text))
        every = [p for p in every if p is not wrapped[0]]
    forwarded = message.is_multipart() and any(p.get_content_maintype() == "message" for p in message.walk())
    unread = forwarded or any(_holds_words(p) for p in every)
    return replace(body, whole=body.whole and not unread)


def _text_of_wrapped(part: email.message.Message) -> str:
    """The text in a winmail.dat; empty where it is in a form that is not read, or beside documents that hold words."""
    data = part.get_payload(decode=True)
    if not isinstance(data, bytes) or not is_wrapped(data):
        return ""
    found = unwrap(data)
    pictures_only = all(not isinstance(open_picture(content), NotPicture) for _, content in found.files)
    return found.text if found.whole and pictures_only else ""


#: Parts whose words are read, and others that hold words: documents, cards that hide a mail, what is encrypted.
_TEXT = ("text/plain", "text/html")
_WORDED = re.compile(
    r"^(?:text/(?!calendar|vcard|x-vcard|directory|plain$|html$)\w|message/(?!delivery|disposition)"
    r"|application/(?:pdf|rtf|msword"
    r"|ms-tnef|vnd\.ms|vnd\.open|vnd\.oasis|vnd\.apple|x-iwork|pgp-encrypted"
    r"|(?:x-)?pkcs7-mime))",
    re.IGNORECASE,
)
_DOCUMENT = re.compile(r"\.(?:txt|te?xt|docx?|pdf|odt|rtf|pages|md|html?|eml|msg|dat)$", re.IGNORECASE)


def _holds_words(part: email.message.Message) -> bool:
    return bool(
        _WORDED.match(part.get_content_type())
        or _DOCUMENT.search(_file_name(part))
        or (_is_file(part) and part.get_content_type() in _TEXT)
    )


def _answers(message: email.message.Message) -> tuple[str, ...]:
    """What In-Reply-To and References name, as Message-IDs are kept; the last, which are nearest, first."""
    found = re.findall(r"<[^<>\s]{3,300}>", f"{_raw(message, 'References')} {_raw(message, 'In-Reply-To')}")
    return tuple(dict.fromkeys(reversed(found)))[:MOST_ANSWERS]


def _addresses(message: email.message.Message) -> tuple[str, ...]:
    """Every address that the mail may be from: a withdrawal must not miss by a forged or broken From line. Sender is
    many people's where a list or a service sends, and asked only where From names nobody; see `_reply_to`."""
    froms = _addresses_in_line(message, "From") or _addresses_in_line(message, "Sender")
    replies = _addresses_in_line(message, "Reply-To") if _reply_to(message).address else ()
    return tuple(dict.fromkeys((*froms, *replies)))[:MOST_ADDRESSES]


def _addresses_in_line(message: email.message.Message, *names: str) -> tuple[str, ...]:
    lines = " , ".join(_plain(message, name) for name in names)
    return addresses_in(f"{lines} , {decode_words(lines) if '=?' in lines else ''}")


def _recipients(message: email.message.Message) -> tuple[str, ...]:
    return _addresses_in_line(message, "To", "Cc", "Delivered-To", "X-Original-To")


def _reply_to(message: email.message.Message) -> Mailbox:
    """Of the line Reply-To; none where it names whom the mail went to, as lists do: that is the programme itself."""
    found = _mailbox(message, "Reply-To")
    return Mailbox() if found.address.casefold() in _recipients(message) else found


def _forwarded(
    message: email.message.Message, limits: IntakeLimits, body: MailBody, subject: str, writer: Writer
) -> Forwarded | None:
    """Whose mail stands in it, as text or attached whole; None where it forwards none, or one of its own writer's."""
    if message.get_content_type() == "multipart/report":
        return None
    found = forwarded_in("\n".join(part.text for part in body.parts), subject)
    inner = [] if found else [m for m in _mails_in(message, limits) if _raw(m, "From")]
    if inner:
        first = _writer(inner[0])
        found = Forwarded(Mailbox(first.name, first.address), f"From: {_plain(inner[0], 'From')}"[:WORDS_CHARACTERS])
    if found is None:
        return None
    theirs = found.sender.address.casefold()  # the programme's own mail, perhaps, sent back to it
    if theirs and (theirs == writer.address.casefold() or theirs in _recipients(message)):
        return None
    if not found.sender.address and found.sender.name.casefold() == writer.name.casefold():
        return None
    return replace(found, words=clean_text(decode_words(found.words), WORDS_CHARACTERS))


def _mails_in(message: email.message.Message, limits: IntakeLimits) -> Iterator[email.message.Message]:
    """Mails that are attached whole, outermost first."""
    for part in _all_parts(message, limits):
        if part.get_content_type() == "message/rfc822" and part.is_multipart():
            yield from (c for c in part.get_payload() if isinstance(c, email.message.Message))


def _all_parts(message: email.message.Message, limits: IntakeLimits) -> Iterator[email.message.Message]:
    """Leaves and what holds them, in their order, within the limits."""
    stack, left = [(message, 0)], limits.mail_parts
    while stack and left:
        part, level = stack.pop()
        left -= 1
        yield part
        if level < limits.mail_nesting and part.is_multipart():
            children = [c for c in part.get_payload() if isinstance(c, email.message.Message)]
            stack.extend((child, level + 1) for child in reversed(children[: limits.mail_parts]))


def _is_file(part: email.message.Message) -> bool:
    return bool(_file_name(part)) or _raw(part, "Content-Disposition").lower().startswith("attachment")


def header_text(message: email.message.Message, name: str) -> str:
    """A header as one line of text: encoded words decoded, raw 8-bit letters read as UTF-8, else as western."""
    return clean_text(decode_words(_raw(message, name)))


def decode_words(value: str) -> str:
    """RFC 2047 encoded words to text; an unknown or wrong charset falls back to UTF-8, then to latin-1."""
    try:
        chunks = decode_header(value)
    except PARSER_ERRORS:  # a forged word costs its decoding, not the address that stands beside it
        chunks = [(value, None)]
    parts = []
    for chunk, charset in chunks:
        if isinstance(chunk, str):
            # raw 8-bit letters reach us as surrogates
            parts.append(decode_bytes(chunk.encode("utf-8", "surrogateescape"), None))
        else:
            parts.append(decode_bytes(chunk, charset))
    return "".join(parts)


def _raw(message: email.message.Message, name: str) -> str:
    """A header's text, unfolded, NULs out. Read past the message class: str() of an 8-bit header loses its letters."""
    for key, value in message._headers:  # type: ignore[attr-defined]
        if key.lower() == name.lower():
            text = str(value)[:HEADER_CHARACTERS]
            return re.sub(r"\r?\n[ \t]?", " ", text.replace("\0", "")).strip()
    return ""


def _writer(message: email.message.Message) -> Writer:
    return writer_of(_mailbox(message, "From"), _reply_to(message))


def _mailbox(message: email.message.Message, name: str) -> Mailbox:
    """The mailbox of a line: its name decoded after it is parted, so that no encoded word makes an address of its own."""
    line = _plain(message, name)
    found = mailbox_of(line)
    if not found.address and "=?" in line:  # the whole line was encoded, which is not allowed
        return mailbox_of(decode_words(line))
    if "=?" not in found.name:
        return found
    return replace(found, name=clean_text(decode_words(found.name).strip("\"' "), NAME_CHARACTERS))


def _plain(message: email.message.Message, name: str) -> str:
    """A header with raw 8-bit letters read, encoded words left as they are."""
    return decode_bytes(_raw(message, name).encode("utf-8", "surrogateescape"), None)


def _received_time(message: email.message.Message) -> datetime | None:
    """The newest server's stamp (the top Received line), else Date: a server's clock is better than a sender's."""
    stamp = _raw(message, "Received").rpartition(";")[2]
    for text in (stamp, _raw(message, "Date")):
        if not text.strip():
            continue
        try:
            when = email.utils.parsedate_to_datetime(text.strip())
            when = when.replace(tzinfo=UTC) if when.tzinfo is None else when.astimezone(UTC)
        except (*PARSER_ERRORS, OverflowError):
            continue
        if 1990 <= when.year <= 2100:
            return when
    return None


def _written(message: email.message.Message) -> datetime | None:
    """The Date header as it is; -0000 says that nothing is known of the sender's clock (RFC 5322, 3.3)."""
    text = _raw(message, "Date").strip()
    if not text:
        return None
    try:
        when = email.utils.parsedate_to_datetime(text)
    except (*PARSER_ERRORS, OverflowError):
        return None
    return when if when.tzinfo is not None and 1990 <= when.year <= 2100 else None


def _attachments(message: email.message.Message, limits: IntakeLimits) -> tuple[tuple[Attachment, ...], list[Sentence]]:
    found: list[Attachment] = []
    remarks: list[Sentence] = []
    for count, part in enumerate(_parts(message, limits.mail_nesting, remarks)):
        if count >= limits.mail_parts:
            remarks.append(sentence("mail_parts", count=limits.mail_parts))
            break
        try:
            declared = part.get_content_type()
            name = _file_name(part)
        except PARSER_ERRORS:
            declared, name = "application/octet-stream", ""
        if declared.startswith(("text/", "multipart/")) and not name:
            continue
        try:
            data = part.get_payload(decode=True)
        except PARSER_ERRORS:
            data = None
        if not isinstance(data, bytes):
            remarks.append(sentence("attachment_broken" if name else "attachment_broken_unnamed", name=name))
            continue
        inline = bool(_raw(part, "Content-ID")) or _raw(part, "Content-Disposition").lower().startswith("inline")
        found.append(Attachment(name or f"attachment {len(found) + 1}", data, declared, inline))
    return tuple(found), remarks


def _parts(
    message: email.message.Message, depth: int, remarks: list[Sentence], forwarded: bool = True
) -> Iterator[email.message.Message]:
    """The leaves of a message down to a depth, without recursion in the library; forwarded: of messages in it too."""
    stack = [(message, 0)]
    while stack:
        part, level = stack.pop()
        if not part.is_multipart():  # and its payload is not asked for: the library would decode it by a forged charset
            yield part
        elif not forwarded and part is not message and part.get_content_maintype() == "message":
            continue
        elif level >= depth:
            remarks.append(sentence("mail_deep", depth=depth))
        else:
            children = [c for c in part.get_payload() if isinstance(c, email.message.Message)]
            stack.extend((child, level + 1) for child in reversed(children))


def _file_name(part: email.message.Message) -> str:
    """The attachment's name: RFC 2231 or RFC 2047, whichever the sender's program wrote."""
    for header, key in (("Content-Disposition", "filename"), ("Content-Type", "name")):
        raw = _raw(part, header)
        pieces = re.findall(rf"{key}(\*\d*\*?)?\s*=\s*(\"[^\"]*\"|[^;\s]+)", raw, re.IGNORECASE)
        if not pieces:
            continue
        extended = [(mark, value.strip('"')) for mark, value in pieces if mark]
        if extended:
            return _safe_name(_extended_value(extended))
        return _safe_name(decode_words(pieces[0][1].strip('"')))
    return ""


def _extended_value(pieces: list[tuple[str, str]]) -> str:
    """RFC 2231: charset'language'percent-encoded, perhaps cut into numbered pieces."""

    def number(piece: tuple[str, str]) -> int:
        digits = piece[0].strip("*")
        return int(digits) if digits.isdigit() and len(digits) < 6 else 0

    ordered = sorted(pieces, key=number)
    charset = None
    data = b""
    for k, (mark, value) in enumerate(ordered):
        if mark.endswith("*"):
            if k == 0 and value.count("'") >= 2:
                charset, _, value = value.split("'", 2)
            data += unquote_to_bytes(value)
        else:
            data += value.encode("utf-8", "surrogateescape")
    return decode_bytes(data, charset)


def _safe_name(name: str) -> str:
    """A name to show: the last part of a path, one line, at most 120 characters."""
    return clean_text(re.split(r"[/\\]", name.replace("\0", ""))[-1], 120)
