"""What an older release made of a picture that a newer one has placed anew: no page shows it, and it is as large again.

It goes a day later, so that whatever is on air at that moment ends first. It stays where the picture was on air or
where people have decided something about it: then it shows what they saw.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from moondesk.service.store.media import Media
from moondesk.service.store.rows import time_text
from moondesk.service.store.storage import Storage

KEPT = timedelta(days=1)
#: Annotations removed in one transaction: nobody waits long for it.
AT_ONCE = 200
_SHA, _KEY = re.compile(r"[0-9a-f]{64}"), re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True)
class Superseded:
    """How many were removed. folders: of derived pictures."""

    annotations: int = 0
    folders: int = 0


def sweep_superseded(storage: Storage, media: Media, before_utc: datetime) -> Superseded:
    """Remove what was superseded before that time."""
    return Superseded(_annotations(storage, before_utc), _folders(storage, media, before_utc))


def _annotations(storage: Storage, before_utc: datetime) -> int:
    count = 0
    while True:
        with storage.writing() as execute:
            removed = execute(
                """
                delete from annotations where id in (
                    select old.id from annotations old
                    where exists (select 1 from annotations newer where newer.picture_id = old.picture_id
                                  and newer.id > old.id and newer.made_utc < :before)
                    and old.picture_id not in (select picture_id from decisions)
                    and old.picture_id not in (select picture_id from aired where picture_id is not null)
                    limit :most)
                """,
                {"before": time_text(before_utc), "most": AT_ONCE},
            )
        count += removed
        if removed < AT_ONCE:
            return count


def _folders(storage: Storage, media: Media, before_utc: datetime) -> int:
    count, before = 0, before_utc.timestamp()
    for sha, folders in _derived_folders(media):
        old = [f for f in folders if _is_older(f, before)]
        if old and {f.name for f in old} - _folders_in_use(storage, sha):
            with storage.writing():  # what is being committed at this moment is known then
                named = _folders_in_use(storage, sha)
                for folder in old:
                    if folder.name not in named and _is_older(folder, before):
                        shutil.rmtree(folder, ignore_errors=True)
                        count += 1
    return count


def _derived_folders(media: Media) -> Iterator[tuple[str, list[Path]]]:
    """The originals of which there are derived pictures, each with the folders of its keys."""
    for place in (media.root / "derived").glob("*/*"):
        if _SHA.fullmatch(place.name):
            with suppress(OSError):  # erased meanwhile
                yield place.name, [f for f in place.iterdir() if _KEY.fullmatch(f.name)]


def _folders_in_use(storage: Storage, sha: str) -> set[str]:
    return {
        row["derived_key"]
        for row in storage.read(
            "select distinct a.derived_key from annotations a join pictures p on p.id = a.picture_id where p.sha256 = ?",
            [sha],
        )
    }


def _is_older(folder: Path, before: float) -> bool:
    try:
        return folder.stat().st_mtime < before
    except OSError:
        return False
