"""The store's file opened: for reading and writing, brought up to date before; or for reading alone, left as it is.

A store that a newer release has written is refused: what it means is not known here. Before an older one is brought up
to date it is copied, beside it, readable by its owner alone; the copy goes with the next erasure, because whoever is
forgotten is to be gone from it too.
"""

from __future__ import annotations

import os
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from math import inf
from pathlib import Path
from sqlite3 import Connection

from moondesk.service.errors import DamagedError, StorageError
from moondesk.service.store.migrations import FIRST_RELEASE, KNOWN, bring_up_to_date, steps_of

DATABASE_NAME = "moondesk.db"
BUSY_SECONDS = 20.0
#: Copies from before a change of the tables.
BEFORE = "moondesk.before-*.db"
#: What SQLite says of a file whose bytes are not as it wrote them: result codes 11 and 26 (sqlite.org/rescode.html).
_DAMAGED = (11, 26)


def open_store(folder: Path) -> Connection:
    """The store of a folder, made where there is none. Raises StorageError."""
    path = folder / DATABASE_NAME
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        _make_private(path)
        db = sqlite3.connect(path, timeout=BUSY_SECONDS, isolation_level=None)
    except (OSError, sqlite3.Error) as error:
        raise StorageError(
            f"The data folder {folder} cannot be used: {error}.",
            "Choose another with --data, or check its permissions.",
        ) from error
    try:
        with failures():
            db.execute("pragma journal_mode = wal")
            db.execute("pragma synchronous = full")
            if {*steps_of(db)} != {*KNOWN}:
                _bring_up_to_date(db, folder)
            db.execute("pragma foreign_keys = on")  # afterwards: a step may build a table anew
    except BaseException:
        db.close()
        raise
    return db


def open_to_read(folder: Path) -> Connection:
    """The store of a folder, of whatever release up to this one; nothing is written, so that it may lie where nothing
    can be. Raises StorageError."""
    path = (folder / DATABASE_NAME).resolve()
    log, index = (path.with_name(path.name + end) for end in ("-wal", "-shm"))
    still = not index.exists() and not (log.exists() and log.stat().st_size)  # nobody has it open
    try:
        db = sqlite3.connect(f"{path.as_uri()}?mode=ro{'&immutable=1' * still}", uri=True, timeout=BUSY_SECONDS)
    except sqlite3.Error as error:
        raise StorageError(f"The store in {folder} cannot be opened: {error}.", "Check its permissions.") from error
    try:
        with failures():
            _refuse_unknown(db, folder)
    except BaseException:
        db.close()
        raise
    return db


@contextmanager
def failures() -> Iterator[None]:
    """What the database or a packed record complains of, as a sentence for who has to mend it."""
    try:
        yield
    except zlib.error as error:
        raise _damage(error) from error
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", None)
        if code is not None and code & 0xFF in _DAMAGED:
            raise _damage(error) from error
        raise StorageError(
            f"The store answered: {error}.", "Is the disk full, or another program holding the store?"
        ) from error


def erase_copies_from_before(folder: Path, older_than: float = inf) -> None:
    """Remove the copies that were made before a change of the tables. older_than: seconds since the epoch."""
    for path in folder.glob(BEFORE):
        with suppress(FileNotFoundError):
            if path.stat().st_mtime < older_than:
                path.unlink()


def _damage(error: Exception) -> DamagedError:
    return DamagedError(
        f"The store is damaged: {error}.",
        "Stop what uses it and bring the last backup back into a new folder (moondesk restore BACKUP "
        "--data FOLDER); keep the damaged folder, its originals may be newer than the backup.",
    )


def _refuse_unknown(db: Connection, folder: Path) -> None:
    """Raises StorageError for a store that this release cannot read."""
    ran = steps_of(db)
    if unknown := [name for name in ran if name not in KNOWN]:
        raise StorageError(
            f"A newer release of moondesk has written the store in {folder} ({', '.join(unknown)}).",
            "Install that release again; this one would misread it. Nothing was changed.",
        )
    if ran and not {*FIRST_RELEASE} <= {*ran}:
        raise StorageError(
            f"The store in {folder} is older than the first release of moondesk.",
            "Take its pictures anew, into another folder. Nothing was changed.",
        )


def _bring_up_to_date(db: Connection, folder: Path) -> None:
    _refuse_unknown(db, folder)
    if ran := steps_of(db):
        _copy_before(db, folder, ran[-1])
    db.execute("begin immediate")  # the lock first: two programs may open a fresh store at once
    try:
        bring_up_to_date(db)
    except BaseException:
        db.rollback()
        raise
    db.commit()


def _copy_before(db: Connection, folder: Path, last: str) -> None:
    target = folder / BEFORE.replace("*", last)
    copy_to(db, target)
    for old in folder.glob(BEFORE):
        if old != target:
            old.unlink(missing_ok=True)


def copy_to(db: Connection, path: Path) -> None:
    """A consistent copy of the store in one file, readable by its owner alone, while others read and write; whole or
    not there."""
    aside = path.with_name(f".part-{path.name}")
    aside.unlink(missing_ok=True)
    try:
        _make_private(aside)  # the database fills an empty file that is there
        with failures():
            db.execute("vacuum into ?", [str(aside)])
        _flush(aside)
        os.replace(aside, path)
    except BaseException:
        with suppress(OSError):
            aside.unlink(missing_ok=True)
        raise
    for rest in ("-wal", "-shm"):  # of an older copy in its place: they would be played into the new one
        path.with_name(path.name + rest).unlink(missing_ok=True)


def _make_private(path: Path) -> None:
    """An empty file that only its owner reads, where there is none; what the database puts beside it is as private."""
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))


def _flush(path: Path) -> None:
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
