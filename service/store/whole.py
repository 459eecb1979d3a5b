"""The store as a whole: a copy of it, the originals it knows, whether it is sound."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from service.store.storage import Storage


def copy_to(storage: Storage, path: Path) -> None:
    """A consistent copy of the store in one file, while others read and write; whole or not there."""
    aside = path.with_name(f".part-{path.name}")
    aside.unlink(missing_ok=True)
    storage.execute("vacuum into ?", [str(aside)])
    aside.replace(path)
    for rest in ("-wal", "-shm"):  # of an older copy in its place: they would be played into the new one
        path.with_name(path.name + rest).unlink(missing_ok=True)


def original_hashes(storage: Storage) -> tuple[str, ...]:
    """SHA-256 of every file that cannot be made again: pictures, the mails and archives that they came in, frames as
    they were aired."""
    sql = """
        select sha256 as sha from pictures where sha256 is not null
        union select substr(key, instr(key, ':') + 1) from submissions
        where id not in (select submission_id from mails_erased)
        union select frame from aired where frame <> '' order by 1
    """
    return tuple(row["sha"] for row in storage.read(sql))


def faults(storage: Storage) -> tuple[str, ...]:
    """What the database finds wrong with itself; empty where it is sound."""
    sound = [row["integrity_check"] for row in storage.read("pragma integrity_check")]
    loose = storage.read("pragma foreign_key_check")
    said = [f"The database says: {text}." for text in sound if text != "ok"]
    return (*said, *(["Some rows of the database belong to nothing."] if loose else []))
