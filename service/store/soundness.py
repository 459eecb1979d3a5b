"""The store as a whole: the originals it knows, whether it is sound."""

from __future__ import annotations

from moondesk.service.store.storage import Storage


def original_hashes(storage: Storage) -> tuple[str, ...]:
    """SHA-256 of every file that cannot be made again: pictures, the mails and archives that they came in, frames as
    they were aired. Also of a store that was opened to read alone and is of an older release."""
    tables = {row["name"] for row in storage.read("select name from sqlite_master where type = 'table'")}
    sql = "select sha256 as sha from pictures where sha256 is not null"
    sql += " union select substr(key, instr(key, ':') + 1) from submissions"
    if "mails_erased" in tables:  # an older release has none, and erased none
        sql += " where id not in (select submission_id from mails_erased)"
    if "aired" in tables:
        sql += " union select frame from aired where frame <> ''"
    return tuple(row["sha"] for row in storage.read(f"{sql} order by 1"))


def faults(storage: Storage) -> tuple[str, ...]:
    """What the database finds wrong with itself; empty where it is sound."""
    sound = [row["integrity_check"] for row in storage.read("pragma integrity_check")]
    loose = storage.read("pragma foreign_key_check")
    said = [f"The database says: {text}." for text in sound if text != "ok"]
    return (*said, *(["Some rows of the database belong to nothing."] if loose else []))
