"""Marks of what was erased, so that a backup from before the erasure does not bring it back: keyed hashes, no names.

    erased.key in the data folder, and a copy in every backup
    erased_marks in the store, and so in every later backup
    forgotten.json in every backup, written anew when somebody is forgotten

A submission's mark stands for its key (the hash of what came), a sender's for the address, or the name where there was
none. What was stored after the erasure is not meant: who was forgotten may send again. Whoever holds the key can try
addresses against the marks, and whoever holds a backup from before the erasure has the address itself.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from moondesk.service.errors import StorageError
from moondesk.service.store.keys import ERASED_KEY, KEY_BYTES, load_key
from moondesk.service.store.media import write_whole
from moondesk.service.store.opening import DATABASE_NAME
from moondesk.service.store.rows import time_text
from moondesk.service.store.senders import senders
from moondesk.service.store.storage import Storage

LISTING = "forgotten.json"
Kind = Literal["submission", "sender"]


@dataclass(frozen=True)
class Mark:
    kind: Kind
    mark: str
    when_utc: datetime


@dataclass(frozen=True)
class Marks:
    """Marks with the key that they were made with."""

    key: bytes
    marks: tuple[Mark, ...]


def mark_of(key: bytes, kind: Kind, text: str) -> str:
    """64 hex digits."""
    return hmac.new(key, f"{kind}\n{text}".encode(), hashlib.sha256).hexdigest()


def insert_marks(storage: Storage, submission_ids: Sequence[int], sender: str, when_utc: datetime) -> None:
    """Note what is about to be erased, within its transaction. sender: folded; "" where no person is forgotten."""
    key = load_key(storage.data_dir / ERASED_KEY)
    marks = ", ".join("?" * len(submission_ids))
    noted = [
        ("submission", row["key"])
        for row in storage.read(f"select key from submissions where id in ({marks})", list(submission_ids))
    ]
    if sender:
        noted.append(("sender", sender))
    for kind, text in noted:
        mark: Kind = kind  # type: ignore[assignment]
        storage.execute(
            "insert or replace into erased_marks values (?, ?, ?)",
            [kind, mark_of(key, mark, text), time_text(when_utc)],
        )


def marks_of(storage: Storage) -> tuple[Mark, ...]:
    if not storage.read("select 1 from sqlite_master where name = 'erased_marks'"):
        return ()  # of a release before this
    return tuple(
        Mark(row["kind"], row["mark"], datetime.fromisoformat(row["when_utc"]))
        for row in storage.read("select kind, mark, when_utc from erased_marks order by kind, mark")
    )


def erased_elsewhere(storage: Storage, known: Iterable[Marks]) -> tuple[int, ...]:
    """Ids of the submissions that were erased elsewhere after they were stored here."""
    when: dict[tuple[bytes, str, str], datetime] = {}
    for one in known:
        for m in one.marks:
            at = (one.key, m.kind, m.mark)
            when[at] = max(m.when_utc, when.get(at, m.when_utc))
    keys = {at[0] for at in when}
    found = set()
    texts = [(row["id"], "submission", row["key"]) for row in storage.read("select id, key from submissions")]
    stored = {
        row["id"]: datetime.fromisoformat(row["stored_utc"])
        for row in storage.read("select id, stored_utc from submissions")
    }
    for submission_id, kind, text in (*texts, *((k, "sender", folded) for k, folded in senders(storage))):
        for key in keys:
            erased = when.get((key, kind, mark_of(key, kind, text)))  # type: ignore[arg-type]
            if erased is not None and stored[submission_id] <= erased:
                found.add(submission_id)
    return tuple(sorted(found))


# --- beside the backups ----------------------------------------------------------------------------------------------


def marks_beside(folder: Path) -> Marks | None:
    """The marks of a backup, or of a data folder: those of its store and those written beside it. Raises StorageError;
    None where it has no key."""
    if not (folder / ERASED_KEY).is_file():
        return None
    with Storage(folder, read_only=True) as storage:
        marks = marks_of(storage)
    return Marks(_key_of(folder), (*marks, *_read(folder / LISTING)))


def write_beside(folder: Path, key: bytes, marks: Sequence[Mark]) -> None:
    """Put key and marks into a backup; what stands there already is kept."""
    if not (folder / ERASED_KEY).is_file():
        write_whole(folder / ERASED_KEY, key, durable=True)
    every = sorted({(m.kind, m.mark, time_text(m.when_utc)) for m in (*marks, *_read(folder / LISTING))})
    data = json.dumps({"erased": every}, indent=0).encode()
    if not (folder / LISTING).is_file() or (folder / LISTING).read_bytes() != data:
        write_whole(folder / LISTING, data, durable=True)


def is_ours(folder: Path, key: bytes) -> bool:
    """Whether a folder holds a backup of the store with that key, or of one of before there were keys, or none."""
    return not (folder / ERASED_KEY).is_file() or _key_of(folder) == key


def note_backup(storage: Storage, folder: Path, when_utc: datetime) -> None:
    """Note where a backup is made, before it is."""
    with storage.writing() as execute:
        execute("insert or replace into backups values (?, ?)", [str(folder.resolve()), time_text(when_utc)])


@dataclass(frozen=True)
class Backups:
    """Folders of backups that hold what was erased since: told of it, or out of reach."""

    told: tuple[Path, ...]
    unreached: tuple[Path, ...]


NO_BACKUPS = Backups((), ())


def tell_backups(storage: Storage) -> Backups:
    """Write what was erased beside the backups that were made before, those that can be reached; nothing is lost by
    one that cannot: it is told the next time."""
    marks, told, unreached = marks_of(storage), [], []
    if not marks:
        return NO_BACKUPS
    latest = max(m.when_utc for m in marks)
    key = load_key(storage.data_dir / ERASED_KEY)
    for row in storage.read("select folder, when_utc from backups order by folder"):
        folder = Path(row["folder"])
        if datetime.fromisoformat(row["when_utc"]) > latest:
            continue
        try:
            if (folder / DATABASE_NAME).is_file() and is_ours(folder, key):
                write_beside(folder, key, marks)
                told.append(folder)
            else:
                unreached.append(folder)
        except (OSError, StorageError):
            unreached.append(folder)
    return Backups(tuple(told), tuple(unreached))


def _key_of(folder: Path) -> bytes:
    try:
        key = (folder / ERASED_KEY).read_bytes()
    except OSError as error:
        raise StorageError(
            f"{folder / ERASED_KEY} cannot be read: {error.strerror}.", "Check its permissions."
        ) from error
    if len(key) != KEY_BYTES:
        raise StorageError(
            f"{folder / ERASED_KEY} is not a key of {KEY_BYTES} bytes.",
            "Without it nobody can tell whom this backup must not bring back. Copy the key from the "
            "data folder or from another backup of it.",
        )
    return key


def _read(path: Path) -> tuple[Mark, ...]:
    if not path.is_file():
        return ()
    try:
        listed = json.loads(path.read_text(encoding="utf-8"))["erased"]
        return tuple(Mark(kind, mark, datetime.fromisoformat(when)) for kind, mark, when in listed)
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StorageError(
            f"{path} cannot be read: {error}.",
            "It says who was forgotten after this backup. Copy it from another backup, or restore that.",
        ) from error
