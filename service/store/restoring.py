"""A backup brought back as a data folder: there whole, or not at all.

    DATA.part/     where it is built: originals, then settings, the store last;  renamed to DATA when it is finished

Who was forgotten after the backup is erased from the copy before anybody can use it: by the marks that lie beside the
backup, and by those of other folders that are named (the data folder that was in use since, see `marks`).
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from moondesk.service.errors import BadInputError, StorageError
from moondesk.service.store import erasures
from moondesk.service.store.backup import (
    Report,
    check,
    copy_originals,
    copy_settings,
    flush_folder,
    put_in_place,
    report_unwritable,
)
from moondesk.service.store.erased_marks import Marks, erased_elsewhere, marks_beside, write_beside
from moondesk.service.store.keys import ERASED_KEY
from moondesk.service.store.media import Media, write_whole
from moondesk.service.store.private_folder import make_private
from moondesk.service.store.storage import DATABASE_NAME, Storage

#: Says that a folder is one of ours, and by its lock that somebody is at work in it.
BUILDING = ".restoring"


def restore(source: Path, data_dir: Path, forgotten: Sequence[Path] = (), now: datetime | None = None) -> Report:
    """Bring a backup back as a data folder; nothing is written over. Raises BadInputError, StorageError.

    forgotten: other folders that know who was forgotten since: data folders, backups.
    """
    data_dir = Path(os.path.abspath(data_dir))
    if (data_dir / DATABASE_NAME).exists():
        raise BadInputError(f"There is a store in {data_dir} already.", "Name an empty folder with --data.")
    if data_dir.exists() and (not data_dir.is_dir() or any(data_dir.iterdir())):
        raise BadInputError(f"{data_dir} is not empty.", "Name a folder that does not exist yet with --data.")
    if os.path.ismount(data_dir):
        raise BadInputError(
            f"{data_dir} is a disk of its own: a restored folder cannot be put in its place at once.",
            "Name a folder on it that does not exist yet with --data.",
        )
    known = [marks for folder in (source, *forgotten) if (marks := _marks(folder, folder is source)) is not None]
    with report_unwritable("The backup cannot be brought back"), _build_folder(data_dir) as (part, note):
        found = check(source)
        if found.problems:
            return found
        erased = _copy_store(source, part, known, now or datetime.now(UTC))
        copied = copy_originals(Media(source), part / "store", part)
        copy_settings(source, part)
        if known:
            write_beside(part, known[0].key, known[0].marks)
        put_in_place(part / "store" / DATABASE_NAME, part / DATABASE_NAME)
        shutil.rmtree(part / "store")
        make_private(part)
        if copied.problems:
            return copied
        (part / BUILDING).unlink()
        if data_dir.exists():
            data_dir.rmdir()
        part.rename(data_dir)
        flush_folder(data_dir.parent)
    return Report(
        originals=copied.originals, copied=copied.copied, problems=(), strays=found.strays, erased=erased, notes=note
    )


def _marks(folder: Path, may_lack: bool) -> Marks | None:
    if not (folder / DATABASE_NAME).is_file():
        raise BadInputError(
            f"There is no store in {folder}.",
            "Name the folder of the backup." if may_lack else "Name the data folder that knows who was forgotten.",
        )
    found = marks_beside(folder)
    if found is None and not may_lack:
        raise BadInputError(
            f"{folder} does not know who was forgotten: it has no {ERASED_KEY}.",
            "Nobody was forgotten there by this release; leave it out.",
        )
    return found


def _copy_store(source: Path, part: Path, known: Sequence[Marks], now: datetime) -> int:
    """The store's copy, in a folder where it is nobody's data folder yet; how many submissions were erased in it."""
    store = part / "store"
    store.mkdir(mode=0o700)
    with Storage(source, read_only=True) as storage:
        storage.copy_to(store / DATABASE_NAME)
    if known:
        write_whole(store / ERASED_KEY, known[0].key)
    with Storage(store) as storage:  # brought up to this release's tables
        ids = erased_elsewhere(storage, known)
        if ids:
            erasures.erase(storage, ids, now)
        erasures.forget_files(storage)  # none of them is copied
        erasures.fold(storage)
    return len(ids)


@contextmanager
def _build_folder(data_dir: Path) -> Iterator[tuple[Path, tuple[str, ...]]]:
    """The folder to build in, and what is to be told of one that was there; what is not finished is removed, unless
    the program is killed: then the next one does it."""
    part = data_dir.with_name(f"{data_dir.name}.part")
    note: tuple[str, ...] = ()
    if part.exists():
        if not part.is_dir() or (any(part.iterdir()) and not (part / BUILDING).is_file()):
            raise BadInputError(f"{part} is in the way, and no restore has made it.", "Move it away.")
        with _lock(part):
            pass
        note = (f"An earlier restore was interrupted; what it had left in {part} was removed, and all begun anew.",)
        shutil.rmtree(part)
    part.mkdir(parents=True, mode=0o700)
    with _lock(part):
        try:
            yield part, note
        finally:
            shutil.rmtree(part, ignore_errors=True)


@contextmanager
def _lock(part: Path) -> Iterator[None]:
    """The lock goes with the program that holds it, however it ends."""
    with open(part / BUILDING, "a") as file:
        if os.name == "posix":
            import fcntl

            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                raise StorageError(f"Another restore is at work in {part}.", "Wait until it is done.") from None
        yield
