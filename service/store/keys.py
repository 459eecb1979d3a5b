"""Secrets that a data folder keeps in files of its own: made at the first use, readable by their owner alone."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from moondesk.service.errors import StorageError

KEY_BYTES = 32
#: Of the forms and receipt links, see `web.tokens`; of the marks of what was erased, see `store.marks`.
FORMS_KEY, ERASED_KEY = "forms.key", "erased.key"


def load_key(path: Path) -> bytes:
    """The key of a file, made at the first call. Raises StorageError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        if not path.exists():
            _make(path)
        key = path.read_bytes()
    except OSError as error:
        raise StorageError(
            f"The key {path} cannot be kept: {error.strerror}.", "Is the disk full, or the folder read-only?"
        ) from error
    if len(key) != KEY_BYTES:
        raise StorageError(f"{path} is not a key of {KEY_BYTES} bytes.", "Move it away; a new one is made then.")
    return key


def _make(path: Path) -> None:
    aside = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(secrets.token_bytes(KEY_BYTES))
        file.flush()
        os.fsync(file.fileno())
    try:
        os.link(aside, path)  # of two that start at once the first one's stays
    except FileExistsError:
        pass
    except OSError:  # a disk without links
        os.replace(aside, path)
    aside.unlink(missing_ok=True)
