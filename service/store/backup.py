"""Backup of a data folder, usable while it is in use, every hash checked; its way back is in `restoring`.

    BACKUP/moondesk.db       a consistent copy of the store
    BACKUP/moondesk.toml     the settings, where there are any;  forms.key   of receipt links and open forms
    BACKUP/originals/...     every original that the store knows, by the SHA-256 of its bytes
    BACKUP/erased.key, forgotten.json      of who was forgotten since, see `marks`

The store's copy is made first: an original is always kept before the store knows of it, so that none can be missing. It
takes the place of an older copy when its originals are there, so that a backup that is cut short leaves the older one
whole. Derived pictures are left out; they are made again when they are asked for. A second backup into the same folder
copies only what is new, and removes what the store does not name any more: who was forgotten is gone from it.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from moondesk.service.errors import BadInputError, NotStoredError, StorageError
from moondesk.service.settings.config import CONFIG_NAME
from moondesk.service.store.erased_marks import is_ours, marks_of, note_backup, write_beside
from moondesk.service.store.keys import ERASED_KEY, FORMS_KEY, load_key
from moondesk.service.store.media import Media, sha256_of, write_whole
from moondesk.service.store.private_folder import make_private
from moondesk.service.store.storage import DATABASE_NAME, Storage
from moondesk.service.store.strays import count_strays, faults, original_hashes, remove_strays

#: Folder of the store's copy while the originals are still being copied.
UNFINISHED = ".part-backup"


@dataclass(frozen=True, kw_only=True)
class Report:
    """originals: how many the store knows; copied: those that the target did not have; problems: sentences.

    removed: files that the store does not name any more; strays: those found that belong to nothing; erased: how many
    submissions of who was forgotten after a backup were erased again; notes: sentences that are no problems.
    """

    originals: int
    copied: int
    problems: tuple[str, ...] = ()
    removed: int = 0
    strays: int = 0
    erased: int = 0
    notes: tuple[str, ...] = ()


def backup(data_dir: Path, target: Path, now: datetime | None = None) -> Report:
    """Copy a data folder's store and originals. Raises BadInputError where there is no store, StorageError."""
    if not (data_dir / DATABASE_NAME).is_file():
        raise BadInputError(f"There is no store in {data_dir}.", "Name its folder with --data.")
    inner, outer = target.resolve(), data_dir.resolve()
    if inner == outer or outer in inner.parents:
        raise BadInputError("The backup would lie in the store itself.", "Name another folder, on another disk.")
    with report_unwritable("The backup cannot be written"):
        key = load_key(data_dir / ERASED_KEY)
        if not is_ours(target, key):
            raise BadInputError(f"{target} holds the backup of another store.", "Name another folder.")
        target.mkdir(parents=True, exist_ok=True, mode=0o700)
        aside = target / UNFINISHED
        shutil.rmtree(aside, ignore_errors=True)
        try:
            aside.mkdir(mode=0o700)
            with Storage(data_dir) as storage:
                with suppress(StorageError):  # a full disk must not hinder that it is saved
                    note_backup(storage, target, now or datetime.now(UTC))
                marks = marks_of(storage)
                storage.copy_to(aside / DATABASE_NAME)
            report = copy_originals(Media(data_dir), aside, target)
            write_beside(target, key, marks)
            copy_settings(data_dir, target)
            put_in_place(aside / DATABASE_NAME, target / DATABASE_NAME)
        finally:
            shutil.rmtree(aside, ignore_errors=True)
        make_private(target, itself=False)
        with Storage(target, read_only=True) as copy:
            removed = remove_strays(copy, Media(target))
    return Report(originals=report.originals, copied=report.copied, problems=report.problems, removed=removed)


def check(folder: Path) -> Report:
    """Whether a backup (or a data folder) is whole: the store sound, every original there with its hash.

    Nothing is written, whatever release has made it. Raises BadInputError, StorageError.
    """
    if not (folder / DATABASE_NAME).is_file():
        raise BadInputError(f"There is no store in {folder}.", "Name the folder of the backup.")
    media = Media(folder)
    problems: list[str] = []
    with Storage(folder, read_only=True) as storage:
        problems.extend(faults(storage))
        known = original_hashes(storage)
        strays = count_strays(storage, media)
    for sha in known:
        try:
            path = media.path(sha)
        except NotStoredError:
            problems.append(f"The original {sha} is missing.")
            continue
        if sha256_of(path.read_bytes()) != sha:
            problems.append(f"The original {sha} has changed.")
    return Report(originals=len(known), copied=0, problems=tuple(problems), strays=strays.all)


def copy_originals(source: Media, store: Path, target: Path) -> Report:
    """Copy the originals that the store in the folder `store` knows. Also what has changed is copied, and told."""
    problems: list[str] = []
    copied = 0
    with Storage(store, read_only=True) as storage:  # of the copy: what came in since is not known there
        known = original_hashes(storage)
    for sha in known:
        there = target / "originals" / sha[:2] / sha
        if there.is_file():
            continue
        try:
            data = source.path(sha).read_bytes()
        except NotStoredError as error:
            problems.append(f"{sha}: {error}")
            continue
        if sha256_of(data) != sha:
            problems.append(f"The original {sha} has changed; it was copied as it is.")
        write_whole(there, data, durable=True)
        copied += 1
    return Report(originals=len(known), copied=copied, problems=tuple(problems))


def copy_settings(source: Path, target: Path) -> None:
    """What stands beside the store and is nobody's picture."""
    for name in (CONFIG_NAME, FORMS_KEY):
        if (source / name).is_file():
            write_whole(target / name, (source / name).read_bytes(), durable=True)


def put_in_place(copy: Path, target: Path) -> None:
    """Move a copy of the store to where it is the store, durably."""
    copy.replace(target)
    for rest in ("-wal", "-shm"):  # of an older copy in its place: they would be played into the new one
        target.with_name(target.name + rest).unlink(missing_ok=True)
    flush_folder(target.parent)


def flush_folder(folder: Path) -> None:
    """So that what was made and renamed in it is there after a power cut too."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextmanager
def report_unwritable(what: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise StorageError(f"{what}: {error}.", "Is the disk full or read-only?") from error
