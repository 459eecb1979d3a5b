"""A mailbox of 12-megapixel pictures taken and placed while people look at the pages. Run by hand, on two quiet cores:

    python -m tests.benchmarks.intake --mails 1000 [--seed N] [--cluster] [--folder DIR]

Every program is started as a user starts it, each in its own process: `serve`, `receive`, and `take` with two workers;
with --cluster through two worker processes of a Dask cluster, one of which is killed when half is placed. Prints rates,
memory and the time until pages were there; what is lost, doubled or put aside ends it with exit code 1. Nothing passes
or fails by its time. DIR keeps mails from one run to the next (4 MB each); the store (some 40 MB a picture) goes at the
end. Linux.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from threading import Event, Thread
from typing import IO, Any

from moondesk.service.store.backup import check
from moondesk.service.store.storage import Storage
from tests.benchmarks.many_mails import write_mails
from tests.watching import Memory, Pages, Watcher

ROOT = Path(__file__).resolve().parents[2]
SETTINGS = """
[programme]
name = "The Moon Tonight"
zone = "Europe/Prague"
latitude = 50.1
longitude = 14.4
"""
WORKERS = 2
#: What is no page that stands ready: told apart, and asked for in one of so many turns, as a presenter does.
DRAWN, SHARE_DRAWN = "desk: labelled picture, drawn when asked for", 0.1


@dataclass(frozen=True)
class Web:
    """A web application in a process of its own."""

    process: subprocess.Popen[str]
    port: int


def moondesk(*args: str, **how: Any) -> subprocess.Popen[str]:
    """In a group of its own, which Ctrl-C does not reach, but in this session: some systems share out the processor by
    session first, and then the pages would have a share that no worker can take."""
    return subprocess.Popen(
        [sys.executable, "-m", "moondesk.service", *args], cwd=ROOT, text=True, process_group=0, **how
    )


@contextlib.contextmanager
def web(command: str, data: Path, log: IO[str]) -> Iterator[Web]:
    process = moondesk(command, "--data", str(data), "--port", "0", stdout=subprocess.PIPE, stderr=log)
    try:
        assert process.stdout
        said = process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", said)
        if found is None:
            raise RuntimeError(f"moondesk {command} said {said!r}")
        yield Web(process, int(found.group(1)))
    finally:
        process.terminate()
        process.wait(20)


@contextlib.contextmanager
def cluster() -> Iterator[Any]:
    from distributed import LocalCluster

    os.environ["PYTHONPATH"] = str(ROOT)
    with LocalCluster(
        n_workers=WORKERS,
        threads_per_worker=1,
        processes=True,
        dashboard_address=None,
        silence_logs=50,
        host="127.0.0.1",
    ) as opened:
        yield opened


def kinds(data: Path, desk: int, public: int) -> dict[str, Any]:
    """The pages that are looked at: of the desk those of pictures that are placed by then, and of any."""
    store: list[Storage] = []

    def some(rng: random.Random, placed: bool) -> int | None:
        if not store:
            store.append(Storage(data))  # of the thread that asks
        rows = store[0].read(
            "select picture_id as id from annotations where status = 'annotated'"
            if placed
            else "select id from pictures"
        )
        return rng.choice(rows)["id"] if rows else None

    def of_picture(path: str, placed: bool) -> Any:
        def where(rng: random.Random) -> tuple[int, str] | None:
            number = some(rng, placed)
            return None if number is None else (desk, path.format(number))

        return where

    labelled = of_picture("/pictures/{}/labelled.png", True)
    return {
        "desk: inbox": lambda rng: (desk, "/"),
        "desk: a later page of it": lambda rng: (desk, f"/?page={rng.randint(2, 8)}"),
        "desk: page of a picture": of_picture("/pictures/{}", True),
        "upload page": lambda rng: (public, "/"),
        "desk: page of any picture": of_picture("/pictures/{}", False),
        "desk: thumbnail": of_picture("/pictures/{}/thumbnail.jpg", True),
        "desk: picture for the screen": of_picture("/pictures/{}/screen.jpg", True),
        DRAWN: lambda rng: labelled(rng) if rng.random() < SHARE_DRAWN else None,
        "desk: how the placing stands": lambda rng: (desk, "/progress"),
    }


def kill_one_midway(opened: Any, data: Path, count: int, told: list[str], stop: Event) -> None:
    with Storage(data) as storage:
        while not stop.wait(0.5):
            (row,) = storage.read("select count(*) as n from annotations")
            if row["n"] >= count // 2:
                pid = next(iter(opened.workers.values())).pid
                os.kill(pid, signal.SIGKILL)
                told.append(f"worker {pid} killed after {row['n']} pictures")
                return


def verify(data: Path, count: int) -> tuple[list[str], str]:
    """What is wrong with the store, and how the pictures stand."""
    problems = list(check(data).problems)
    with Storage(data) as storage:

        def number(sql: str) -> int:
            return int(storage.read(f"select count(*) as n from {sql}")[0]["n"])

        for what, found, wanted in (
            ("submissions", number("submissions"), count),
            ("senders", number("(select distinct sender_address from submissions)"), count),
            ("pictures", number("pictures where refused is null"), count),
            ("different pictures", number("(select distinct sha256 from pictures)"), count),
            ("annotations", number("annotations"), count),
            ("annotated pictures", number("(select distinct picture_id from annotations)"), count),
            ("jobs left, put aside or leased", number("jobs"), 0),
            ("pictures taken for versions of another", number("pictures where version_of is not null"), 0),
            ("unreadable pictures", number("annotations where status = 'unreadable'"), 0),
        ):
            if found != wanted:
                problems.append(f"{found} {what}, not {wanted}")
        rows = storage.read("select status, sure from annotations")
        asked = number("versions where kind = 'ask'")
    told = Counter(f"{r['status']}{' and sure' if r['sure'] else ''}" for r in rows)
    return problems, ", ".join([*(f"{n} {s}" for s, n in told.most_common()), f"{asked} pairs to be asked about"])


def phases(data: Path) -> tuple[float, float, tuple[int, int]]:
    """When the last mail was stored and the last picture placed, seconds since 1970; and how many of both."""
    with Storage(data) as storage:
        (row,) = storage.read(
            "select (select max(stored_utc) from submissions) as taken, "
            "(select max(made_utc) from annotations) as placed, "
            "(select count(*) from submissions) as mails, "
            "(select count(*) from annotations) as pictures"
        )
    taken, placed = (datetime.fromisoformat(row[k]).timestamp() for k in ("taken", "placed"))
    return taken, placed, (row["mails"], row["pictures"])


def run(maildir: Path, folder: Path, count: int, seed: int, on_cluster: bool) -> int:
    data, stop = folder / "data", Event()
    told: list[str] = []
    shutil.rmtree(data, ignore_errors=True)
    data.mkdir()
    (data / "moondesk.toml").write_text(SETTINGS, encoding="utf-8")
    with contextlib.ExitStack() as stack:
        log, output = (stack.enter_context((folder / name).open("w")) for name in ("pages.log", "output.txt"))
        desk, public = (stack.enter_context(web(c, data, log)) for c in ("serve", "receive"))
        opened = stack.enter_context(cluster()) if on_cluster else None
        load, begun, begun_clock = os.getloadavg()[0], time.time(), time.monotonic()
        how = ["--cluster", opened.scheduler_address] if opened else ["--workers", str(WORKERS)]
        taking = moondesk("take", str(maildir), "--data", str(data), *how, stdout=output, stderr=output)

        def roots() -> dict[str, int]:
            known = {"take": taking.pid, "desk": desk.process.pid, "upload page": public.process.pid}
            workers = opened.workers.items() if opened else ()  # a killed one comes back with another pid
            return known | {f"cluster worker {name}": w.pid for name, w in workers if w.pid}

        if opened:
            killer = Thread(target=kill_one_midway, args=(opened, data, count, told, stop))
            killer.start()
        pages = Pages(kinds(data, desk.port, public.port), seed)
        with Watcher(Memory(roots), pages) as watcher:
            try:
                code = taking.wait()
            except KeyboardInterrupt:  # told as far as it came
                taking.send_signal(signal.SIGINT)
                code = taking.wait()
        stop.set()
        if opened:
            killer.join()
            if not told:
                told.append("no worker was killed")
    taken, placed, numbers = phases(data)
    problems, statuses = verify(data, count)
    tell(watcher, begun_clock, taken - begun, placed - begun, numbers, load)
    for line in (*told, f"exit code {code}: {statuses}", *pages.failures[:20], *problems):
        print(line)
    print("nothing lost, doubled or put aside; store and originals sound" if not problems else "NOT AS IT SHOULD BE")
    return int(bool(problems or pages.failures or code or (opened and "killed after" not in told[0])))


def tell(watcher: Watcher, begun: float, taken: float, placed: float, numbers: tuple[int, int], load: float) -> None:
    mails, pictures = numbers
    print(
        f"\n{datetime.now(UTC):%Y-%m-%d %H:%M} UTC, {os.cpu_count()} cores, load {load:.1f} before, "
        f"{max(watcher.loads):.1f} at most\n"
    )
    print(
        f"{mails} mails taken in {taken:.0f} s, {mails / taken:.1f} a second; {pictures} pictures placed in "
        f"{placed - taken:.0f} s, {pictures / (placed - taken):.2f} a second; in all {placed:.0f} s\n"
    )
    used = watcher.memory.processor()
    print(
        f"processor, s: {', '.join(f'{name} {s:.0f}' for name, s in used.items() if s >= 1)}; "
        f"in all {sum(used.values()) / pictures:.2f} a picture\n"
    )
    print("| memory, MB | first quarter | last quarter | most |\n| --- | --- | --- | --- |")
    for name, *mb in watcher.memory.rows():
        print(f"| {name} | {' | '.join(f'{m:.0f}' for m in mb)} |")
    for what, since, until in (("taking", begun, begun + taken), ("placing", begun + taken, begun + placed)):
        print(f"\n| pages during the {what}, ms | asked | median | 95 % | most |\n| --- | --- | --- | --- | --- |")
        for name, asked, *ms in watcher.pages.rows(since, until, apart=(DRAWN,)):
            print(f"| {name} | {asked} | {' | '.join(f'{m:.0f}' for m in ms)} |")
    print()


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.intake", description=__doc__.splitlines()[0])
    parser.add_argument("--mails", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cluster", action="store_true", help="through a Dask cluster, one worker killed midway")
    parser.add_argument("--folder", type=Path, help="keeps the mails from run to run; the store lies there meanwhile")
    args = parser.parse_args()
    folder = args.folder or Path(tempfile.mkdtemp(prefix="moondesk-bench-"))
    try:
        maildir = folder / f"mails-{args.mails}-{args.seed}"
        if not maildir.is_dir():
            begun = time.monotonic()
            shutil.rmtree(maildir.with_suffix(".part"), ignore_errors=True)
            write_mails(maildir.with_suffix(".part"), args.mails, args.seed)
            maildir.with_suffix(".part").rename(maildir)
            print(f"{args.mails} mails made in {time.monotonic() - begun:.0f} s", flush=True)
        code = run(maildir, folder, args.mails, args.seed, args.cluster)
    finally:
        shutil.rmtree(folder if args.folder is None else folder / "data", ignore_errors=True)
    sys.exit(code)


if __name__ == "__main__":
    main()
