"""The desk as it is run: it places what comes in, with a relative data folder too, and ends when it is asked to."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import click
import fakes
import pytest
from click.testing import CliRunner

from moondesk.service.cli.main import main
from moondesk.service.errors import StorageError
from moondesk.service.jobs.beside_desk import Beside
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_submissions" / "DSC_0412.jpg"
#: The command line with the stand-in for the core, in children of its own.
PROGRAM = """
import sys
import fakes
from pathlib import Path
from moondesk.service.jobs import child_pool, engine, waiting

engine.load_engine, engine.engine_version, waiting.PRELOAD = fakes.load, lambda: "fake 1", ("fakes",)
child_pool.start_server = lambda *_: None
from moondesk.service.cli import demo  # what it imports takes the stand-in
from moondesk.service.cli.main import main
demo.find_samples = lambda: Path(sys.argv[1])
if __name__ == "__main__":
    main(sys.argv[2:])
"""
signals = pytest.mark.skipif(sys.platform == "win32", reason="signals")


class Program:
    """A command that runs in a folder of its own, and the desk that it serves."""

    def __init__(self, folder: Path, *args: str, samples: Path | None = None) -> None:
        (folder / "program.py").write_text(PROGRAM)
        path = os.pathsep.join([str(ROOT), str(Path(__file__).parent)])
        temporary = folder / "tmp"
        temporary.mkdir(exist_ok=True)
        self.process = subprocess.Popen(
            [sys.executable, "program.py", str(samples), *args],
            cwd=folder,
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": path, "TMPDIR": str(temporary)},
        )
        self.port, self.cookie = 0, ""

    def url(self) -> int:
        """Waits until the desk is served; its port."""
        for line in self.process.stdout:
            if found := re.search(r"The desk: http://127.0.0.1:(\d+)/", line):
                self.port = int(found[1])
                return self.port
        raise AssertionError(self.process.stderr.read())

    def ask(self, path: str, method: str = "GET", body: bytes = b"", kind: str = "") -> tuple[int, str, bytes]:
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        line.request(method, path, body or None, {"Cookie": self.cookie, **({"Content-Type": kind} if kind else {})})
        answer = line.getresponse()
        self.cookie = (answer.headers["Set-Cookie"] or self.cookie).partition(";")[0]
        told = answer.status, answer.headers["Location"] or "", answer.read()
        line.close()
        return told

    def add(self, picture: bytes) -> str:
        """Put a picture in by the form; where that leads to."""
        token = re.search(rb'name="token" value="([^"]+)"', self.ask("/add")[2])[1]
        parts = [
            b'Content-Disposition: form-data; name="name"\r\n\r\nIlse',
            b'Content-Disposition: form-data; name="token"\r\n\r\n' + token,
            b'Content-Disposition: form-data; name="pictures"; filename="a.png"\r\n\r\n' + picture,
        ]
        body = b"".join(b"--xyz\r\n" + part + b"\r\n" for part in parts) + b"--xyz--\r\n"
        status, where, said = self.ask("/add", "POST", body, "multipart/form-data; boundary=xyz")
        assert status == 303, said
        return where

    def end(self) -> tuple[int, str]:
        self.process.send_signal(signal.SIGTERM)
        _, said = self.process.communicate(timeout=30)
        return self.process.returncode, said


@pytest.fixture
def started(tmp_path) -> Iterator[type]:
    running: list[Program] = []

    def start(*args: str, **more: Path) -> Program:
        running.append(Program(tmp_path, *args, **more))
        return running[-1]

    yield start
    for program in running:
        program.process.kill()
        program.process.communicate()


def eventually(of, seconds: float = 30.0):
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if found := of():
            return found
        time.sleep(0.05)
    raise AssertionError("it did not come to that")


@signals
def test_serve_places_what_is_added_and_ends_without_leaving_anything(started, tmp_path):
    desk = started("serve", "--data", "d", "--port", "0", "--workers", "1")
    desk.url()
    where = desk.add(fakes.png())
    assert where == "/pictures/1"
    eventually(lambda: json.loads(desk.ask("/standing?p=1")[2])["state"] == "placed")
    for role in ("thumbnail.jpg", "photo.jpg", "labelled.png"):  # the data folder is a relative one
        assert desk.ask(f"/pictures/1/{role}")[0] == 200, role
    desk.add(fakes.png(fakes.HANGS))
    eventually(lambda: json.loads(desk.ask("/standing?p=2")[2])["state"] == "leased")
    children = subprocess.run(
        ["ps", "-o", "pid=", "--ppid", str(desk.process.pid)], text=True, capture_output=True
    ).stdout.split()
    code, said = desk.end()
    assert (code, "Traceback" in said) == (0, False), said
    eventually(lambda: not any(Path(f"/proc/{pid}").exists() for pid in children))
    with Storage(tmp_path / "d") as storage:  # what it was placing is given back
        (job,) = storage.read("select picture_id, leased_by, attempts, failures from jobs")
        assert tuple(job.values()) == (2, None, 0, 0)


@signals
def test_the_demo_names_its_folder_and_removes_it_when_the_system_ends_it(started, tmp_path):
    (tmp_path / "samples").mkdir()
    (tmp_path / "samples" / "a.png").write_bytes(fakes.png())
    demo = started("demo", "--port", "0", "--workers", "1", samples=tmp_path / "samples")
    demo.url()
    (data,) = (tmp_path / "tmp").glob("moondesk-demo-*")
    assert (data / "moondesk.db").is_file()
    code, said = demo.end()
    assert (code, data.exists(), f"Data folder: {data} (removed when the demo ends)" in said) == (0, False, True)


@signals
@pytest.mark.parametrize("more", [(), ("--no-serve",)])
def test_a_demo_that_is_ended_while_it_places_removes_its_folder_too(tmp_path, monkeypatch, more):
    def ended(*_, **__):
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(20)

    monkeypatch.setattr("moondesk.service.cli.demo.take_and_place", ended)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    assert CliRunner().invoke(main, ["demo", "--port", "0", *more]).exit_code == 128 + signal.SIGTERM
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("more", [(), ("--no-work",)])
def test_no_work_leaves_the_placing_to_others(tmp_path, monkeypatch, more):
    served = []
    monkeypatch.setattr("moondesk.service.jobs.child_pool.start_server", lambda *_: None)
    monkeypatch.setattr("moondesk.service.cli.serve.listen", lambda app, *_, **__: served.append(app))
    assert CliRunner().invoke(main, ["serve", "--data", str(tmp_path), *more]).exit_code == 0
    assert (served[0].extensions["moondesk.placing"] is None) == bool(more)


def test_serve_and_receive_do_not_move_to_another_port(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        for command in ("serve", "receive"):
            with pytest.MonkeyPatch.context() as patch:
                for name in (
                    "moondesk.service.web.listening.DEFAULT_PORT",
                    "moondesk.service.web.public.app.DEFAULT_PUBLIC_PORT",
                ):
                    patch.setattr(name, taken.getsockname()[1])
                patch.setattr("moondesk.service.web.listening.free_port.__defaults__", (taken.getsockname()[1], False))
                result = CliRunner().invoke(
                    main, [command, "--data", str(tmp_path), *(["--no-work"] if command == "serve" else [])]
                )
            assert result.exit_code == 2, command
            assert f"Port {taken.getsockname()[1]} of 127.0.0.1 is taken" in result.stderr, command


def test_placing_that_stopped_is_told_and_begins_anew(tmp_path):
    rounds: list[int] = []
    go_on = threading.Event()
    placed = []

    def place(storage, stopped):
        rounds.append(len(rounds))
        if len(rounds) < 3:
            raise StorageError("The disk is full.", "Make room.") if len(rounds) == 1 else MemoryError("planted")
        go_on.wait(20)
        yield SimpleNamespace(id=1), SimpleNamespace()

    beside = Beside(tmp_path, place, lambda *one: placed.append(one), again_seconds=0.05, look_seconds=0.01)
    assert beside.trouble is None
    beside.start()
    eventually(lambda: len(rounds) == 3)
    assert beside.trouble.sentence == "MemoryError: planted. It is tried again by itself."
    go_on.set()
    eventually(lambda: placed)
    assert beside.trouble is None
    beside.stop()


def test_the_desk_says_since_when_placing_has_stopped(config, storage):
    from datetime import UTC, datetime

    from moondesk.service.jobs.beside_desk import WorkTrouble
    from moondesk.service.web.desk.app import create_app

    app = create_app(config)
    trouble = WorkTrouble("The disk is full. Make room.", datetime(2026, 3, 25, 19, 14, tzinfo=UTC))
    app.extensions["moondesk.placing"] = SimpleNamespace(trouble=trouble)
    told = app.test_client().get("/progress").json["words"]
    assert told == "Placing has stopped since 20:14 (19:14 UTC): The disk is full. Make room."


#: Every command that takes --data, and what else to type; those that serve are stopped before they listen.
WITH_DATA = {
    "take": [str(SAMPLE)],
    "list": [],
    "forget": ["nobody@example.org", "--yes"],
    "person": ["nobody@example.org"],
    "backup": ["copy"],
    "restore": ["copy"],
    "serve": ["--port", "0"],
    "receive": ["--port", "0"],
    "watch": [],
    "work": [],
    "retry": [],
    "account list": [],
    "account add": ["Ada"],
    "account reset": ["Ada"],
    "frames": ["1", "--out", "out"],
    "send": [],
    "clip": ["1", "--out", "c.mov"],
    "card": ["1", "--out", "card.png"],
    "after": ["1", "--to", "after"],
    "script": ["1", "--out", "script.txt"],
    "composite": ["2026-03-25", "--out", "c.png"],
    "month": ["2026-03-01", "--sheet", "m.png"],
    "export": ["--out", "out"],
    "rundown": ["1", "--out", "r.csv"],
    "kit": ["1", "--out", "kit"],
}


def commands(group: click.Group, before: str = "") -> Iterator[tuple[str, click.Command]]:
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from commands(command, f"{before}{name} ")
        yield f"{before}{name}", command


def test_every_command_takes_a_relative_data_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("moondesk.service.jobs.engine.load_engine", fakes.load)
    monkeypatch.setattr("moondesk.service.jobs.engine.engine_version", lambda: "fake 1")
    for name in ("take", "list"):
        monkeypatch.setattr(
            f"moondesk.service.cli.{name}.load_config", lambda data, workers=None: load_config(data, workers=0)
        )
    shown: list[int] = []

    def look(app, *_, **__):
        for role in ("thumbnail.jpg", "photo.jpg"):
            with app.test_client().get(f"/pictures/1/{role}") as answer:
                shown.append(answer.status_code)

    monkeypatch.setattr("moondesk.service.cli.serve.listen", look)
    monkeypatch.setattr(
        "moondesk.service.cli.receive.public_server",
        lambda *_: SimpleNamespace(effective_host="127.0.0.1", effective_port=1, run=lambda: None),
    )
    monkeypatch.setattr("moondesk.service.jobs.child_pool.start_server", lambda *_: None)
    told = [name for name, command in commands(main) if any(p.name == "data" for p in command.params)]
    assert sorted(told) == sorted(WITH_DATA)
    for name, more in WITH_DATA.items():
        data = "again" if name == "restore" else "d"
        result = CliRunner().invoke(main, [*name.split(), *more, "--data", data], input="a long pass phrase\n" * 2)
        fault = result.exception
        assert fault is None or isinstance(fault, SystemExit), (name, fault)
        assert result.exit_code in ((2,) if name in ("watch", "send") else (0, 1, 3)), (name, result.output)
    assert {p.name for p in tmp_path.iterdir()} >= {"d", "again", "copy"}
    assert shown == [200, 200]
