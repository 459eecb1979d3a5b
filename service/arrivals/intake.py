"""Bytes to Submission: the one path of everything that comes in, whatever brought it. Nothing is taken twice.

    Received (see `sources`) -> Arrival with its Enclosures -> originals kept -> one transaction

Everything that is meant for the programme is either a picture or listed with the sentence that says why not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from annotate.filetypes import MEDIA_TYPES, sniff
from annotate.records import NotFound
from service.arrivals.archives import is_archive, unpack
from service.arrivals.mail import Attachment, read_mail
from service.arrivals.sources import Received, TakenItem, received_from
from service.arrivals.suggest import suggestions_of
from service.arrivals.tables import Row, clean_text
from service.config import Config, Limits
from service.store.records import Arrival, Edition, EditionPlan, Enclosure
from service.store.storage import Storage
from service.work.media import Media, sha256_of

#: What is unfinished for so long was left by a taker that is gone.
UNFINISHED = timedelta(hours=1)


def open_edition(storage: Storage, config: Config, now: datetime,
                 day_of: Callable[[EditionPlan], int | None]) -> Edition:
    """The edition that arrivals go to: the lowest not yet aired, else a new one (the planned one in a fresh store)."""
    editions = storage.editions()
    waiting = [e for e in editions if e.plan.air_utc is None or e.plan.air_utc > now]
    if waiting:
        return min(waiting, key=lambda e: e.plan.number)
    plan = config.edition
    if not editions and plan is not None:
        return storage.add_edition(replace(plan, day_number=day_of(plan)))
    return storage.add_edition(EditionPlan(editions[0].plan.number + 1 if editions else 1))


@dataclass(frozen=True)
class Intake:
    """Where arrivals go: the store, its media folder and an edition. now: read at each commit."""

    storage: Storage
    media: Media
    edition: Edition
    config: Config
    now: Callable[[], datetime]

    def take_path(self, path: Path) -> Iterator[TakenItem]:
        """Take a folder, a Maildir, an mbox file, a mail, an archive or a picture; BadInputError for the path itself.

        Each item is committed before it is reported.
        """
        self.media.sweep(self.now() - UNFINISHED)
        for found in received_from(path, self.config):
            yield found if isinstance(found, TakenItem) else self.take(found)

    def take(self, received: Received) -> TakenItem:
        """Take one mail or one file."""
        origin = received.origin
        key = f"{'mail' if received.is_mail else 'file'}:{sha256_of(received.data)}"
        if self.storage.has_key(key):
            return TakenItem(origin, "known", "Taken before.")
        arrive = mail_arrival if received.is_mail else loose_arrival
        arrival, contents = arrive(received, key, self.config.limits)
        for content in contents:
            self.media.put(content)
        if self.storage.add_submission(self.edition.id, arrival, self.now()) is None:
            return TakenItem(origin, "known", "Taken before.")
        usable = sum(e.refused is None for e in arrival.enclosures)
        refused = " ".join(f"{e.given_name}: {e.refused}" for e in arrival.enclosures if e.refused)
        return TakenItem(origin, "taken" if usable else "refused",
                         " ".join(filter(None, (refused, *arrival.remarks))), usable)


def loose_arrival(received: Received, key: str, limits: Limits) -> tuple[Arrival, list[bytes]]:
    """A loose file and its row as an arrival, and the bytes to keep: the file, and what it holds as an archive."""
    enclosures, contents = opened([Attachment(received.name, received.data, "")], limits)
    arrival = Arrival(key, "folder", received.origin, tuple(enclosures))
    return (_with_row(arrival, received.row) if received.row else arrival), [received.data, *contents]


def mail_arrival(received: Received, key: str, limits: Limits) -> tuple[Arrival, list[bytes]]:
    """A mail's pictures as an arrival, and the bytes to keep: the mail itself, its attachments and what they hold."""
    raw, row, name = received.data, received.row, clean_text(received.name)
    mail = read_mail(raw, limits)
    if isinstance(mail, NotFound):
        refused = Enclosure(name, len(raw), sha256_of(raw), "message/rfc822", f"{mail.reason} {mail.advice}")
        return Arrival(key, "mail", received.origin, (refused,)), [raw]
    enclosures, contents = opened(_worth_listing(mail.attachments), limits)
    if not enclosures:
        enclosures = [Enclosure(name, len(raw), sha256_of(raw), "message/rfc822",
                                "The mail has no picture attached. Please ask for the picture as an attachment.")]
    arrival = Arrival(
        key, "mail", received.origin, tuple(enclosures), mail.received_utc, mail.sender_name, mail.sender_address,
        subject=mail.subject, message_id=mail.message_id, remarks=mail.remarks, suggestions=suggestions_of(mail),
    )
    return (_with_row(arrival, row) if row else arrival), [raw, *(a.data for a in mail.attachments), *contents]


def opened(attachments: Iterable[Attachment], limits: Limits) -> tuple[list[Enclosure], list[bytes]]:
    """Enclosures of files, archives opened one level deep, each content once; and the contents of the archives."""
    enclosures: dict[str, Enclosure] = {}
    contents: list[bytes] = []

    def add(enclosure: Enclosure) -> None:
        enclosures.setdefault(enclosure.sha256 or f"{len(enclosures)}", enclosure)

    for attachment in attachments:
        members = unpack(attachment.data, limits) if is_archive(attachment.data) else None
        if members is None or isinstance(members, NotFound):
            why = f"{members.reason} {members.advice}" if isinstance(members, NotFound) else None
            add(_enclosure(attachment.given_name, attachment.data, why))
            continue
        if not members:
            add(_enclosure(attachment.given_name, attachment.data, "The archive is empty. Please send the picture."))
        for member in members:
            if member.data is None:
                add(Enclosure(member.name, 0, None, None, member.refused))
            else:
                contents.append(member.data)
                add(_enclosure(member.name, member.data))
    return list(enclosures.values()), contents


def _worth_listing(attachments: Iterable[Attachment]) -> list[Attachment]:
    """Attachments once each (programs attach a picture inline and again), signatures and calendar files left out."""
    kept: dict[str, Attachment] = {}
    for attachment in attachments:
        machine = attachment.declared_type.startswith(("application/pgp", "application/pkcs7", "application/x-pkcs7",
                                                       "text/calendar", "text/vcard", "message/delivery"))
        if not machine:
            kept.setdefault(sha256_of(attachment.data), attachment)
    return list(kept.values())


def _enclosure(name: str, data: bytes, refused: str | None = None) -> Enclosure:
    sha = sha256_of(data)
    if refused:
        return Enclosure(clean_text(name, 120), len(data), sha, None, refused)
    kind = sniff(data)
    if isinstance(kind, NotFound):
        return Enclosure(clean_text(name, 120), len(data), sha, None, f"{kind.reason} {kind.advice}")
    return Enclosure(clean_text(name, 120), len(data), sha, MEDIA_TYPES[kind])


def _with_row(arrival: Arrival, row: Row) -> Arrival:
    """The arrival with what its row says; the row beats the mail."""
    return replace(
        arrival, received_utc=row.received_utc or arrival.received_utc, taken_utc=row.taken_utc, place=row.position,
        place_name=row.place_name, sender_name=row.name or arrival.sender_name, credit_line=row.credit,
        equipment=row.equipment, consent=row.consent, remarks=(*arrival.remarks, *row.remarks),
    )
