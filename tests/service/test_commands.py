"""`moondesk watch`, `work` and `retry`, as they are typed."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from pathlib import Path

import fakes
import pytest
from click.testing import CliRunner
from imap_double import MailServer

from moondesk.service.cli.console import ProgressBar, time_left_words
from moondesk.service.cli.main import main
from moondesk.service.intake import reading
from moondesk.service.jobs import engine
from moondesk.service.jobs.executors import InProcess
from moondesk.service.store import queue
from moondesk.service.store.backup import check
from moondesk.service.store.forget import erase_old_mails
from moondesk.service.store.messages import in_words
from moondesk.service.store.storage import Storage
from moondesk.service.store.strays import original_hashes

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(autouse=True)
def fake_core(monkeypatch):
    """The commands with the stand-in for the core, in this process."""
    monkeypatch.setattr(engine, "load_engine", fakes.load)
    monkeypatch.setattr(engine, "engine_version", lambda: "fake 1")
    monkeypatch.setattr("moondesk.service.jobs.placing.ChildPool", lambda *_, **__: InProcess())
    monkeypatch.setattr("moondesk.service.jobs.child_pool.start_server", lambda *_: None)
    monkeypatch.setattr("moondesk.service.cli.watch.tell_missing", lambda: None)  # of formats: extras may be lacking
    for name in ("watch", "work"):
        monkeypatch.setattr(f"moondesk.service.cli.{name}.stop_event", threading.Event)


def mail(k: int, *pictures: bytes, name: str = "a.png") -> bytes:
    message = EmailMessage()
    message["From"] = f"Sender {k} <s{k}@example.org>"
    message["Message-ID"] = f"<{k}@example.org>"
    message.set_content("You may show it on the programme.")
    for data in pictures:
        message.add_attachment(data, maintype="image", subtype="png", filename=name)
    return message.as_bytes().replace(b"\n", b"\r\n")


def run(*args: object):
    return CliRunner().invoke(main, [str(a) for a in args], catch_exceptions=False)


def watch_once(server, data, *more):
    return run(
        "watch",
        "--host",
        "127.0.0.1",
        "--user",
        "bo",
        "--port",
        server.port,
        "--plain",
        "--once",
        "--data",
        data,
        *more,
    )


def listed(data):
    return [json.loads(line) for line in run("list", "--jsonl", "--data", data).stdout.splitlines()]


def test_watch_takes_and_places(tmp_path, monkeypatch):
    monkeypatch.setenv("MOONDESK_MAIL_PASSWORD", "secret")
    with MailServer([mail(1, fakes.png()), mail(2)]) as server:
        result = watch_once(server, tmp_path)
    assert result.exit_code == 0  # the one without a picture is a letter
    assert "INBOX 1: taken" in result.stderr
    assert "INBOX 2: taken: A letter without a picture" in result.stderr
    assert result.stdout.startswith("Sender 1")
    assert "MOONDESK_MAIL_PASSWORD" not in os.environ
    assert [
        (
            line["source"],
            [p["status"] for p in line["pictures"]],
            line["consent"]["state"],
            line["letter"] and line["letter"]["kind"],
        )
        for line in listed(tmp_path)
    ] == [
        ("mail", ["annotated"], "suggested", "letter"),  # its picture is as small as a signature's
        ("mail", [], "suggested", "letter"),
    ]


def test_watch_says_what_is_missing(tmp_path, monkeypatch):
    monkeypatch.delenv("MOONDESK_MAIL_PASSWORD", raising=False)
    result = run("watch", "--user", "bo", "--data", tmp_path)
    assert (result.exit_code, result.stderr) == (
        2,
        "The mailbox has no host. Give it as --host, or in [mailbox] of moondesk.toml.\n",
    )
    (tmp_path / "moondesk.toml").write_text('[mailbox]\nhost = "imap.example.org"\nuser = "bo"\n')
    assert "There is no password for the mailbox." in run("watch", "--data", tmp_path).stderr
    (tmp_path / "moondesk.toml").write_text('[mailbox]\nhots = "imap.example.org"\n')
    assert "[mailbox] has no 'hots'" in run("watch", "--data", tmp_path).stderr


def test_watch_tells_of_a_wrong_password(tmp_path, monkeypatch):
    monkeypatch.setenv("MOONDESK_MAIL_PASSWORD", "wrong")
    with MailServer() as server:
        result = watch_once(server, tmp_path)
    assert result.exit_code == 2
    assert "The server does not take the password of bo: [AUTHENTICATIONFAILED]" in result.stderr


def test_work_places_what_was_only_taken(tmp_path, monkeypatch):
    monkeypatch.setenv("MOONDESK_MAIL_PASSWORD", "secret")
    with MailServer([mail(1, fakes.png())]) as server:
        assert watch_once(server, tmp_path, "--no-place").exit_code == 0
    assert listed(tmp_path)[0]["pictures"][0]["status"] == "waiting"
    assert run("work", "--data", tmp_path).exit_code == 0
    assert listed(tmp_path)[0]["pictures"][0]["status"] == "annotated"
    assert run("work", "--data", tmp_path).exit_code == 3


def test_work_on_a_cluster_that_is_none(tmp_path, monkeypatch):
    pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    monkeypatch.setenv("MOONDESK_MAIL_PASSWORD", "secret")
    with MailServer([mail(1, fakes.png())]) as server:
        watch_once(server, tmp_path, "--no-place")
    result = run("work", "--data", tmp_path, "--cluster", "what://nowhere")
    assert result.exit_code == 2
    assert "No cluster answers at what://nowhere" in result.stderr


def test_retry_places_what_was_put_aside(tmp_path, monkeypatch):
    monkeypatch.setenv("MOONDESK_MAIL_PASSWORD", "secret")
    with MailServer([mail(1, fakes.png())]) as server:
        watch_once(server, tmp_path, "--no-place")
    with Storage(tmp_path) as storage:
        for _ in range(queue.FAILURES):
            queue.lease(storage, "fake 1", "a", 1, NOW, 60)
            queue.fail(storage, "a", 1, "fake 1", in_words("It hangs."))
    assert listed(tmp_path)[0]["flags"][1:] == ["a.png is put aside: It hangs."]
    assert run("work", "--data", tmp_path).exit_code == 3
    result = run("retry", "--data", tmp_path)
    assert result.exit_code == 0
    assert result.stderr.endswith("0 refused files can be used now, 0 cannot; 1 pictures tried again, 1 placed.\n")
    assert listed(tmp_path)[0]["pictures"][0]["status"] == "annotated"
    assert run("retry", "--data", tmp_path).exit_code == 3


def test_retry_takes_up_what_was_refused(tmp_path, monkeypatch):
    """As after an extra was installed, or after the reader was ended by something else."""
    from moondesk.files.formats.not_pictures import NotPicture

    monkeypatch.setattr(reading, "shared_reader", lambda: reading.Reader(InProcess()))
    data, folder = tmp_path / "data", tmp_path / "folder"
    folder.mkdir()
    (folder / "a.png").write_bytes(fakes.png())
    (folder / "b.jpg").write_bytes(b"<html>")
    (folder / "m.eml").write_bytes(mail(1, fakes.png(shade=4)))
    with monkeypatch.context() as without:
        without.setattr(reading, "open_picture", lambda data: NotPicture(b""))
        without.setattr(reading, "mail_arrival", _fails)
        run("take", folder, "--data", data)
    before = listed(data)
    assert [line["pictures"][0]["status"] for line in before] == ["refused"] * 3
    assert "moondesk retry reads it again" in before[2]["pictures"][0]["refused"]
    result = run("retry", "--data", data)
    assert result.exit_code == 1  # the web page stays refused, with the reason of today
    assert "b.jpg: The file is a web page" in result.stderr
    assert "2 refused files can be used now, 1 cannot; 0 pictures tried again, 2 placed." in result.stderr
    after = listed(data)
    assert [line["pictures"][0]["status"] for line in after] == ["annotated", "refused", "annotated"]
    assert (after[2]["sender_address"], after[2]["consent"]["state"]) == ("s1@example.org", "suggested")
    assert check(data).problems == ()


def _fails(*_):
    raise IndexError("planted")


def test_mails_are_erased_after_their_days_and_pictures_stay(tmp_path, monkeypatch):
    monkeypatch.setenv("MOONDESK_MAIL_PASSWORD", "secret")
    with MailServer([mail(1, fakes.png()), mail(2)]) as server:
        watch_once(server, tmp_path)
        with Storage(tmp_path) as storage:
            from moondesk.service.store.media import Media

            media, later = Media(tmp_path), datetime.now(UTC) + timedelta(days=91)
            kept = set(original_hashes(storage))
            assert len(kept) == 3
            assert erase_old_mails(storage, media, 90, later - timedelta(days=2)) == 0
            assert erase_old_mails(storage, media, 0, later) == 0
            assert erase_old_mails(storage, media, 90, later) == 2
            assert len(original_hashes(storage)) == 1
            assert {p.name for p in (tmp_path / "originals").rglob("*") if p.is_file()} == set(original_hashes(storage))
            assert erase_old_mails(storage, media, 90, later) == 0
        monkeypatch.setenv("MOONDESK_MAIL_PASSWORD", "secret")
        server.renumber()
        result = watch_once(server, tmp_path)  # erased is not forgotten: they are not taken again
        assert (result.exit_code, result.stderr.count(": known")) == (3, 2)
    assert check(tmp_path).problems == ()
    assert listed(tmp_path)[0]["consent"]["evidence"] == "You may show it on the programme."
    text = b"You may show it"
    assert not any(text in p.read_bytes() for p in (tmp_path / "originals").rglob("*") if p.is_file())


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_a_watch_ends_when_it_is_asked_to(tmp_path):
    with MailServer([mail(1)]) as server:
        process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "moondesk.service",
                "watch",
                "--host",
                "127.0.0.1",
                "--user",
                "bo",
                "--port",
                str(server.port),
                "--plain",
                "--no-place",
                "--data",
                str(tmp_path),
            ],
            cwd=ROOT,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "MOONDESK_MAIL_PASSWORD": "secret", "PYTHONPATH": str(ROOT)},
        )
        until = time.monotonic() + 30
        while not any("IDLE" in c for c in server.commands) and time.monotonic() < until:
            time.sleep(0.05)
        process.send_signal(signal.SIGTERM)
        _, said = process.communicate(timeout=20)
    assert process.returncode == 0
    assert "INBOX 1: taken: A letter" in said
    assert "Traceback" not in said


def test_progress_says_counts_rate_and_time_left():
    clock = iter([0.0, 2.0, 2.0, 4.0, 4.0, 4.0])
    meter = ProgressBar(10, clock=lambda: next(clock))
    meter.step()
    meter.step()
    assert meter.line() == "2 of 10 placed, 30.0 a minute, 16 s left"
    assert [time_left_words(s) for s in (5, 700, 12_000)] == ["5 s", "12 min", "3 h 20 min"]
