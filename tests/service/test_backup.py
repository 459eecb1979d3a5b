"""Backup and restore: everything comes back byte for byte, and what is damaged is told."""

from __future__ import annotations

import hashlib
import threading
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner
from fakes import png

from service.arrivals.intake import Intake, open_edition
from service.cli import main
from service.errors import BadInputError
from service.store.backup import backup, check, restore
from service.store.storage import DATABASE_NAME, Storage

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


@pytest.fixture
def intake(storage, media, config):
    return Intake(storage, media, open_edition(storage, config, NOW, lambda _: None), config, lambda: NOW)


@pytest.fixture
def data(folder, intake, config):
    (folder / "m.eml").write_bytes(b"From: a@example.org\nSubject: no picture\n\nHello\n")
    list(intake.take_path(folder))
    (config.data_dir / "moondesk.toml").write_text("[programme]\nname = 'Sky'\n")
    return config.data_dir


def originals(folder):
    """Names and independent hashes of all originals below a folder."""
    files = (p for p in (folder / "originals").rglob("*") if p.is_file())
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


def test_a_restored_folder_has_the_same_originals_and_lists_the_same(data, tmp_path):
    report = backup(data, tmp_path / "backup")
    assert (report.originals, report.copied, report.problems) == (5, 5, ())
    assert check(tmp_path / "backup").problems == ()
    assert restore(tmp_path / "backup", tmp_path / "back").problems == ()
    assert originals(tmp_path / "back") == originals(data)
    assert all(name == sha for name, sha in originals(tmp_path / "back").items())
    assert (tmp_path / "back" / "moondesk.toml").read_text() == (data / "moondesk.toml").read_text()
    with Storage(data) as before, Storage(tmp_path / "back") as after:
        assert list(before.submissions()) == list(after.submissions())


def test_a_second_backup_copies_what_is_new(data, folder, intake, tmp_path):
    backup(data, tmp_path / "backup")
    (folder / "late.png").write_bytes(png(shade=77))
    list(intake.take_path(folder))
    assert check(tmp_path / "backup").originals == 5
    report = backup(data, tmp_path / "backup")
    assert (report.originals, report.copied) == (6, 1)
    assert check(tmp_path / "backup").problems == ()


def test_it_is_consistent_while_things_come_in(intake, config, tmp_path):
    done = threading.Event()
    reports = []

    def back_up_again_and_again():
        while not done.is_set():
            reports.append(backup(config.data_dir, tmp_path / "backup"))

    thread = threading.Thread(target=back_up_again_and_again)
    thread.start()
    try:
        for k in range(40):
            (tmp_path / f"{k}.png").write_bytes(png(shade=k))
            list(intake.take_path(tmp_path / f"{k}.png"))
    finally:
        done.set()
        thread.join()
    assert reports
    assert not any(r.problems for r in reports)
    assert check(tmp_path / "backup").problems == ()


def test_damage_is_told_and_nothing_is_restored_from_it(data, tmp_path):
    backup(data, tmp_path / "backup")
    first, second = sorted(p for p in (tmp_path / "backup" / "originals").rglob("*") if p.is_file())[:2]
    first.write_bytes(first.read_bytes() + b"x")
    second.unlink()
    assert check(tmp_path / "backup").problems == (
        f"The original {first.name} has changed.", f"The original {second.name} is missing.")
    assert len(restore(tmp_path / "backup", tmp_path / "back").problems) == 2
    assert not (tmp_path / "back").exists()


def test_what_cannot_be_done_is_told(data, tmp_path):
    with pytest.raises(BadInputError, match="no store"):
        backup(tmp_path / "nowhere", tmp_path / "b")
    with pytest.raises(BadInputError, match="the store itself"):
        backup(data, data)
    with pytest.raises(BadInputError, match="no store"):
        check(tmp_path)
    backup(data, tmp_path / "b")
    with pytest.raises(BadInputError, match="already"):
        restore(tmp_path / "b", data)


def test_the_commands(data, tmp_path):
    def run(*args):
        result = CliRunner().invoke(main, [str(a) for a in args])
        return result.exit_code, result.output

    assert run("backup", tmp_path / "b", "--data", data)[0] == 0
    code, out = run("restore", tmp_path / "b", "--check")
    assert (code, out) == (0, f"The store and its 5 originals were found whole in {tmp_path / 'b'}.\n")
    assert run("restore", tmp_path / "b", "--data", tmp_path / "back")[0] == 0
    assert (tmp_path / "back" / DATABASE_NAME).is_file()
    next(p for p in (tmp_path / "b" / "originals").rglob("*") if p.is_file()).unlink()
    code, out = run("restore", tmp_path / "b", "--check")
    assert code == 1
    assert "is missing" in out
    assert run("restore", tmp_path / "b", "--data", data)[0] == 2
