"""Where things come from: folders, Maildirs, mbox files, single files, each as its bytes, one after the other.

    folder: its pictures with their table (submissions.csv), mails (.eml), archives, mbox files and Maildirs in it

What is not for the programme, or cannot be read, is told as a `TakenItem` with its sentence. Nothing is changed here.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from moondesk.records import NotFound
from moondesk.sentences import Sentence
from moondesk.service.arrivals import ARRIVAL_WAYS
from moondesk.service.errors import BadInputError
from moondesk.service.intake.mailbox_files import is_maildir, is_mbox, maildir_files, mbox_mails
from moondesk.service.intake.tables import TABLE_NAME, Table, TableRow, read_table
from moondesk.service.settings.config import Config
from moondesk.service.texts import clean_text

#: Files of these kinds belong to the folder itself unless the table names them; any other file is a submission.
HOUSEKEEPING = (".csv", ".tsv", ".md", ".txt", ".json", ".jsonl", ".toml", ".ini", ".db", ".ds_store", ".log")
_HEAD_BYTES = 1_024


@dataclass(frozen=True, kw_only=True)
class ReceivedItem:
    """One mail or one file as it came. origin: where it lay; name: as given, text only; row: what a table says.

    refusal: why only the head of a mail was brought; size_bytes: of the whole of it then.
    """

    data: bytes
    origin: str
    name: str
    #: Name of the way by which it came, see `arrivals.ARRIVAL_WAYS`.
    source: str
    row: TableRow | None = None
    refusal: tuple[Sentence, ...] = ()
    size_bytes: int | None = None

    @property
    def is_mail(self) -> bool:
        return ARRIVAL_WAYS[self.source].is_mail


@dataclass(frozen=True)
class TakenItem:
    """What became of one file or mail. picture_ids are known only to the store."""

    origin: str
    #: "taken", "known" (was there before), "refused" (listed with its sentence), "left" (not for the programme)
    outcome: str
    sentence: str = ""
    pictures: int = 0


Found = ReceivedItem | TakenItem


def receive_from(path: Path, config: Config) -> Iterator[Found]:
    """Everything at a path. Raises BadInputError where there is nothing."""
    if path.is_file():
        yield from _file(path, clean_text(path.name), None, config)
    elif not path.is_dir():
        raise BadInputError(f"{path} is not a folder or file.", "Name the folder that the pictures and mails are in.")
    elif is_maildir(path):
        yield from _maildir(path, "", config)
    else:
        yield from _folder(path, config)


def folder_files(folder: Path, leave_out: Path) -> tuple[list[Path], list[Path]]:
    """All files below a folder in name order, and the Maildirs, whose files are not among them.

    Hidden files and symbolic links are passed over, and so is `leave_out`, the store, which may lie inside.
    """
    files: list[Path] = []
    maildirs: list[Path] = []
    store = leave_out.resolve()
    for path, folders, names in os.walk(folder):
        if is_maildir(Path(path)):
            maildirs.append(Path(path))
            folders.clear()
            continue
        folders[:] = sorted(n for n in folders if not n.startswith(".") and Path(path, n).resolve() != store)
        files.extend(Path(path, n) for n in sorted(names) if not n.startswith("."))
    return [p for p in files if p.is_file() and not p.is_symlink()], maildirs


def _folder(folder: Path, config: Config) -> Iterator[Found]:
    files, maildirs = folder_files(folder, config.data_dir)
    tables: dict[Path, Table] = {}
    for path in files:
        if path.name.lower() == TABLE_NAME:
            try:
                tables[path.parent] = read_table(path, config.limits)
            except BadInputError as error:  # the pictures are taken all the same
                yield TakenItem(_origin(path, folder), "refused", f"{error} {error.advice}")
                continue
            for remark in tables[path.parent].remarks:
                yield TakenItem(_origin(path, folder), "left", str(remark))
    for path in files:
        origin = _origin(path, folder)
        row = _row_of(path, folder, tables)
        if path.name.lower() == TABLE_NAME:
            continue
        if row is None and path.suffix.lower() in HOUSEKEEPING:
            yield TakenItem(origin, "left", "Not a picture or mail; left alone.")
            continue
        yield from _file(path, origin, row, config)
    for maildir in maildirs:
        yield from _maildir(maildir, _origin(maildir, folder) + "/", config)
    yield from _missing_items(folder, files, tables)


def _file(path: Path, origin: str, row: TableRow | None, config: Config) -> Iterator[Found]:
    """A file as one thing received, or as the mails of the mbox that it is."""
    try:
        with path.open("rb") as file:
            if is_mbox(file.read(_HEAD_BYTES)):
                file.seek(0)
                for number, mail in enumerate(mbox_mails(file, config.limits.mail_bytes), 1):
                    which = f"{origin} #{number}"
                    yield (
                        TakenItem(which, "refused", f"{which}: {mail.reason} {mail.advice}")
                        if isinstance(mail, NotFound)
                        else ReceivedItem(data=mail, origin=which, name=which, source="mail")
                    )
                return
        yield _whole(path, origin, "mail" if path.suffix.lower() == ".eml" else "folder", row, config)
    except OSError as error:
        yield TakenItem(origin, "refused", f"{origin} cannot be read: {error.strerror}.")


def _maildir(folder: Path, before: str, config: Config) -> Iterator[Found]:
    for path in maildir_files(folder):
        origin = clean_text(f"{before}{path.parent.name}/{path.name}")
        try:
            yield _whole(path, origin, "mail", None, config)
        except OSError as error:  # a mail program may move it at any time; the next run finds it
            yield TakenItem(origin, "refused", f"{origin} cannot be read: {error.strerror}.")


def _whole(path: Path, origin: str, source: str, row: TableRow | None, config: Config) -> Found:
    limit = config.limits.mail_bytes if ARRIVAL_WAYS[source].is_mail else config.limits.picture_bytes
    if path.stat().st_size > limit:
        return TakenItem(
            origin,
            "refused",
            f"{origin} is larger than {limit // 1_000_000} MB; it stays where it is. Please ask for a smaller picture.",
        )
    return ReceivedItem(data=path.read_bytes(), origin=origin, name=path.name, source=source, row=row)


def _row_of(path: Path, folder: Path, tables: dict[Path, Table]) -> TableRow | None:
    """The row of a file in the nearest table above it."""
    for parent in path.parents:
        if parent in tables:
            return tables[parent].row_for(path.relative_to(parent).as_posix())
        if parent == folder:
            break
    return None


def _missing_items(folder: Path, files: list[Path], tables: dict[Path, Table]) -> Iterator[TakenItem]:
    for parent, table in tables.items():
        seen = {id(_row_of(p, folder, {parent: table})) for p in files if parent in p.parents}
        for row in table.rows.values():
            if id(row) not in seen:
                yield TakenItem(row.file, "refused", f"The table names {row.file}, which is not in the folder.")


def _origin(path: Path, folder: Path) -> str:
    return clean_text(path.relative_to(folder).as_posix())
