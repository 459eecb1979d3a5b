"""Backup and restore: everything comes back byte for byte, and what is damaged is told."""

from __future__ import annotations

import hashlib
import os
import sqlite3
import subprocess
import sys
import threading
import zipfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from fakes import png

from moondesk.service.cli.main import main
from moondesk.service.errors import BadInputError, StorageError
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.housekeeping import keep_house
from moondesk.service.store.backup import backup, check
from moondesk.service.store.erasures import erase
from moondesk.service.store.forget import forget
from moondesk.service.store.media import Media
from moondesk.service.store.restoring import restore
from moondesk.service.store.storage import DATABASE_NAME, Storage
from moondesk.service.store.submissions import each_submission
from moondesk.service.web.tokens import load_tokens

fcntl = pytest.importorskip("fcntl")  # locks that go with the program, and permissions: of POSIX systems
ROOT = Path(__file__).resolve().parents[2]
NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


@pytest.fixture
def intake(storage, media, config):
    return Intake(
        storage=storage,
        media=media,
        edition=open_edition(storage, config, NOW, lambda _: None),
        config=config,
        now=lambda: NOW,
    )


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
        assert list(each_submission(before)) == list(each_submission(after))


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
        f"The original {first.name} has changed.",
        f"The original {second.name} is missing.",
    )
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


def test_a_check_leaves_a_backup_as_it_is_also_where_nothing_can_be_written(data, tmp_path):
    backup(data, tmp_path / "b")
    before = everything(tmp_path / "b")
    closed = [p for p in (tmp_path / "b", *(tmp_path / "b").rglob("*")) if p.is_dir()]
    for folder in closed:
        folder.chmod(0o500)
    try:
        assert check(tmp_path / "b").problems == ()
        assert restore(tmp_path / "b", tmp_path / "back").problems == ()
    finally:
        for folder in closed:
            folder.chmod(0o700)
    assert everything(tmp_path / "b") == before
    assert everything(tmp_path / "back").keys() == before.keys()


def everything(folder):
    return {p.relative_to(folder): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def older_store(folder):
    """As the first release left it."""
    with zipfile.ZipFile(ROOT / "tests" / "reference" / "first_release_store.zip") as packed:
        packed.extractall(folder)
    return folder


def test_a_backup_of_an_older_release_is_checked_as_it_is_and_restored_to_this_one(tmp_path):
    older = older_store(tmp_path / "b")
    before = everything(older)
    assert check(older).problems == ()
    assert everything(older) == before
    assert restore(older, tmp_path / "back").problems == ()
    with Storage(tmp_path / "back") as storage:
        assert storage.read("select count(*) as n from erased_marks") == [{"n": 0}]
        assert {s.submission.arrival.source for s in each_submission(storage)} == {"folder", "mail", "form", "desk"}


def test_an_older_store_is_copied_before_it_is_brought_to_this_release(tmp_path):
    older = older_store(tmp_path / "data")
    before = (older / DATABASE_NAME).read_bytes()
    with Storage(older) as storage:
        (copy,) = older.glob("moondesk.before-*.db")
        assert copy.name == "moondesk.before-m020_aired.db"
        assert copy.stat().st_mode & 0o777 == 0o600
        with closing(sqlite3.connect(copy)) as kept:
            assert not kept.execute("select 1 from sqlite_master where name = 'erased_marks'").fetchall()
            assert kept.execute("select count(*) from submissions").fetchone()[0] > 1
        assert len(before) > 0
        now = datetime.now(UTC)
        for days, there in ((29, True), (31, False)):
            keep_house(storage, older, 0, now + timedelta(days=days))
            assert copy.exists() == there
        copy.write_bytes(b"once more")
        forget(storage, Media(older), "nobody@example.org", NOW)
        assert copy.exists(), "nothing was erased"
        erase(storage, [1], NOW)
        assert not copy.exists(), "who was erased would be in it"


def test_a_store_of_a_newer_release_is_refused_and_left_alone(data, tmp_path):
    backup(data, tmp_path / "b")
    for folder in (data, tmp_path / "b"):
        with closing(sqlite3.connect(folder / DATABASE_NAME)) as newer, newer:
            newer.execute("insert into _sqlite_migrations (migration_set, name) values ('moondesk', 'm999_tomorrow')")
    for refused in (
        lambda: Storage(data),
        lambda: check(tmp_path / "b"),
        lambda: backup(data, tmp_path / "c"),
        lambda: restore(tmp_path / "b", tmp_path / "back"),
    ):
        with pytest.raises(StorageError, match=r"newer release .*m999_tomorrow"):
            refused()
    result = CliRunner().invoke(main, ["list", "--data", str(data)])
    assert (result.exit_code, "Install that release" in result.output) == (2, True)


def test_overwritten_pages_are_told_as_damage_and_every_command_fails(data, tmp_path):
    backup(data, tmp_path / "b")
    restore(tmp_path / "b", tmp_path / "back")
    with Storage(tmp_path / "back") as storage:
        pages = {
            storage.read("select rootpage as n from sqlite_master where name = ?", [table])[0]["n"]
            for table in ("editions", "submissions", "rundown_items")
        }
    with open(tmp_path / "back" / DATABASE_NAME, "r+b") as file:
        for number in pages:
            file.seek((number - 1) * 4096)
            file.write(b"\xff" * 4096)
    for command in (
        ["list"],
        ["backup", str(tmp_path / "c")],
        ["rundown", "1", "--out", str(tmp_path / "r.csv")],
        ["export", "--out", str(tmp_path / "e")],
        ["frames", "1", "--out", str(tmp_path / "f")],
    ):
        result = CliRunner().invoke(main, [*command, "--data", str(tmp_path / "back")])
        assert result.exit_code == 2, (command, result.output)
        assert "damaged" in result.output
        assert "moondesk restore" in result.output
        assert "disk full" not in result.output


def test_the_key_of_open_forms_and_receipts_comes_back(data, tmp_path):
    tokens = load_tokens(data)
    backup(data, tmp_path / "b")
    restore(tmp_path / "b", tmp_path / "back")
    assert load_tokens(tmp_path / "back") == tokens


def test_a_backup_that_fails_leaves_the_older_one_whole_and_nothing_unfinished(
    data, folder, intake, tmp_path, monkeypatch
):
    backup(data, tmp_path / "b")
    before = everything(tmp_path / "b")
    (folder / "late.png").write_bytes(png(shade=77))
    list(intake.take_path(folder))

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("moondesk.service.store.backup.write_whole", full)
    with pytest.raises(StorageError, match="cannot be written"):
        backup(data, tmp_path / "b")
    assert everything(tmp_path / "b") == before
    assert not [p for p in (tmp_path / "b").iterdir() if p.name.startswith(".part")]
    assert check(tmp_path / "b").problems == ()


def test_a_restore_that_was_cut_short_looks_unfinished_and_the_next_says_so_and_works(data, tmp_path, monkeypatch):
    backup(data, tmp_path / "b")
    cut = """
import os, signal, sys
from pathlib import Path
from moondesk.service.store import restoring
copy = restoring.copy_originals
def killed(*a):
    copy(*a)
    os.kill(os.getpid(), signal.SIGKILL)
restoring.copy_originals = killed
restoring.restore(Path(sys.argv[1]), Path(sys.argv[2]))
"""
    done = subprocess.run(
        [sys.executable, "-c", cut, tmp_path / "b", tmp_path / "back"],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        timeout=60,
    )
    assert done.returncode == -9, done.stderr
    assert not (tmp_path / "back").exists()
    assert not (tmp_path / "back.part" / DATABASE_NAME).exists(), "nobody can take it for a data folder"
    report = restore(tmp_path / "b", tmp_path / "back")
    assert "was interrupted" in report.notes[0]
    assert originals(tmp_path / "back") == originals(data)
    assert not (tmp_path / "back.part").exists()


def test_a_restore_that_fails_leaves_nothing(data, tmp_path, monkeypatch):
    backup(data, tmp_path / "b")
    monkeypatch.setattr("moondesk.service.store.restoring.copy_settings", lambda *_: [].pop())
    with pytest.raises(IndexError):
        restore(tmp_path / "b", tmp_path / "back")
    assert not (tmp_path / "back").exists()
    assert not (tmp_path / "back.part").exists()


def test_a_restore_keeps_out_of_what_others_use(data, tmp_path, monkeypatch):
    backup(data, tmp_path / "b")
    (tmp_path / "back.part").mkdir()
    with open(tmp_path / "back.part" / ".restoring", "w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        with pytest.raises(StorageError, match="Another restore"):
            restore(tmp_path / "b", tmp_path / "back")
    (tmp_path / "back.part" / ".restoring").unlink()
    (tmp_path / "back.part" / "mine.txt").write_text("not of a restore")
    with pytest.raises(BadInputError, match="in the way"):
        restore(tmp_path / "b", tmp_path / "back")
    (tmp_path / "back").mkdir()
    (tmp_path / "back" / "mine.txt").write_text("nor this")
    with pytest.raises(BadInputError, match="not empty"):
        restore(tmp_path / "b", tmp_path / "back")
    assert (tmp_path / "back.part" / "mine.txt").exists()
    (tmp_path / "disk").mkdir()
    monkeypatch.setattr("os.path.ismount", lambda path: Path(path) == tmp_path / "disk")
    with pytest.raises(BadInputError, match="disk of its own"):
        restore(tmp_path / "b", tmp_path / "disk")


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
