"""Files of the store: content-addressed, whole, and never by a name from outside."""

from __future__ import annotations

import hashlib
import os
from datetime import UTC, datetime

import pytest

from moondesk.records import Known
from moondesk.service.errors import NotStoredError, StorageError
from moondesk.service.store.media import derived_key, write_whole


def test_an_original_is_kept_byte_for_byte_under_its_hash(media):
    data = os.urandom(5000)
    sha = media.put(data)
    assert sha == hashlib.sha256(data).hexdigest()
    assert media.put(data) == sha
    assert media.path(sha).read_bytes() == data
    assert [p.name for p in media.root.rglob("*") if p.is_file()] == [sha]


@pytest.mark.parametrize("key", ["", "../x", "AB" * 32, "ab" * 32 + "/", "ab" * 31, "ab" * 32 + "\n"])
def test_only_hashes_name_files(media, key):
    with pytest.raises(ValueError, match="not a"):
        media.path(key)
    with pytest.raises(ValueError, match="not a"):
        media.derived_folder("ab" * 32, key)


def test_what_is_missing_is_told(media):
    with pytest.raises(NotStoredError):
        media.path("ab" * 32)
    assert media.derived("ab" * 32, "0" * 16, "photo") is None


def test_a_failed_write_leaves_neither_file_nor_part(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(OSError, match="No space"):
        write_whole(tmp_path / "a", b"x")
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_is_a_sentence(media, monkeypatch):
    monkeypatch.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(StorageError, match="No space left"):
        media.put(b"x")


def test_the_key_of_derived_pictures_follows_engine_and_knowledge():
    keys = {derived_key("1", Known()), derived_key("2", Known()), derived_key("1", Known(zones=("Europe/Vienna",)))}
    assert len(keys) == 3
    later = datetime(2026, 3, 26, tzinfo=UTC)
    assert derived_key("1", Known(now_utc=later)) in keys  # the hour of placing is no knowledge of the picture
