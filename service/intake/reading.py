"""Bytes to an Arrival: what a mail or a file holds and says. Pure; runs in a child process (see `Reader`).

Everything that is meant for the programme is either a picture or listed with the sentence that says why not. Whatever
a hostile mail or archive does to the process that reads it, it costs that mail alone: it is put aside with the reason,
its bytes kept, and `moondesk retry` reads it again.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cache

from moondesk.files.formats import open_picture
from moondesk.files.formats.not_pictures import NotPicture
from moondesk.records import NotFound
from moondesk.sentences import Sentence, sentence
from moondesk.service.intake.archives import is_archive, unpack
from moondesk.service.intake.containers import open_container, saved_mail
from moondesk.service.intake.forwards import Forwarded
from moondesk.service.intake.mail import Attachment, Mail, read_head, read_mail
from moondesk.service.intake.mail_sender import Mailbox
from moondesk.service.intake.sources import ReceivedItem
from moondesk.service.intake.tables import TABLE_NAME, TableRow
from moondesk.service.jobs.child_pool import ChildDiedError, ChildLateError, ChildPool
from moondesk.service.lexicons.lexicon import lexicon, lexicons
from moondesk.service.programme.answers import read_answer
from moondesk.service.programme.consent.wording import consent_in_table
from moondesk.service.programme.letter.reading import FROM_MAIL, LetterReading, read_letter
from moondesk.service.programme.mail_text import MailBody, parts_of
from moondesk.service.settings.config import IntakeLimits
from moondesk.service.store.media import sha256_of
from moondesk.service.store.records import (
    Arrival,
    ConsentKind,
    ConsentRecord,
    Enclosure,
    LetterKind,
    LetterPart,
    Suggestion,
    WordsRead,
)
from moondesk.service.texts import clean_text

log = logging.getLogger(__name__)

#: Of an enclosure that stands for a whole mail.
MAIL_TYPE = "message/rfc822"
#: Shorter side of the pictures that mail programs put into signatures, pixels (common practice).
SMALL_PX = 200
#: In a picture of fewer pixels no Moon can be seen: it tells who opened a mail. Bytes of what may be an icon.
TRACKER_PX, ICON_BYTES = 16, 50_000
#: What one mail or archive may take, and the address space of the child that reads it: a mail of 80 MB takes a third.
READ_SECONDS = 60.0
READ_BYTES = 2_500_000_000
#: One reads while another's answer is being stored; a public page has its own process.
CHILDREN = 2
#: So many letters are followed by more.
SEVERAL = 2
PRELOAD = ("moondesk.service.intake.reading", "moondesk.service.intake.pdf_pictures")


@dataclass(frozen=True, kw_only=True)
class Story:
    """A form's free text, read as a mail's words are."""

    text: tuple[LetterPart, ...] = ()
    facts: tuple[Suggestion, ...] = ()
    words_read: WordsRead = ""


def put_words_together(code: str) -> None:
    """Read a letter of the commonest words of a language, so that all that its file says is ready to be looked for."""
    known = str(lexicon(code).table["known"]).replace("_", " ").split()[:60]
    text = ". ".join(" ".join(known[k : k + 6]) for k in range(0, len(known), 6))
    read_letter("", "", parts_of(text), datetime(2026, 10, 18, 18, tzinfo=UTC))


class Reader:
    """Reads what came in elsewhere than in this process. pool: where."""

    def __init__(self, pool: Executor) -> None:
        self._pool = pool
        self._letters = 0

    def arrival(self, received: ReceivedItem, key: str, limits: IntakeLimits) -> tuple[Arrival, list[bytes]]:
        """The arrival of a mail or file, and the bytes to keep, its own first. Never raises for what they may do."""
        for last in (False, True):
            try:
                arrive = mail_arrival if received.is_mail else loose_arrival
                bare = replace(received, row=None)
                arrival, contents = self._pool.submit(arrive, bare, key, limits).result()
                self._make_ready(arrival)
                return _check_arrival(arrival, received, key, contents)
            except ChildLateError as error:
                return put_aside(received, key, "late", time=error), [received.data]
            except ChildDiedError:  # perhaps not by this mail: somebody may have ended the process
                if last:
                    return put_aside(received, key, "died"), [received.data]
            except (MemoryError, RecursionError):
                return put_aside(received, key, "memory"), [received.data]
            except Exception as error:
                log.warning("reading %s: %s: %s", received.origin, type(error).__name__, error)
                return put_aside(received, key, "unreadable", why=type(error).__name__), [received.data]
        raise AssertionError("unreachable")

    def _make_ready(self, arrival: Arrival) -> None:
        """Letters are followed by others: the next child need not put the words of their language together again.

        From the second on all languages', for a few words may be of any of them: 3 s for each letter, done once in 13.
        """
        if not isinstance(self._pool, ChildPool) or arrival.words_read in ("", "none"):
            return
        self._letters += 1
        own = {s.value for s in arrival.suggestions if s.field == "language"} & lexicons().keys()
        for code in own if self._letters < SEVERAL else sorted(lexicons(), key=lambda code: code not in own):
            self._pool.make_ready(put_words_together, code)

    def text(self, raw: bytes, limits: IntakeLimits) -> tuple[LetterPart, ...] | None:
        """The text of a mail; None where it cannot be read."""
        try:
            return self._pool.submit(mail_text, raw, limits).result()
        except Exception as error:
            log.warning("reading a mail's text: %s", type(error).__name__)
            return None

    def story(self, text: str, name: str) -> Story:
        """What the words of a form's free text say; read in none where reading fails."""
        parts = (LetterPart("own", text),)
        if not text:
            return Story(words_read="none")
        try:
            said = self._pool.submit(read_story, text, name).result()
            return Story(text=parts, facts=said.facts, words_read=said.words_read)
        except Exception as error:
            log.warning("reading a form's text: %s", type(error).__name__)
            return Story(text=parts, words_read="not_understood")

    def opened(self, name: str, data: bytes, limits: IntakeLimits) -> tuple[list[Enclosure], list[bytes]]:
        """The enclosures of one file, and the contents of it as an archive. Never raises for what it may do."""
        try:
            return self._pool.submit(open_files, [Attachment(name, data, "")], limits).result()
        except Exception as error:
            log.warning("opening a file: %s", type(error).__name__)
            return [
                Enclosure(
                    given_name=clean_text(name, 120),
                    size_bytes=len(data),
                    sha256=sha256_of(data),
                    media_type=None,
                    refusal=(sentence("opener_died"), sentence("send_as_jpeg")),
                )
            ], []


@cache
def shared_reader() -> Reader:
    """The reader of this process, whose children end with it."""
    return Reader(ChildPool(CHILDREN, READ_SECONDS, PRELOAD, READ_BYTES, patient=False))


def _check_arrival(
    arrival: Arrival, received: ReceivedItem, key: str, contents: list[bytes]
) -> tuple[Arrival, list[bytes]]:
    """What came of a mail or file, with what is known here whatever its reader says; and the bytes to keep.

    Raises ValueError for an enclosure whose bytes did not come along.
    """
    by_sha = {sha256_of(received.data): received.data} | {sha256_of(c): c for c in contents}
    listed = {e.sha256 for e in arrival.enclosures if e.sha256 is not None}
    if not listed <= by_sha.keys():
        raise ValueError("an enclosure without its bytes")
    arrival = replace(arrival, key=key, source=received.source, origin=received.origin, receipt=None)
    rest = [by_sha[sha] for sha in by_sha if sha in listed]  # what nothing refers to would never be erased
    kept = [received.data, *(data for data in rest if data is not received.data)]
    return (_with_row(arrival, received.row) if received.row else arrival), kept


def put_aside(received: ReceivedItem, key: str, end: str, **values: object) -> Arrival:
    """The arrival of what could not be read. end: of the sentence's code."""
    reason = sentence(f"{'mail' if received.is_mail else 'file'}_{end}", **values)
    aside = Enclosure(
        given_name=clean_text(received.name, 120),
        size_bytes=len(received.data),
        sha256=sha256_of(received.data),
        media_type=MAIL_TYPE if received.is_mail else None,
        refusal=(reason, sentence("retry_reads")),
    )
    arrival = Arrival(key=key, source=received.source, origin=received.origin, enclosures=(aside,))
    return _with_row(arrival, received.row) if received.row else arrival


def loose_arrival(received: ReceivedItem, key: str, limits: IntakeLimits) -> tuple[Arrival, list[bytes]]:
    """A loose file as an arrival, and the bytes to keep of what it holds as an archive."""
    enclosures, contents = open_files([Attachment(received.name, received.data, "")], limits)
    arrival = Arrival(key=key, source=received.source, origin=received.origin, enclosures=tuple(enclosures))
    saved = saved_mail(received.data, limits)
    if saved is None:
        return arrival, contents
    body = parts_of(saved.text)  # a viewer's mail, which somebody saved
    said = read_letter("", saved.sender_name, body)
    return replace(
        arrival,
        sender_name=clean_text(saved.sender_name, 200),
        sender_address=clean_text(saved.sender_address, 200),
        suggestions=said.facts,
        words_read=said.words_read,
        text=body.parts,
    ), contents


def mail_arrival(received: ReceivedItem, key: str, limits: IntakeLimits) -> tuple[Arrival, list[bytes]]:
    """A mail's pictures as an arrival, and the bytes to keep: its attachments and what they hold."""
    raw, name = received.data, clean_text(received.name)
    mail = read_mail(raw, limits)
    if isinstance(mail, NotFound):
        refused = Enclosure(
            given_name=name,
            size_bytes=len(raw),
            sha256=sha256_of(raw),
            media_type=MAIL_TYPE,
            refusal=(*mail.reasons, *mail.advices),
        )
        head = read_head(raw, limits)
        return Arrival(
            key=key,
            source=received.source,
            origin=received.origin,
            enclosures=(refused,),
            received_utc=head.received_utc,
            sender_name=head.sender_name,
            sender_address=head.sender_address,
            answer_to=head.answer_to,
            subject=head.subject,
            message_id=head.message_id,
            remarks=head.remarks,
            words_read="not_understood",
            answers=head.answers,
            addresses=head.addresses,
            service=head.service,
        ), []
    mail = _with_saved_mails(mail, limits)
    attached = _worth_listing(mail.attachments)
    enclosures, contents = open_files(attached, limits)
    enclosures, remarks = _set_aside(attached, enclosures)
    said = read_letter(mail.subject, mail.sender_name, mail.body, mail.written)
    words, letter = said.words_read, _letter_kind(mail, said, enclosures, attached)
    if received.refusal:  # only its head was fetched
        enclosures = [
            Enclosure(
                given_name=name,
                size_bytes=received.size_bytes or len(raw),
                sha256=sha256_of(raw),
                media_type=MAIL_TYPE,
                refusal=received.refusal,
            )
        ]
        words, letter = "not_understood", ""
    arrival = Arrival(
        key=key,
        source=received.source,
        origin=received.origin,
        enclosures=tuple(enclosures),
        received_utc=mail.received_utc,
        sender_name=mail.sender_name,
        sender_address=mail.sender_address,
        subject=mail.subject,
        message_id=mail.message_id,
        remarks=(*mail.remarks, *remarks, *_links(mail)),
        suggestions=_suggestions(mail, said),
        words_read=words,
        text=mail.body.parts,
        letter=letter,
        answers=mail.answers,
        addresses=mail.addresses,
        answer_to=mail.answer_to,
        service=mail.service,
        answer=read_answer(mail.text, said.consent)
        if mail.answers and not mail.machine and not received.refusal
        else None,
        bounce=mail.bounce,
        small=tuple(sorted(_small(attached).keys() & {e.sha256 for e in enclosures})),
    )
    return arrival, [*(a.data for a in attached), *contents]


def _with_saved_mails(mail: Mail, limits: IntakeLimits) -> Mail:
    """Mails that were saved and attached are somebody else's words, and perhaps picture."""
    for attachment in mail.attachments:
        saved = saved_mail(attachment.data, limits)
        if saved is None:
            continue
        parts = tuple(LetterPart("quoted", part.text) for part in parts_of(saved.text).parts)
        who = Mailbox(clean_text(saved.sender_name, 200), clean_text(saved.sender_address, 200))
        others = who.address.casefold() != mail.sender_address.casefold() if who.address else bool(who.name)
        forwarded = (
            Forwarded(who, f"{who.name} <{who.address}>") if others and mail.forwarded is None else mail.forwarded
        )
        addresses = tuple(dict.fromkeys((*mail.addresses, *filter(None, [who.address.casefold()]))))
        body = replace(mail.body, parts=(*mail.body.parts, *parts), whole=False)
        mail = replace(mail, body=body, forwarded=forwarded, addresses=addresses)
    return mail


def _suggestions(mail: Mail, said: LetterReading) -> tuple[Suggestion, ...]:
    """What a mail's words suggest; whoever forwards a mail is asked whose the picture is, and may agree for nobody."""
    facts = said.facts
    if mail.forwarded is None:
        return facts
    who, words = mail.forwarded.sender, mail.forwarded.words
    value = f"{who.name} <{who.address}>".strip() if who.address else who.name
    if not any(fact.field == "consent" for fact in facts):
        facts = (*facts, Suggestion("consent", "unclear", words, FROM_MAIL))
    return (*facts, Suggestion("forwarded", value, words, FROM_MAIL))


def read_story(text: str, name: str) -> Story:
    """In a child. name: who sends the form."""
    said = read_letter("", name, MailBody((LetterPart("own", text),)))
    return Story(facts=said.facts, words_read=said.words_read)


def mail_text(raw: bytes, limits: IntakeLimits) -> tuple[LetterPart, ...] | None:
    """The text of a mail that is kept, for a store of an older release, which has none."""
    mail = read_mail(raw, limits)
    return None if isinstance(mail, NotFound) else mail.body.parts


def _letter_kind(
    mail: Mail, said: LetterReading, enclosures: list[Enclosure], attached: list[Attachment]
) -> LetterKind:
    """Whether somebody must read a mail before its sender's pictures may be shown.

    One without a picture, where only small ones (a signature's) came with it, is a letter. One whose files cannot be
    used is where its words leave a doubt. One with pictures is where it speaks of taking back, or answers a mail in
    words that are not understood: it may be about earlier ones.
    """
    consent, words = said.consent, said.words_read
    refused = [e for e in enclosures if e.refused is not None]
    small = _small(attached)
    if any(e.refused is None and e.sha256 not in small for e in enclosures):
        return "letter" if consent.withdrawal or (mail.answers and words == "not_understood") else ""
    if mail.machine:
        return "machine"
    return "" if refused and words != "not_understood" and consent.state in ("none", "suggested") else "letter"


def _set_aside(attached: list[Attachment], enclosures: list[Enclosure]) -> tuple[list[Enclosure], tuple[Sentence, ...]]:
    """A mail's files without the logos and icons of its signature, where it has another picture: a tiny Moon that came
    alone stays, but not what no Moon could be seen in. Their bytes stay in the mail."""
    small = _small(attached)
    inline = {sha256_of(a.data) for a in attached if a.inline}
    icons = {sha256_of(a.data) for a in attached if a.declared_type.startswith("image/") and len(a.data) < ICON_BYTES}
    others = any(e.refused is None and e.sha256 not in small for e in enclosures)

    def is_aside(e: Enclosure) -> bool:
        if e.sha256 not in inline:
            return False
        if e.refused is not None:  # a drawing, perhaps animated
            return others and e.sha256 in icons
        return e.sha256 in small and (others or small[e.sha256] < TRACKER_PX)

    aside = sum(map(is_aside, enclosures))
    return [e for e in enclosures if not is_aside(e)], told_aside(aside)


def told_aside(count: int) -> tuple[Sentence, ...]:
    if count == 1:
        return (sentence("set_aside_one"),)
    return (sentence("set_aside", count=count),) if count else ()


def _links(mail: Mail) -> tuple[Sentence, ...]:
    return (sentence("mail_links", links=" ".join(mail.links)),) if mail.links else ()


def _small(attached: Iterable[Attachment]) -> dict[str, int]:
    """Of the pictures that are as small as those of signatures: the shorter side by SHA-256."""
    sizes = ((sha256_of(a.data), open_picture(a.data).size) for a in attached)
    return {sha: min(size) for sha, size in sizes if size is not None and 0 < min(size) < SMALL_PX}


def open_files(attachments: Iterable[Attachment], limits: IntakeLimits) -> tuple[list[Enclosure], list[bytes]]:
    """Enclosures of files, archives opened one level deep, each content once; and the contents of the archives."""
    enclosures: dict[str, Enclosure] = {}
    contents: list[bytes] = []

    def add(enclosure: Enclosure) -> None:
        enclosures.setdefault(enclosure.sha256 or f"{len(enclosures)}", enclosure)

    for attachment in attachments:
        left = replace(limits, archive_bytes=max(limits.archive_bytes - sum(map(len, contents)), 0))
        members = open_container(attachment.given_name, attachment.data, left)
        if members is None and is_archive(attachment.data):
            members = unpack(attachment.data, left)
        if members is None or isinstance(members, NotFound):
            why = (*members.reasons, *members.advices) if isinstance(members, NotFound) else ()
            add(_enclosure(attachment.given_name, attachment.data, why))
            continue
        if not members:
            empty = (sentence("archive_empty"), sentence("send_picture"))
            add(_enclosure(attachment.given_name, attachment.data, empty))
        for member in members:
            if member.data is None:
                add(
                    Enclosure(
                        given_name=member.name, size_bytes=0, sha256=None, media_type=None, refusal=member.refusal
                    )
                )
            else:
                contents.append(member.data)
                add(_enclosure(member.name, member.data))
    return list(enclosures.values()), contents


def _worth_listing(attachments: Iterable[Attachment]) -> list[Attachment]:
    """Attachments once each (programs attach a picture inline and again), signatures and calendar files left out."""
    kept: dict[str, Attachment] = {}
    for attachment in attachments:
        machine = attachment.declared_type.startswith(
            (
                "application/pgp",
                "application/pkcs7",
                "application/x-pkcs7",
                "text/calendar",
                "text/vcard",
                "message/delivery",
            )
        )
        if not machine:
            sha = sha256_of(attachment.data)
            inline = attachment.inline and (sha not in kept or kept[sha].inline)
            kept[sha] = replace(kept.get(sha, attachment), inline=inline)
    return list(kept.values())


def _enclosure(name: str, data: bytes, refusal: tuple[Sentence, ...] = ()) -> Enclosure:
    media_type = None
    if not refusal:
        file = open_picture(data)
        if isinstance(file, NotPicture):
            refusal = (*file.refusal.reasons, *file.refusal.advices)
        else:
            media_type = file.media_type
    return Enclosure(
        given_name=clean_text(name, 120),
        size_bytes=len(data),
        sha256=sha256_of(data),
        media_type=media_type,
        refusal=refusal,
    )


def _with_row(arrival: Arrival, row: TableRow) -> Arrival:
    """The arrival with what its row says; the row beats the mail."""
    return replace(
        arrival,
        received_utc=row.received_utc or arrival.received_utc,
        taken_utc=row.taken_utc,
        place=row.position,
        place_name=row.place_name,
        sender_name=row.name or arrival.sender_name,
        credit_line=row.credit,
        equipment=row.equipment,
        consent=row.consent,
        remarks=(*arrival.remarks, *row.remarks),
        consents=_consent_of_table(row.consent),
    )


def _consent_of_table(cell: str) -> tuple[ConsentRecord, ...]:
    """The record of what the programme's own table says; none for words that are neither yes nor no."""
    said = consent_in_table(cell)
    if said.state != "given" and said.state != "refused":
        return ()
    kind: ConsentKind = "table" if said.kind == "" or said.kind == "terms" else said.kind
    return (ConsentRecord(state=said.state, kind=kind, evidence=said.evidence, noted_by=TABLE_NAME),)
