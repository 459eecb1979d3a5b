"""Every program killed at random instants, and started again. By hand: python -m tests.benchmarks.kills --kills 60 --seed 1

A program is let run until it is at work, killed (SIGKILL) after a random time of what its work takes undisturbed, and
run again to its end. Then: nothing that was acknowledged is lost, nothing is there twice, the store is sound, every
original has its hash; what the killed one left without a row is swept away once it is an hour old; and a backup or a
restored folder that was cut short does not pass for a whole one. The core is the stand-in of the tests.
"""

from __future__ import annotations

import argparse
import http.client
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from moondesk.service.store.submissions import each_submission

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "service"))

import fakes  # noqa: E402  (the tests' own helpers)
from imap_double import MailServer  # noqa: E402
from odd_mails import odd_mails, submissions  # noqa: E402

from moondesk.service.jobs.housekeeping import run_housekeeping_once  # noqa: E402
from moondesk.service.store.backup import check  # noqa: E402
from moondesk.service.store.media import Media  # noqa: E402
from moondesk.service.store.storage import DATABASE_NAME, Storage  # noqa: E402
from moondesk.service.store.strays import count_strays  # noqa: E402

PROGRAM = """
import sys
import fakes
from moondesk.service.cli.main import main
from moondesk.service.jobs import child_pool, engine, waiting

engine.load_engine, engine.engine_version, waiting.PRELOAD = fakes.load, lambda: "fake 1", ("fakes",)
child_pool.start_server = lambda *_: None
if __name__ == "__main__":
    main(sys.argv[1:])
"""
SETTINGS = "[public]\nforms_at_once = 100000\nforms_per_hour = 100000\n"
PICTURES = 24
#: Originals of a backup: enough that it is at work for a while.
COPIED = 200
#: A program that does not come to work within this has failed.
PATIENCE_S = 120.0


@dataclass
class Bench:
    """A folder for everything, and what was counted: (program, what) -> how often."""

    folder: Path
    rng: random.Random
    counted: Counter[tuple[str, str]]

    def start(self, *args: str) -> subprocess.Popen[str]:
        (self.folder / "program.py").write_text(PROGRAM)
        said = open(self.folder / "said.txt", "a")  # noqa: SIM115  the program's, to be read where one fails
        path = os.pathsep.join([str(ROOT), str(ROOT / "tests" / "service")])
        return subprocess.Popen(
            [sys.executable, "program.py", *args],
            cwd=self.folder,
            text=True,
            stdout=subprocess.PIPE,
            stderr=said,
            env={**os.environ, "PYTHONPATH": path, "MOONDESK_MAIL_PASSWORD": "secret"},
        )

    def run(self, *args: str) -> float:
        """Undisturbed; seconds of it."""
        started, process = time.monotonic(), self.start(*args)
        process.communicate(timeout=10 * PATIENCE_S)
        assert process.returncode in (0, 1, 3), (args, process.returncode)
        return time.monotonic() - started

    def killed(self, args: tuple[str, ...], begun: Callable[[], bool], seconds: float) -> bool:
        """Kill it at a random instant of so many seconds after it has begun. False: it was done before."""
        process, until = self.start(*args), time.monotonic() + PATIENCE_S
        while not begun() and process.poll() is None and time.monotonic() < until:
            time.sleep(0.002)
        time.sleep(self.rng.uniform(0, seconds))
        early = process.poll() is None
        process.send_signal(signal.SIGKILL)
        process.communicate()
        return early

    def sound(self, name: str, data: Path) -> None:
        """Count what is wrong with a data folder, and what is left in it of the killed."""
        self.counted[name, "faults"] += len(check(data).problems)
        with Storage(data) as storage:
            left = count_strays(storage, Media(data)).all
            keys = [s.submission.arrival.key for s in each_submission(storage)]
            annotated = storage.read("select count(*) as n, count(distinct picture_id) as m from annotations")[0]
        self.counted[name, "doubled"] += len(keys) - len(set(keys)) + annotated["n"] - annotated["m"]
        self.counted[name, "files left by the kill"] += left
        run_housekeeping_once(data, lambda _: None, lambda: datetime.now(UTC) + timedelta(hours=2))
        with Storage(data) as storage:
            self.counted[name, "files left after the next start"] += count_strays(storage, Media(data)).all


def pictures(folder: Path, first: int = 0, count: int = PICTURES) -> Path:
    folder.mkdir(parents=True)
    for k in range(first, first + count):
        (folder / f"{k}.png").write_bytes(fakes.png(80 + k % 40, 60 + k // 40))
    return folder


def of_store(data: Path, sql: str) -> int:
    if not (data / DATABASE_NAME).is_file():
        return 0
    try:
        with Storage(data, read_only=True) as storage:
            return int(storage.read(sql)[0]["n"])
    except Exception:  # it is just being made
        return 0


TAKEN, PLACED = "select count(*) as n from submissions", "select count(*) as n from annotations"
LEASED = "select count(*) as n from jobs"


def take(bench: Bench, name: str, kills: int) -> None:
    source = pictures(bench.folder / "in")
    seconds = bench.run("take", str(source), "--data", "whole", "--workers", "1")
    for k in range(kills):
        data = bench.folder / f"{name}{k}"
        args = ("take", str(source), "--data", str(data), "--workers", "1")
        bench.counted[name, "kills"] += bench.killed(args, lambda data=data: of_store(data, TAKEN) > 0, seconds / 2)
        bench.run(*args)
        bench.counted[name, "lost"] += 2 * PICTURES - of_store(data, TAKEN) - of_store(data, PLACED)
        bench.counted[name, "leases left"] += of_store(data, LEASED)
        bench.sound(name, data)


def work(bench: Bench, name: str, kills: int) -> None:
    source = pictures(bench.folder / "in")
    bench.run("take", str(source), "--data", "placed", "--workers", "1")
    waiting = bench.folder / "waiting"
    shutil.copytree(bench.folder / "placed", waiting)
    with Storage(waiting) as storage, storage.writing() as execute:
        for statement in (
            "delete from annotations",
            "delete from sketches",
            "delete from shown",
            "update pictures set placed_by = null",
        ):
            execute(statement)
    shutil.rmtree(waiting / "derived")
    shutil.copytree(waiting, bench.folder / "timed")
    seconds = bench.run("work", "--data", "timed", "--workers", "2")
    for k in range(kills):
        data = bench.folder / f"{name}{k}"
        shutil.copytree(waiting, data)
        args = ("work", "--data", str(data), "--workers", "2")
        bench.counted[name, "kills"] += bench.killed(args, lambda data=data: of_store(data, LEASED) > 0, seconds / 2)
        bench.run(*args)
        bench.counted[name, "lost"] += PICTURES - of_store(data, PLACED)
        bench.counted[name, "leases left"] += of_store(data, LEASED)
        bench.sound(name, data)


def _source_of_backups(bench: Bench) -> Path:
    data = bench.folder / "data"
    bench.run("take", str(pictures(bench.folder / "in", 0, COPIED)), "--data", str(data), "--workers", "2")
    return data


def backup(bench: Bench, name: str, kills: int) -> None:
    data = _source_of_backups(bench)
    seconds = bench.run("backup", "timed", "--data", str(data))
    for k in range(kills):
        target = bench.folder / f"{name}{k}"
        args = ("backup", str(target), "--data", str(data))
        if k % 2:  # one that finds an older backup there, half of whose originals are gone
            shutil.copytree(bench.folder / "timed", target)
            shutil.rmtree(target / "originals")
            shutil.copytree(
                bench.folder / "timed" / "originals",
                target / "originals",
                ignore=lambda _, names: [n for n in names if len(n) == 64 and int(n[-1], 16) % 2],
            )
        early = bench.killed(args, lambda target=target: any(target.glob(".part*")), seconds / 2)
        bench.counted[name, "kills"] += early
        whole = (target / DATABASE_NAME).is_file() and not check(target).problems
        complete = len(list((target / "originals").glob("*/*"))) == COPIED
        bench.counted[name, "passes for whole"] += whole and not complete
        bench.run(*args)
        bench.counted[name, "lost"] += COPIED - check(target).originals
        bench.counted[name, "faults"] += len(check(target).problems)
        left = check(target).strays + len(list(target.glob(".part*")))
        bench.counted[name, "files left after the next start"] += left
        shutil.rmtree(target)


def restore(bench: Bench, name: str, kills: int) -> None:
    data = _source_of_backups(bench)
    bench.run("backup", "b", "--data", str(data))
    seconds = bench.run("restore", "b", "--data", "timed")
    for k in range(kills):
        back = bench.folder / f"{name}{k}"
        args = ("restore", "b", "--data", str(back))
        part = back.with_name(f"{back.name}.part")
        bench.counted[name, "kills"] += bench.killed(args, lambda part=part: part.exists(), seconds / 2)
        if back.exists():
            found = check(back)
            bench.counted[name, "passes for whole"] += bool(found.problems) or found.originals != COPIED
        else:
            bench.counted[name, "passes for whole"] += (part / DATABASE_NAME).exists() and bool(check(part).problems)
            bench.run(*args)
        bench.counted[name, "lost"] += 2 * COPIED - of_store(back, TAKEN) - check(back).originals
        bench.counted[name, "files left after the next start"] += part.exists()
        bench.sound(name, back)
        shutil.rmtree(back)


class Sender(threading.Thread):
    """Sends forms one after the other until the line breaks; what was acknowledged stands in `sent`."""

    def __init__(self, port: int, path: str, number: int, picture: Callable[[], bytes]) -> None:
        super().__init__(daemon=True)
        self._port, self._path, self._number, self._picture = port, path, number, picture
        self.sent: list[str] = []

    def run(self) -> None:
        try:
            while True:
                who = f"Sender {self._number} {len(self.sent)} {time.time_ns()}"
                if self._send(who):
                    self.sent.append(who)
        except (OSError, http.client.HTTPException, TypeError):
            return

    def _send(self, who: str) -> bool:
        line = http.client.HTTPConnection("127.0.0.1", self._port, timeout=30)
        line.request("GET", self._path)
        answer = line.getresponse()
        cookie = (answer.headers["Set-Cookie"] or "").partition(";")[0]
        token = re.search(rb'name="token" value="([^"]+)"', answer.read())[1]
        parts = [
            (b'name="token"', token),
            (b'name="name"', who.encode()),
            (b'name="agreed"', b"yes"),
            (b'name="pictures"; filename="a.png"', self._picture()),
        ]
        body = (
            b"".join(
                b"--x\r\nContent-Disposition: form-data; " + head + b"\r\n\r\n" + data + b"\r\n" for head, data in parts
            )
            + b"--x--\r\n"
        )
        line.request(
            "POST",
            self._path,
            body,
            {"Cookie": cookie, "X-Form-Token": token.decode(), "Content-Type": "multipart/form-data; boundary=x"},
        )
        answer = line.getresponse()
        answer.read()
        line.close()
        return answer.status == 303


def _served(bench: Bench, name: str, kills: int, args: tuple[str, ...], path: str) -> None:
    data = bench.folder / "data"
    data.mkdir()
    (data / "moondesk.toml").write_text(SETTINGS)
    sent: list[str] = []
    lock, numbers = threading.Lock(), iter(range(10**6))

    def picture() -> bytes:
        with lock:
            k = next(numbers)
        return fakes.png(80 + k % 200, 60 + k // 200)

    for _ in range(kills):
        process = bench.start(*args, "--data", str(data), "--port", "0")
        port = next(
            int(found[1]) for line in process.stdout or () if (found := re.search(r"http://127\.0\.0\.1:(\d+)/", line))
        )
        senders = [Sender(port, path, k, picture) for k in range(4)]
        for one in senders:
            one.start()
        until = time.monotonic() + PATIENCE_S
        while not any(one.sent for one in senders) and time.monotonic() < until:  # it is at work
            time.sleep(0.01)
        time.sleep(bench.rng.uniform(0.0, 3.0))
        process.send_signal(signal.SIGKILL)
        process.communicate()
        for one in senders:
            one.join(40)
            sent += one.sent
        bench.counted[name, "kills"] += 1
    with Storage(data) as storage:
        names = Counter(s.submission.arrival.sender_name for s in each_submission(storage))
    bench.counted[name, "acknowledged"] += len(sent)
    bench.counted[name, "lost"] += sum(who not in names for who in sent)
    bench.counted[name, "doubled"] += sum(n - 1 for n in names.values())
    bench.sound(name, data)


def receive(bench: Bench, name: str, kills: int) -> None:
    _served(bench, name, kills, ("receive",), "/")


def serve(bench: Bench, name: str, kills: int) -> None:
    _served(bench, name, kills, ("serve", "--workers", "1"), "/add")


def watch(bench: Bench, name: str, kills: int) -> None:
    with MailServer(odd_mails()) as server:
        args = (
            "watch",
            "--once",
            "--plain",
            "--host",
            "127.0.0.1",
            "--port",
            str(server.port),
            "--user",
            "bo",
            "--workers",
            "1",
            "--data",
        )
        seconds = bench.run(*args, "timed")
        expected = of_store(bench.folder / "timed", TAKEN), of_store(bench.folder / "timed", PLACED)
        assert expected[0] >= submissions() - 3, expected
        for k in range(kills):
            data = bench.folder / f"{name}{k}"
            bench.counted[name, "kills"] += bench.killed(
                (*args, str(data)), lambda data=data: of_store(data, TAKEN) > 0, seconds / 2
            )
            bench.run(*args, str(data))
            bench.counted[name, "lost"] += sum(expected) - of_store(data, TAKEN) - of_store(data, PLACED)
            bench.counted[name, "leases left"] += of_store(data, LEASED)
            bench.sound(name, data)


PROGRAMS = (take, work, backup, restore, receive, serve, watch)
COLUMNS = (
    "kills",
    "acknowledged",
    "lost",
    "doubled",
    "faults",
    "passes for whole",
    "leases left",
    "files left by the kill",
    "files left after the next start",
)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.kills", description=__doc__)
    parser.add_argument("--kills", type=int, default=60, help="of all programs together")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=[p.__name__ for p in PROGRAMS], action="append")
    told = parser.parse_args()
    chosen = [p for p in PROGRAMS if not told.only or p.__name__ in told.only]
    counted: Counter[tuple[str, str]] = Counter()
    print("program | " + " | ".join(COLUMNS))
    for k, program in enumerate(chosen):
        kills = told.kills // len(chosen) + (k < told.kills % len(chosen))
        folder = Path(tempfile.mkdtemp(prefix="moondesk-kills-"))
        try:
            program(Bench(folder, random.Random(f"{told.seed} {program.__name__}"), counted), program.__name__, kills)
        finally:
            shutil.rmtree(folder, ignore_errors=True)
        print(f"{program.__name__} | " + " | ".join(str(counted[program.__name__, c]) for c in COLUMNS), flush=True)


if __name__ == "__main__":
    main()
