"""Files without a row are swept away once nobody can be about to commit them; what the store knows is never touched."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta

import fakes
import pytest
from click.testing import CliRunner
from test_forget import mail, traces

from moondesk.service.cli.main import main
from moondesk.service.intake.forms import SentFile, SubmissionForm, take_form
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.housekeeping import keep_house, run_housekeeping_once
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.store.backup import backup, check
from moondesk.service.store.erasures import erase
from moondesk.service.store.forget import forget
from moondesk.service.store.media import sha256_of
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.strays import Strays, count_strays, sweep_strays
from moondesk.service.store.submissions import add_submission

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def data(folder, storage, media, config):
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
    return config.data_dir


def left_behind(data, media, when):
    """An original and its derived picture without a row, and what three writers had not finished."""
    sha = media.put(b"a form that nobody has")
    derived = data / "derived" / sha[:2] / sha
    paths = [
        media.path(sha),
        derived,
        data / "arriving" / ".part-1",
        data / ".forms.key.ab12",
        next((data / "derived").glob("*/*/*")) / ".air-1",
    ]
    derived.mkdir(parents=True)
    paths[4].mkdir()
    paths[2].parent.mkdir(exist_ok=True)
    for path in paths[2:4]:
        path.write_bytes(b"half")
    for path in paths:
        os.utime(path, (when.timestamp(), when.timestamp()))
    return paths


def age(data, when):
    """All files of a folder as old as that."""
    for path in data.rglob("*"):
        os.utime(path, (when.timestamp(), when.timestamp()))


def test_what_killed_programs_left_is_swept_and_counted_and_nothing_else(data, storage, media):
    age(data, NOW - 30 * HOUR)
    before = sorted(p for p in data.rglob("*") if p.is_file() and p.suffix not in (".db-shm", ".db-wal"))
    paths = left_behind(data, media, NOW - 2 * HOUR)
    assert count_strays(storage, media) == Strays(1, 3, 1)
    assert sweep_strays(storage, media, NOW - 3 * HOUR) == Strays(), "they may still be committed"
    assert sweep_strays(storage, media, NOW - HOUR) == Strays(1, 3, 1)
    assert not any(p.exists() for p in paths)
    assert sorted(p for p in data.rglob("*") if p.is_file() and p.suffix not in (".db-shm", ".db-wal")) == before
    assert count_strays(storage, media).all == 0


def test_a_check_counts_them_and_the_next_backup_removes_them(data, storage, media, tmp_path):
    left_behind(data, media, NOW)
    assert check(data).strays == 5
    backup(data, tmp_path / "b")
    assert check(tmp_path / "b").strays == 0, "a backup copies what the store knows"
    (tmp_path / "b" / "originals" / "ab").mkdir(exist_ok=True)
    (tmp_path / "b" / "originals" / "ab" / ("ab" * 32)).write_bytes(b"of a backup that was killed")
    said = CliRunner().invoke(main, ["restore", str(tmp_path / "b"), "--check"])
    assert (said.exit_code, "1 files of the source belong to nothing" in said.output) == (0, True)
    assert backup(data, tmp_path / "b").removed == 1


def test_what_is_being_committed_at_that_moment_stays(data, storage, media, config, monkeypatch):
    """A file that lay there without a row for hours is sent in just while it is swept."""
    picture = fakes.png(shade=201)
    sha = media.put(picture)
    os.utime(media.path(sha), (NOW.timestamp() - 9999, NOW.timestamp() - 9999))
    intake = Intake(
        storage=storage,
        media=media,
        edition=open_edition(storage, config, NOW, lambda _: None),
        config=config,
        now=lambda: NOW,
    )
    commit = add_submission

    def swept_before_the_commit(*args):
        sweep_strays(storage, media, NOW - HOUR)
        return commit(*args)

    monkeypatch.setattr("moondesk.service.intake.intake.add_submission", swept_before_the_commit)
    (config.data_dir.parent / "p.png").write_bytes(picture)
    (taken,) = intake.take_path(config.data_dir.parent / "p.png")
    assert taken.outcome == "taken"
    assert media.path(sha).read_bytes() == picture


def test_after_a_forget_nothing_of_a_form_that_was_killed_is_left(storage, media, config, tmp_path, monkeypatch):
    """Its files lie there, its row does not: swept with the rest, an hour later."""
    intake = Intake(
        storage=storage,
        media=media,
        edition=open_edition(storage, config, NOW, lambda _: None),
        config=config,
        now=lambda: NOW,
    )
    form = SubmissionForm(source="form", form_id="1", name="Zulfiqar Quendel", address="zulfiqar@quendel.example")
    monkeypatch.setattr("moondesk.service.intake.forms.add_submission", lambda *_: [].pop())
    (tmp_path / "p.png").write_bytes(fakes.png(shade=4))
    with open(tmp_path / "p.png", "rb") as file, pytest.raises(IndexError):
        take_form(intake, form, [SentFile("zulfiqar.png", file)])
    assert traces(config.data_dir, "zulfiqar")
    age(config.data_dir / "originals", NOW - 2 * HOUR)
    forget(storage, media, "zulfiqar@quendel.example", NOW)
    assert traces(config.data_dir, "zulfiqar") == []
    assert not media.has(sha256_of(fakes.png(shade=4)))


def test_an_erasure_that_was_cut_short_is_finished_by_whoever_keeps_house(data, storage, media):
    (picture,) = [p.picture for p in list_pictures(storage, 1) if p.picture.enclosure.given_name == "a.png"]
    erase(storage, [picture.submission.id], NOW)  # and the power went
    assert media.has(picture.enclosure.sha256)
    keep_house(storage, data, 0, NOW)
    assert not media.has(picture.enclosure.sha256)


def test_mails_past_their_days_are_erased_whoever_keeps_house(tmp_path, storage, media, config):
    (tmp_path / "in").mkdir()
    mail(tmp_path / "in", "1.eml", "Zulfiqar Quendel <zulfiqar@quendel.example>", fakes.png(shade=1))
    list(
        Intake(
            storage=storage,
            media=media,
            edition=open_edition(storage, config, NOW, lambda _: None),
            config=config,
            now=lambda: NOW,
        ).take_path(tmp_path / "in")
    )
    shas = {p.name for p in (config.data_dir / "originals").glob("*/*")}
    assert len(shas) == 2
    run_housekeeping_once(config.data_dir, print, lambda: NOW + timedelta(days=89))
    assert {p.name for p in (config.data_dir / "originals").glob("*/*")} == shas
    run_housekeeping_once(config.data_dir, print, lambda: NOW + timedelta(days=91))
    assert {p.name for p in (config.data_dir / "originals").glob("*/*")} == {sha256_of(fakes.png(shade=1))}


@pytest.mark.parametrize("command", ["serve", "receive", "work", "watch", "take"])
def test_every_program_that_runs_for_long_keeps_house_from_its_start(command, config, tmp_path, monkeypatch):
    """Read from what is told: the program itself is stopped where it would begin to listen or to look."""
    config.data_dir.mkdir()
    sha = "ab" * 32
    stray = config.data_dir / "originals" / "ab" / sha
    stray.parent.mkdir(parents=True)
    stray.write_bytes(b"nobody's")
    os.utime(stray, (1, 1))
    for begun in (
        "moondesk.service.web.desk.app.server_for",
        "moondesk.service.web.public.app.server_for",
        "moondesk.service.cli.watch.Watch",  # where it is used: a command is loaded once and keeps what it imported
    ):
        monkeypatch.setattr(begun, lambda *_, **__: [].pop())
    monkeypatch.setenv("MOONDESK_MAIL_PASSWORD", "x")
    told = {
        "serve": [],
        "receive": [],
        "work": [],
        "take": [str(tmp_path / "nothing")],
        "watch": ["--once", "--plain", "--host", "127.0.0.1", "--port", "9", "--user", "bo"],
    }[command]
    (tmp_path / "nothing").mkdir()
    result = CliRunner().invoke(main, [command, *told, "--data", str(config.data_dir)])
    assert "1 files that belong to no submission" in result.output
    assert not stray.exists()
