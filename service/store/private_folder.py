"""A data folder, or a backup, is its owner's alone: it holds names, addresses, places and hashes of passwords.

What is made anew is made so (`opening`, `keys`, `media.write_whole`); what an older release left readable is put right.
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path

from moondesk.service.settings.config import CONFIG_NAME
from moondesk.service.store.keys import ERASED_KEY, FORMS_KEY
from moondesk.service.store.opening import BEFORE, DATABASE_NAME

#: Folders below it.
_BELOW = ("originals", "derived", "arriving")


def make_private(folder: Path, itself: bool = True) -> tuple[str, ...]:
    """Take from others what they may read in a folder; a sentence where that cannot be done.

    itself: the folder too; not where somebody has named one of their own, perhaps a disk.
    """
    if os.name != "posix" or not folder.is_dir():
        return ()
    names = (*_BELOW, DATABASE_NAME, f"{DATABASE_NAME}-wal", f"{DATABASE_NAME}-shm", FORMS_KEY, ERASED_KEY, CONFIG_NAME)
    looked_at = [*([folder] if itself else []), *(folder / name for name in names), *folder.glob(BEFORE)]
    left = [path for path in looked_at if not _is_private(path) and not _is_closed(path)]
    return (_problem(folder, left),) if left else ()


def _problem(folder: Path, left: list[Path]) -> str:
    names = ", ".join(p.name for p in left)
    return (
        f"Others on this machine may read what people have sent: {names} in {folder} cannot be closed to them. Let "
        f"its owner run moondesk, or close it by hand: chmod -R go= {folder}"
    )


def _is_closed(path: Path) -> bool:
    with suppress(OSError):
        os.chmod(path, stat.S_IMODE(path.stat().st_mode) & 0o700)
    return _is_private(path)  # some file systems take the change and do not make it


def _is_private(path: Path) -> bool:
    try:
        return not path.stat().st_mode & 0o077
    except OSError:  # not there, or not ours to see
        return True
