"""Backup of a data folder, usable while it is in use, and its way back, with every hash checked.

    BACKUP/moondesk.db       a consistent copy of the store
    BACKUP/moondesk.toml     the settings, where there are any
    BACKUP/originals/...     every original that the store knows, by the SHA-256 of its bytes

The store is copied first: an original is always kept before the store knows of it, so that none can be missing. Derived
pictures are left out; they are made again. A second backup into the same folder copies only what is new.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from service.config import CONFIG_NAME
from service.errors import BadInputError, NotStoredError, StorageError
from service.store.storage import DATABASE_NAME, Storage
from service.store.whole import copy_to, faults, original_hashes
from service.work.media import Media, sha256_of, write_whole


@dataclass(frozen=True)
class Report:
    """originals: how many the store knows; copied: those that the target did not have; problems: sentences."""

    originals: int
    copied: int
    problems: tuple[str, ...] = ()


def backup(data_dir: Path, target: Path) -> Report:
    """Copy a data folder's store and originals. Raises BadInputError where there is no store, StorageError."""
    if not (data_dir / DATABASE_NAME).is_file():
        raise BadInputError(f"There is no store in {data_dir}.", "Name its folder with --data.")
    if target.resolve() == data_dir.resolve():
        raise BadInputError("The backup would lie in the store itself.", "Name another folder, on another disk.")
    try:
        target.mkdir(parents=True, exist_ok=True)
        with Storage(data_dir) as storage:
            copy_to(storage, target / DATABASE_NAME)
        if (data_dir / CONFIG_NAME).is_file():
            shutil.copyfile(data_dir / CONFIG_NAME, target / CONFIG_NAME)
        return _copy_originals(Media(data_dir), Media(target))
    except OSError as error:
        raise StorageError(f"The backup cannot be written: {error}.", "Is the disk full or read-only?") from error


def check(folder: Path) -> Report:
    """Whether a backup (or a data folder) is whole: the store sound, every original there with its hash."""
    if not (folder / DATABASE_NAME).is_file():
        raise BadInputError(f"There is no store in {folder}.", "Name the folder of the backup.")
    media = Media(folder)
    problems: list[str] = []
    with Storage(folder) as storage:
        problems.extend(faults(storage))
        known = original_hashes(storage)
    for sha in known:
        try:
            path = media.path(sha)
        except NotStoredError:
            problems.append(f"The original {sha} is missing.")
            continue
        if sha256_of(path.read_bytes()) != sha:
            problems.append(f"The original {sha} has changed.")
    return Report(len(known), 0, tuple(problems))


def restore(source: Path, data_dir: Path) -> Report:
    """Bring a backup back as a data folder; nothing is written over. Raises BadInputError, StorageError."""
    if (data_dir / DATABASE_NAME).exists():
        raise BadInputError(f"There is a store in {data_dir} already.", "Name an empty folder with --data.")
    found = check(source)
    if found.problems:
        return found
    backup(source, data_dir)
    return check(data_dir)


def _copy_originals(source: Media, target: Media) -> Report:
    problems: list[str] = []
    copied = 0
    with Storage(target.root) as storage:  # of the copy: what came in since is not known there
        known = original_hashes(storage)
    for sha in known:
        there = target.root / "originals" / sha[:2] / sha
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
    return Report(len(known), copied, tuple(problems))
