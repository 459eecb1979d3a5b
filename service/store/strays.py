"""Files that nothing in the store stands for: what a program that was killed left between a file and its commit.

They are nobody's: no page shows them, and no erasure finds them. So they are swept away, once they are older than any
commit that is still to come; under the write lock, so that what is being committed at that moment is known.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from moondesk.service.store.media import Media
from moondesk.service.store.storage import Storage

#: What is unfinished or without a row for so long was left by a program that is gone.
UNFINISHED = timedelta(hours=1)
#: Names of unfinished files and folders, whoever writes them; all are renamed once they are whole.
_ASIDE = re.compile(r"\.(part|air|made)-|\.(forms|erased)\.key\.")
_SHA = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Strays:
    """originals: without a row; unfinished: files of writers that are gone; derived: of originals without a row."""

    originals: int = 0
    unfinished: int = 0
    derived: int = 0

    @property
    def all(self) -> int:
        return self.originals + self.unfinished + self.derived


def count_strays(storage: Storage, media: Media) -> Strays:
    """However old they are; nothing is changed."""
    known = set(original_hashes(storage))
    return Strays(
        sum(path.name not in known for path in _originals(media)),
        sum(1 for _ in _unfinished_files(media)),
        sum(path.name not in known for path in _stray_derived(media)),
    )


def sweep_strays(storage: Storage, media: Media, before_utc: datetime) -> Strays:
    """Remove those that were written before that time; how many."""
    before = before_utc.timestamp()
    known = set(original_hashes(storage))
    originals = [p for p in _originals(media) if p.name not in known and _is_older(p, before)]
    derived = [p for p in _stray_derived(media) if p.name not in known and _is_older(p, before)]
    unfinished = [p for p in _unfinished_files(media) if _is_older(p, before)]
    if not (originals or derived or unfinished):
        return Strays()
    with storage.writing():
        known = set(original_hashes(storage))  # committed since
        return Strays(
            *(
                sum(_remove(p) for p in paths if p.name not in known and _is_older(p, before))
                for paths in (originals, unfinished, derived)
            )
        )


def remove_strays(storage: Storage, media: Media) -> int:
    """Remove all of them from a folder that nobody else writes into, a backup; how many. storage: its copy."""
    known = set(original_hashes(storage))
    paths = [p for p in (*_originals(media), *_stray_derived(media)) if p.name not in known]
    return sum(_remove(p) for p in (*paths, *_unfinished_files(media)))


def _originals(media: Media) -> Iterator[Path]:
    return (p for p in (media.root / "originals").glob("*/*") if _SHA.fullmatch(p.name))


def _stray_derived(media: Media) -> Iterator[Path]:
    return (p for p in (media.root / "derived").glob("*/*") if _SHA.fullmatch(p.name))


def _unfinished_files(media: Media) -> Iterator[Path]:
    """In the folder itself only its own, below its media folders everywhere."""
    yield from (p for p in media.root.glob(".*") if _ASIDE.match(p.name))
    for top in ("arriving", "originals", "derived"):
        for folder, folders, files in os.walk(media.root / top):
            for name in [n for n in folders if _ASIDE.match(n)]:
                folders.remove(name)
                yield Path(folder, name)
            yield from (Path(folder, name) for name in files if _ASIDE.match(name))


def _is_older(path: Path, before: float) -> bool:
    try:
        return path.stat().st_mtime < before
    except OSError:  # somebody else was quicker
        return False


def _remove(path: Path) -> bool:
    with suppress(OSError):
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink()
        return True
    return False


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
