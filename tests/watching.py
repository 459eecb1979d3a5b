"""Watching programs at work from outside: the memory of their processes, and how soon their pages are there. Linux."""

from __future__ import annotations

import contextlib
import http.client
import os
import random
import time
from collections import defaultdict
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, Thread

import numpy as np

MEMORY_SECONDS, PAGE_SECONDS = 2.0, 0.25
#: A process that lived shorter than this many samples says nothing about growth.
SAMPLES_FOR_GROWTH = 8


@dataclass(frozen=True)
class Process:
    pid: int
    parent: int
    command: str
    rss_mb: float
    pss_mb: float
    cpu_seconds: float


def processes() -> dict[int, Process]:
    """All processes that can be looked at. pss_mb: shared pages divided among those who share them."""
    found = {}
    for folder in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError, IndexError, ValueError, StopIteration):
            stat = (folder / "stat").read_text().rpartition(")")[2].split()
            lines = (folder / "smaps_rollup").read_text().splitlines()
            rss, pss = (
                next(int(line.split()[1]) for line in lines if line.startswith(key)) / 1024 for key in ("Rss:", "Pss:")
            )
            command = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
            cpu = (int(stat[11]) + int(stat[12])) / os.sysconf("SC_CLK_TCK")
            found[int(folder.name)] = Process(int(folder.name), int(stat[1]), command, rss, pss, cpu)
    return found


def below(root: int, table: dict[int, Process]) -> dict[int, int]:
    """Pids of a process and all that descend from it, with how many steps below it they stand."""
    steps = {root: 0}
    while fresh := {p.pid: steps[p.parent] + 1 for p in table.values() if p.parent in steps and p.pid not in steps}:
        steps |= fresh
    return steps


@dataclass
class Memory:
    """Samples of (seconds, MB) of each process by what it is called. roots: pids by name, as they are at that time."""

    roots: Callable[[], dict[str, int]]
    rss: dict[tuple[str, int], list[tuple[float, float]]] = field(default_factory=lambda: defaultdict(list))
    total: list[tuple[float, float]] = field(default_factory=list)
    #: Seconds of processor time of each process, as last seen.
    cpu: dict[tuple[str, int], float] = field(default_factory=dict)

    def sample(self) -> None:
        table, now, total = processes(), time.monotonic(), 0.0
        for name, root in self.roots().items():
            for pid in below(root, table):
                if pid not in table:
                    continue
                if table[pid].command.split(" ")[0].endswith("bwrap"):
                    continue
                mine, parents = (
                    "moondesk.service.jobs.child_program" in table[p].command if p in table else False
                    for p in (pid, table[pid].parent)
                )
                what = "child" if mine and parents else "keeper of children" if mine else name
                named = f"{name}: {what}" if what != name else name, pid
                self.rss[named].append((now, table[pid].rss_mb))
                self.cpu[named] = table[pid].cpu_seconds
                total += table[pid].pss_mb
        self.total.append((now, total))

    def processor(self) -> dict[str, float]:
        """Seconds of processor time by name, of all its processes together."""
        names = dict.fromkeys(n for n, _ in self.cpu)
        return {name: sum(s for (n, _), s in self.cpu.items() if n == name) for name in names}

    def rows(self) -> list[tuple[str, float, float, float]]:
        """What, its medians over the first and the last quarter of the time it lived, and the most, MB; the largest
        process of each name that lived long enough."""
        rows = []
        for name in dict.fromkeys(n for n, _ in self.rss):
            lives = [s for (n, _), s in self.rss.items() if n == name and len(s) >= SAMPLES_FOR_GROWTH]
            rows += [(name, *quarters(max(lives, key=lambda s: max(mb for _, mb in s))))] if lives else []
        return [*rows, ("all together, shared pages once", *quarters(self.total))]


def quarters(samples: list[tuple[float, float]]) -> tuple[float, float, float]:
    mb = np.array([m for _, m in samples])
    n = max(1, len(mb) // 4)
    return float(np.median(mb[:n])), float(np.median(mb[-n:])), float(mb.max())


@dataclass
class Pages:
    """Asks for pages by turns, each on a line that is kept open, as a browser's is. kinds: name to (port, path now)."""

    kinds: dict[str, Callable[[random.Random], tuple[int, str] | None]]
    seed: int = 0
    #: name to seconds (monotonic) and milliseconds until the last byte was there.
    taken: dict[str, list[tuple[float, float]]] = field(default_factory=lambda: defaultdict(list))
    failures: list[str] = field(default_factory=list)
    _lines: dict[int, http.client.HTTPConnection] = field(default_factory=dict)

    def run(self, stop: Event) -> None:
        rng, turn = random.Random(self.seed), 0
        names = list(self.kinds)
        while not stop.wait(PAGE_SECONDS):
            name = names[turn % len(names)]
            turn += 1
            where = self.kinds[name](rng)
            if where is not None:
                self._ask(name, *where)

    def _ask(self, name: str, port: int, path: str) -> None:
        line = self._lines.get(port) or http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self._lines[port] = line
        begun = time.monotonic()
        try:
            line.request("GET", path)
            answer = line.getresponse()
            answer.read()
        except (OSError, http.client.HTTPException) as error:
            line.close()
            self._lines.pop(port)
            self.failures.append(f"{path}: {type(error).__name__}: {error}")
            return
        if answer.status != 200:
            self.failures.append(f"{path}: {answer.status}")
            return
        self.taken[name].append((begun, 1000 * (time.monotonic() - begun)))

    def rows(
        self, since: float = 0.0, until: float = float("inf"), apart: Collection[str] = ()
    ) -> list[tuple[str, int, float, float, float]]:
        """Name, number, median, 95th percentile and most, ms, of those asked for in a time. apart: not in the sum."""
        rows, all_ms = [], []
        for name, taken in self.taken.items():
            ms = [m for t, m in taken if since <= t < until]
            all_ms += ms if name not in apart else []
            if ms:
                rows.append((name, len(ms), *(float(v) for v in np.percentile(ms, [50, 95, 100]))))
        if all_ms:
            rows.append(("all", len(all_ms), *(float(v) for v in np.percentile(all_ms, [50, 95, 100]))))
        return rows


class Watcher:
    """Samples memory and pages in threads until it is left; the load average beside them."""

    def __init__(self, memory: Memory, pages: Pages) -> None:
        self.memory, self.pages, self.loads = memory, pages, [os.getloadavg()[0]]
        self._stop = Event()
        self._threads = [Thread(target=self._sample), Thread(target=pages.run, args=(self._stop,))]

    def __enter__(self) -> Watcher:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        for thread in self._threads:
            thread.join()

    def _sample(self) -> None:
        while not self._stop.wait(MEMORY_SECONDS):
            self.memory.sample()
            self.loads.append(os.getloadavg()[0])
