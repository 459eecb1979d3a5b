"""Taking a folder: its pictures with their table, and its mails, into the store. A second run takes nothing twice.

    folder -> files -> Arrival (one mail, or one loose picture with its row) -> originals kept -> one transaction

Every file that is meant for the programme is either a picture or listed with the sentence that says why not.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from annotate.filetypes import MEDIA_TYPES, sniff
from annotate.records import NotFound
from service.config import Config
from service.errors import BadInputError
from service.mail import Attachment, read_mail
from service.media import Media, sha256_of
from service.records import Arrival, Edition, EditionPlan, Enclosure
from service.storage import Storage
from service.suggest import suggestions_of
from service.tables import TABLE_NAME, Row, Table, clean_text, read_table

#: Files of these kinds belong to the folder itself unless the table names them; any other file is a submission.
HOUSEKEEPING = (".csv", ".tsv", ".md", ".txt", ".json", ".jsonl", ".toml", ".ini", ".db", ".ds_store", ".log")


@dataclass(frozen=True)
class TakenItem:
    """What became of one file of the folder. picture_ids are known only to the store."""

    origin: str
    #: "taken", "known" (was there before), "refused" (listed with its sentence), "left" (not for the programme)
    outcome: str
    sentence: str = ""
    pictures: int = 0


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


def folder_files(folder: Path, leave_out: Path) -> list[Path]:
    """All files below a folder in name order. Raises BadInputError.

    Hidden files and symbolic links are passed over, and so is `leave_out`, the store, which may lie inside.
    """
    if not folder.is_dir():
        raise BadInputError(f"{folder} is not a folder.", "Name the folder that the pictures and mails are in.")
    found: list[Path] = []
    store = leave_out.resolve()
    for path, folders, names in os.walk(folder):
        folders[:] = sorted(n for n in folders if not n.startswith(".") and Path(path, n).resolve() != store)
        found.extend(Path(path, n) for n in sorted(names) if not n.startswith("."))
    return [p for p in found if p.is_file() and not p.is_symlink()]


def take_folder(folder: Path, storage: Storage, media: Media, edition: Edition, config: Config,
                now: Callable[[], datetime]) -> Iterator[TakenItem]:
    """Take a folder file by file; each is committed before it is reported. BadInputError for the folder itself."""
    files = folder_files(folder, config.data_dir)
    tables: dict[Path, Table] = {}
    for path in files:
        if path.name.lower() == TABLE_NAME:
            try:
                tables[path.parent] = read_table(path, config.limits)
            except BadInputError as error:  # the pictures are taken all the same
                yield TakenItem(_origin(path, folder), "refused", f"{error} {error.advice}")
                continue
            for remark in tables[path.parent].remarks:
                yield TakenItem(_origin(path, folder), "left", remark)
    for path in files:
        origin = _origin(path, folder)
        row = _row_of(path, folder, tables)
        if path.name.lower() == TABLE_NAME:
            continue
        if row is None and path.suffix.lower() in HOUSEKEEPING:
            yield TakenItem(origin, "left", "Not a picture or mail; left alone.")
            continue
        yield _take_file(path, origin, row, storage, media, edition, config, now)
    yield from _missing(folder, files, tables)


def _take_file(path: Path, origin: str, row: Row | None, storage: Storage, media: Media, edition: Edition,
               config: Config, now: Callable[[], datetime]) -> TakenItem:
    is_mail = path.suffix.lower() == ".eml"
    limit = config.limits.mail_bytes if is_mail else config.limits.picture_bytes
    try:
        size = path.stat().st_size
        if size > limit:
            return TakenItem(origin, "refused", f"{origin} is larger than {limit // 1_000_000} MB; it stays where it "
                                                "is. Please ask for a smaller picture.")
        data = path.read_bytes()
    except OSError as error:
        return TakenItem(origin, "refused", f"{origin} cannot be read: {error.strerror}.")
    key = f"{'mail' if is_mail else 'file'}:{sha256_of(data)}"
    if storage.has_key(key):
        return TakenItem(origin, "known", "Taken before.")
    arrival, contents = mail_arrival(data, key, origin, row, config) if is_mail else loose_arrival(
        data, key, origin, path.name, row)
    for content in contents:
        media.put(content)
    if storage.add_submission(edition.id, arrival, now()) is None:
        return TakenItem(origin, "known", "Taken before.")
    usable = sum(e.refused is None for e in arrival.enclosures)
    refused = " ".join(f"{e.given_name}: {e.refused}" for e in arrival.enclosures if e.refused)
    return TakenItem(origin, "taken" if usable else "refused", " ".join(filter(None, (refused, *arrival.remarks))),
                     usable)


def loose_arrival(data: bytes, key: str, origin: str, name: str, row: Row | None) -> tuple[Arrival, list[bytes]]:
    """A loose file and its row as an arrival, and the bytes to keep."""
    arrival = Arrival(key, "folder", origin, (_enclosure(name, data),))
    return (_with_row(arrival, row) if row else arrival), [data]


def mail_arrival(raw: bytes, key: str, origin: str, row: Row | None, config: Config) -> tuple[Arrival, list[bytes]]:
    """A mail's pictures as an arrival, and the bytes to keep: the mail itself and its attachments."""
    mail = read_mail(raw, config.limits)
    if isinstance(mail, NotFound):
        refused = Enclosure(clean_text(origin), len(raw), sha256_of(raw), "message/rfc822",
                            f"{mail.reason} {mail.advice}")
        return Arrival(key, "mail", origin, (refused,)), [raw]
    enclosures = tuple(_enclosure(a.given_name, a.data) for a in _worth_listing(mail.attachments))
    if not enclosures:
        enclosures = (Enclosure(clean_text(origin), len(raw), sha256_of(raw), "message/rfc822",
                                "The mail has no picture attached. Please ask for the picture as an attachment."),)
    arrival = Arrival(
        key, "mail", origin, enclosures, mail.received_utc, mail.sender_name, mail.sender_address,
        subject=mail.subject, message_id=mail.message_id, remarks=mail.remarks, suggestions=suggestions_of(mail),
    )
    return (_with_row(arrival, row) if row else arrival), [raw, *(a.data for a in mail.attachments)]


def _worth_listing(attachments: Iterable[Attachment]) -> list[Attachment]:
    """Attachments once each (programs attach a picture inline and again), signatures and calendar files left out."""
    kept: dict[str, Attachment] = {}
    for attachment in attachments:
        machine = attachment.declared_type.startswith(("application/pgp", "application/pkcs7", "application/x-pkcs7",
                                                       "text/calendar", "text/vcard", "message/delivery"))
        if not machine:
            kept.setdefault(sha256_of(attachment.data), attachment)
    return list(kept.values())


def _enclosure(name: str, data: bytes) -> Enclosure:
    kind = sniff(data)
    sha = sha256_of(data)
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


def _row_of(path: Path, folder: Path, tables: dict[Path, Table]) -> Row | None:
    """The row of a file in the nearest table above it."""
    for parent in path.parents:
        if parent in tables:
            return tables[parent].row_for(path.relative_to(parent).as_posix())
        if parent == folder:
            break
    return None


def _missing(folder: Path, files: list[Path], tables: dict[Path, Table]) -> Iterator[TakenItem]:
    for parent, table in tables.items():
        seen = {id(_row_of(p, folder, {parent: table})) for p in files if parent in p.parents}
        for row in table.rows.values():
            if id(row) not in seen:
                yield TakenItem(row.file, "refused", f"The table names {row.file}, which is not in the folder.")


def _origin(path: Path, folder: Path) -> str:
    return clean_text(path.relative_to(folder).as_posix())
