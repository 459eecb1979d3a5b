"""What a data folder or a backup holds is readable by its owner alone, also what an older release had left open."""

from __future__ import annotations

import os
import stat
import sys
from datetime import UTC, datetime

import fakes
import pytest
from fakes import add_edition

from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.housekeeping import run_housekeeping_once
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.store.backup import backup
from moondesk.service.store.editions import list_editions
from moondesk.service.store.media import write_whole
from moondesk.service.store.private_folder import make_private
from moondesk.service.store.restoring import restore
from moondesk.service.store.storage import Storage
from moondesk.service.web.tokens import load_tokens

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="permissions of POSIX systems")
NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def usual_umask():
    before = os.umask(0o022)
    yield
    os.umask(before)


@pytest.fixture
def data(folder, media, config):
    with Storage(config.data_dir) as storage:
        list(
            Intake(
                storage=storage,
                media=media,
                edition=open_edition(storage, config, NOW, lambda _: None),
                config=config,
                now=lambda: NOW,
            ).take_path(folder)
        )
        list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    load_tokens(config.data_dir)
    return config.data_dir


def open_to_others(folder):
    """What somebody else on the machine could read, by way of folders that let them through."""
    found = []
    for top, folders, files in os.walk(folder):
        if not os.stat(top).st_mode & 0o077:
            folders.clear()
            continue
        found += [os.path.join(top, f) for f in files if os.stat(os.path.join(top, f)).st_mode & 0o077]
    return found


def test_store_log_index_key_originals_and_drawn_pictures(data):
    with Storage(data) as storage:
        add_edition(storage, list_editions(storage)[0].plan.__class__(number=77))
        for name in ("moondesk.db", "moondesk.db-wal", "moondesk.db-shm", "forms.key"):
            assert stat.S_IMODE((data / name).stat().st_mode) == 0o600, name
    assert stat.S_IMODE(data.stat().st_mode) == 0o700
    for path in (data / "originals").rglob("*"):
        if path.is_file():
            assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert open_to_others(data) == []


def test_a_backup_and_what_is_restored(data, tmp_path):
    (tmp_path / "disk").mkdir(mode=0o755)  # somebody's own folder stays as open as it is
    (data / "moondesk.toml").write_text("[programme]\nname = 'Sky'\n")
    for target in (tmp_path / "b", tmp_path / "disk"):
        backup(data, target)
        assert open_to_others(target) == []
        for name in ("moondesk.db", "forms.key", "erased.key", "forgotten.json", "moondesk.toml"):
            assert stat.S_IMODE((target / name).stat().st_mode) == 0o600, name
    assert stat.S_IMODE((tmp_path / "disk").stat().st_mode) == 0o755
    restore(tmp_path / "b", tmp_path / "back")
    assert stat.S_IMODE((tmp_path / "back").stat().st_mode) == 0o700
    assert open_to_others(tmp_path / "back") == []


def test_what_an_older_release_left_open_is_closed_at_the_start(data):
    data.chmod(0o755)
    for path in data.rglob("*"):
        path.chmod(0o755 if path.is_dir() else 0o644)
    said = []
    run_housekeeping_once(data, said.append)
    assert said == []
    assert stat.S_IMODE(data.stat().st_mode) == 0o700
    assert stat.S_IMODE((data / "moondesk.db").stat().st_mode) == 0o600
    assert stat.S_IMODE((data / "originals").stat().st_mode) == 0o700
    assert open_to_others(data) == []


def test_what_cannot_be_closed_is_told(data, monkeypatch):
    data.chmod(0o755)
    monkeypatch.setattr("os.chmod", lambda *_: None)  # a file system that takes the change and does not make it
    (sentence,) = make_private(data)
    assert f"chmod -R go= {data}" in sentence


def test_what_is_to_be_handed_on_keeps_the_users_own_way(tmp_path):
    write_whole(tmp_path / "out" / "frame.png", b"x", to_hand=True)
    assert stat.S_IMODE((tmp_path / "out" / "frame.png").stat().st_mode) == 0o644
    os.umask(0o027)
    write_whole(tmp_path / "out" / "second.png", b"x", to_hand=True)
    assert stat.S_IMODE((tmp_path / "out" / "second.png").stat().st_mode) == 0o640
