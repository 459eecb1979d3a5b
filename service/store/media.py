"""Files of the store: originals by the SHA-256 of their bytes, and the pictures derived from them.

    originals/ab/abcd...          exactly as they came, never altered, never published; and frames as they were aired
    arriving/                     originals while they are written; `store.strays` sweeps what a killed writer left
    derived/ab/abcd.../KEY/...    rebuilt from pixels, without metadata; may be deleted at any time
    derived/made/...              of several pictures together, see `exports.collection_files`; likewise

KEY stands for the engine's version and what was known of the picture, so that a better engine or a corrected time
never shows an older picture's labels.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from moondesk.records import Annotation, Known
from moondesk.revisions import DRAWING
from moondesk.service.errors import NotStoredError, StorageError

if TYPE_CHECKING:
    from moondesk.corrections import Corrections

#: In the names of what is drawn; the first number has none.
_DRAWN = "" if DRAWING == 1 else f"-{DRAWING}"
#: Derived pictures by their role. One that is made otherwise gets another name: then it is made when it is asked for.
DERIVED = {
    "photo": "photo.jpg",
    "screen": "screen.jpg",
    "thumbnail": "thumbnail.jpg",
    "labelled": f"labelled{_DRAWN}.png",
    "upright": f"upright{_DRAWN}.png",
    "overlay": f"overlay{_DRAWN}.svg",
}

#: Made when a picture is placed: without the labelled and the upright one, four fifths of the work. Few of those are
#: ever looked at, and the desk has them made then.
AT_FIRST = ("photo", "screen", "thumbnail", "overlay")
#: Folder below the derived pictures of what was made of several, and the list of their hashes in each, see `made`.
MADE, MEMBERS = "made", "members.json"
#: Folder of originals that are being written.
ARRIVING = "arriving"

_SHA = re.compile(r"[0-9a-f]{64}")
#: Derived pictures that a page, a person or a program may ask for; no original is given out.
SHOWN = ("photo", "screen", "thumbnail", "labelled", "upright")
_KEY = re.compile(r"[0-9a-f]{16}")


def is_drawn(annotation: Annotation) -> bool:
    """True where lines may be drawn on the picture: never on what is not, or not for certain, the Moon."""
    return annotation.status.facts.shows_disc and bool(annotation.pose or annotation.limb)


def roles_of(annotation: Annotation) -> tuple[str, ...]:
    """Derived pictures that can be made of a picture so annotated, whether they are there or not."""
    if not annotation.status.facts.opens:
        return ()
    drawn = (("labelled", "overlay", "upright") if annotation.pose else ("labelled", "overlay")) * is_drawn(annotation)
    return ("photo", "thumbnail", *drawn)


def sha256_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def derived_key(engine_version: str, known: Known, corrections: Corrections | None = None) -> str:
    """Sixteen hex digits for an engine, what was known and what is set by hand."""
    told = asdict(known)
    if known.letter is None:
        del told["letter"]  # as before there was one
    del told["now_utc"]  # the hour of placing is no knowledge of the picture
    by_hand = asdict(corrections) if corrections else None
    whole = json.dumps([engine_version, told, by_hand], sort_keys=True, default=str)
    return hashlib.sha256(whole.encode()).hexdigest()[:16]


@dataclass(frozen=True)
class Media:
    """The media folders below `root`, the data folder."""

    root: Path

    def put(self, data: bytes) -> str:
        """Keep an original; returns its SHA-256. Written aside, flushed to the disk, renamed: whole or not there."""
        sha = sha256_of(data)
        target = self._original(sha)
        try:
            os.utime(target)  # as if put now: what is older and has no row is swept away, see `store.strays`
            return sha
        except FileNotFoundError:
            pass
        except OSError:
            return sha
        try:
            write_whole(target, data, durable=True, aside_in=self.root / ARRIVING)
        except OSError as error:
            raise StorageError(
                f"A picture cannot be kept in {target.parent}: {error.strerror}.",
                "Is the disk full, or the folder read-only?",
            ) from error
        return sha

    def path(self, sha256: str) -> Path:
        """Where an original lies. Raises NotStoredError."""
        target = self._original(sha256)
        if not target.is_file():
            raise NotStoredError("The original of this picture is missing from the store.", "Take it again.")
        return target

    def has(self, sha256: str) -> bool:
        """Whether an original is there."""
        return self._original(sha256).is_file()

    def derived_folder(self, sha256: str, key: str) -> Path:
        """Folder of the pictures derived from an original; it may not exist yet."""
        if not _SHA.fullmatch(sha256) or not _KEY.fullmatch(key):
            raise ValueError(f"not a media key: {sha256[:70]!r} {key[:20]!r}")
        return self.root / "derived" / sha256[:2] / sha256 / key

    def derived(self, sha256: str, key: str, role: str) -> Path | None:
        """A derived picture, or None where there is none of that role."""
        target = self.derived_folder(sha256, key) / DERIVED[role]
        return target if target.is_file() else None

    def _original(self, sha256: str) -> Path:
        if not _SHA.fullmatch(sha256):
            raise ValueError(f"not a SHA-256: {sha256[:70]!r}")
        return self.root / "originals" / sha256[:2] / sha256


def _umask() -> int:
    """It can only be read by setting it; between the two a file made elsewhere is its owner's alone."""
    before = os.umask(0o077)
    os.umask(before)
    return before


def keep_files(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write derived pictures by their role (see `DERIVED`). KeyError for another."""
    for role, data in files.items():
        write_whole(folder / DERIVED[role], data)


def write_folder(folder: Path, files: Mapping[str, bytes], prefix: str) -> None:
    """Write a folder that is there whole or not at all; one of that name that was there first stays."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    aside = Path(tempfile.mkdtemp(prefix=prefix, dir=folder.parent))
    try:
        for name, data in files.items():
            write_whole(aside / name, data)
        with contextlib.suppress(OSError):  # another made the same one meanwhile
            os.replace(aside, folder)
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def write_whole(
    target: Path, data: bytes, durable: bool = False, aside_in: Path | None = None, to_hand: bool = False
) -> None:
    """Write a file so that it is there whole or not at all: see `whole_file`."""
    with whole_file(target, durable, aside_in, to_hand) as file:
        file.write(data)


@contextlib.contextmanager
def whole_file(
    target: Path, durable: bool = False, aside_in: Path | None = None, to_hand: bool = False
) -> Iterator[BinaryIO]:
    """A file to write that is there whole when the block ends, and not at all where it raises; durable: also after a
    power cut.

    The store's own files are the user's alone; to_hand: one that others may read, as it is to be handed on.
    aside_in: folder on the same disk for the unfinished file; beside the target where none is named.
    """
    beside = aside_in or target.parent
    beside.mkdir(parents=True, exist_ok=True)
    target.parent.mkdir(parents=True, exist_ok=True)
    handle, aside = tempfile.mkstemp(dir=beside, prefix=".part-")
    try:
        with os.fdopen(handle, "w+b") as file:
            yield file
            if durable:
                file.flush()
                os.fsync(file.fileno())
        if to_hand:
            os.chmod(aside, 0o666 & ~_umask())
        os.replace(aside, target)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(aside)
        raise
    if durable and os.name == "posix":  # the rename itself is durable once the folder is
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
