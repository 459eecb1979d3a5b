"""How fast the tool is, in multiples of Pillow's full decode of the same 12-megapixel JPEG. Run by hand:

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m pytest tests/benchmarks/speed.py

Nothing here passes or fails by its time; the table at the end is the result. Processor time where one core is asked
for (least of the rounds: other programs only ever add), wall time for the start and for two workers against one,
which mean something on a quiet machine only: the load at the time stands beside them. Linux (see `run_command`).
"""

from __future__ import annotations

import contextlib
import ctypes
import io
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from threading import Event, Thread

import cv2
import pytest
from PIL import Image

from moondesk import annotate_picture
from moondesk.records import Known, Place
from tests.scenes import FAMILIES, render, spec_of
from tests.scenes.spec import FileTags, Film, Optics, SceneSpec

ROOT = Path(__file__).resolve().parents[2]
RECEIVED = datetime(2026, 10, 18, 20, 0, tzinfo=UTC)
PR_SET_CHILD_SUBREAPER = 36  # linux/prctl.h
BATCH_12_MP, BATCH_SMALL = 20, 200

#: A whole half Moon of about half the frame's height; with the noise of a small sensor, which makes the file nine times
#: as large and its decode slower; the same without any EXIF.
PLAIN = SceneSpec(
    datetime(2026, 10, 18, 17, 40, tzinfo=UTC),
    Place(50.1, 14.4),
    x=2080.0,
    y=1460.0,
    radius_px=750.0,
    north_screen_deg=35.0,
    width=4000,
    height=3000,
    seed=11,
    optics=Optics(blur_px=2.5),
    film=Film(shot=0.0, read=0.0),
    tags=FileTags(zone_hours=2.0),
    received_utc=RECEIVED,
)
NOISY = replace(PLAIN, film=Film(shot=0.02, read=0.002, grain_px=0.9, sharpen=0.6), seed=12)
SPECS = {
    "time known": PLAIN,
    "time known, noise": NOISY,
    "no EXIF, noise": replace(NOISY, tags=FileTags(time=False, offset=False, place=False, make=None, model=None)),
}


@dataclass(frozen=True)
class Used:
    """What a command with all its processes took. seconds: by the clock; peak_mb: of the largest process."""

    seconds: float
    cpu_seconds: float
    peak_mb: float


@dataclass(frozen=True)
class Summary:
    """Shows its rows when all is done."""

    rows: list[tuple[str, str]]

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        for what, value in self.rows:
            terminalreporter.write_line(f"| {what} | {value} |")
        terminalreporter.write_line(
            f"load average {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores, Python {sys.version.split()[0]}"
        )


@pytest.fixture(scope="session")
def pictures(tmp_path_factory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pictures")
    return {name: _written(folder / f"{k}.jpg", spec) for k, (name, spec) in enumerate(SPECS.items())}


@pytest.fixture(scope="session")
def table(request) -> list[tuple[str, str]]:
    """Rows of what was measured and its value; shown when all is done."""
    cv2.setNumThreads(1)
    summary = Summary([])
    request.config.pluginmanager.register(summary)
    return summary.rows


@pytest.mark.parametrize("name", SPECS)
@pytest.mark.benchmark(group="bytes to labels", timer=time.process_time)
def test_bytes_to_labels(benchmark, table, pictures, name) -> None:
    data, known = pictures[name].read_bytes(), Known(received_utc=RECEIVED)
    decode = _decode_seconds(data)
    found = benchmark.pedantic(annotate_picture, (data, known), rounds=7, warmup_rounds=2)
    ratio = benchmark.stats.stats.min / decode
    benchmark.extra_info["times the decode"] = ratio
    table.append((f"bytes to labels, {name}: times the decode of {decode * 1000:.0f} ms", f"{ratio:.1f}"))
    assert found.status == "annotated"


@pytest.mark.parametrize("name", SPECS)
@pytest.mark.benchmark(group="moondesk place, one worker")
def test_command_over_a_batch(benchmark, table, pictures, tmp_path, name) -> None:
    data = pictures[name].read_bytes()
    files = _copies(data, tmp_path, BATCH_12_MP)
    decode = _decode_seconds(data)
    used = benchmark.pedantic(_place, (files, tmp_path, 1), rounds=1)
    ratio = used.cpu_seconds / len(files) / decode
    benchmark.extra_info["times the decode"] = ratio
    table.append((f"the command over {len(files)} pictures, {name}: times the decode, each", f"{ratio:.1f}"))
    table.append((f"its largest process, {name}: MB", f"{used.peak_mb:.0f}"))
    assert len((tmp_path / "out.jsonl").read_text().splitlines()) == len(files)


@pytest.mark.parametrize("args", [("--version",), ("--help",), ("place",)], ids=lambda args: args[0])
@pytest.mark.benchmark(group="start of the command")
def test_start(benchmark, table, tmp_path, args) -> None:
    if args == ("place",):
        small = replace(spec_of("tiny", 3), received_utc=None)
        args = ("place", str(_written(tmp_path / "tiny.jpg", small)))
    runs: list[Used] = []
    benchmark.pedantic(lambda: runs.append(run_command(*args)), rounds=5, warmup_rounds=1)
    table.append(
        (
            f"start: {args[0]}{' of one tiny picture' if len(args) > 1 else ''}, s",
            f"{min(r.seconds for r in runs):.2f} (processors {min(r.cpu_seconds for r in runs):.2f}, load "
            f"{os.getloadavg()[0]:.1f})",
        )
    )


@pytest.mark.benchmark(group="memory")
def test_memory_over_every_family(benchmark, table, tmp_path) -> None:
    shared = Path(os.environ.get("MOONDESK_SHARED", ROOT.parent / "shared")) / "scenes"
    files = sorted(shared.glob("*.jpg")) or [_written(tmp_path / f"{f}.jpg", spec_of(f, 4)) for f in FAMILIES]
    used = benchmark.pedantic(_place, (files, tmp_path, 1), rounds=1)
    benchmark.extra_info["MB"] = used.peak_mb
    table.append((f"largest process over {len(files)} scenes of every family: MB", f"{used.peak_mb:.0f}"))


@pytest.mark.benchmark(group="two workers")
def test_two_workers_against_one(benchmark, table, tmp_path) -> None:
    scene = render(spec_of("clean", 5)).data
    files = _copies(scene, tmp_path, BATCH_SMALL)
    load = os.getloadavg()[0]
    one = _place(files, tmp_path, 1)
    two = benchmark.pedantic(_place, (files, tmp_path, 2), rounds=1)
    gain = one.seconds / two.seconds
    benchmark.extra_info["gain"] = gain
    table.append(
        (
            f"{len(files)} pictures by 2 workers: times as fast as by 1",
            f"{gain:.2f} ({one.seconds:.0f} s, {two.seconds:.0f} s; load before it {load:.1f})",
        )
    )


def run_command(*args: str) -> Used:
    """Run the command to its end, and to that of every process that it left behind, whose use is counted too."""
    ctypes.CDLL(None).prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)  # orphans become ours, so that we can wait for them
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "moondesk.service", *args],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    peaks, done = [0.0], Event()
    watcher = Thread(target=_watch, args=(process.pid, peaks, done))
    watcher.start()
    seconds, cpu = 0.0, 0.0
    while True:
        try:
            pid, status, use = os.wait4(-1, 0)
        except ChildProcessError:
            break
        if pid == process.pid:
            seconds, process.returncode = time.perf_counter() - begun, os.waitstatus_to_exitcode(status)
        cpu += use.ru_utime + use.ru_stime
    done.set()
    watcher.join()
    if process.returncode not in (0, 1):
        raise RuntimeError(f"moondesk {args[0]} ended with {process.returncode}")
    return Used(seconds, cpu, max(peaks))


def _watch(session: int, peaks: list[float], done: Event) -> None:
    """Note the peak memory (MB) of a session's processes as the system keeps it for each, until they are done.

    Not ru_maxrss: a process started from here has this one's peak in it from before it became another program.
    """
    while not done.wait(0.1):
        for stat in Path("/proc").glob("[0-9]*/stat"):
            with contextlib.suppress(OSError, IndexError, ValueError):
                if int(stat.read_text().rpartition(")")[2].split()[3]) == session:
                    kept = (stat.parent / "status").read_text().split("VmHWM:")[1].split()[0]
                    peaks.append(int(kept) / 1024)


def _place(files: list[Path], folder: Path, workers: int) -> Used:
    known = folder / "known.csv"
    known.write_text("file,received_utc\n" + "".join(f"{f.name},{RECEIVED.isoformat()}\n" for f in files))
    return run_command(
        "place",
        "--workers",
        str(workers),
        "--known",
        str(known),
        "--jsonl",
        str(folder / "out.jsonl"),
        *map(str, files),
    )


def _decode_seconds(data: bytes, rounds: int = 9) -> float:
    return _least(lambda: Image.open(io.BytesIO(data)).load(), rounds)


def _least(call: Callable[[], object], rounds: int) -> float:
    """Least processor time of some rounds."""
    least = float("inf")
    for _ in range(rounds):
        begun = time.process_time()
        call()
        least = min(least, time.process_time() - begun)
    return least


def _written(path: Path, spec: SceneSpec) -> Path:
    path.write_bytes(render(spec).data)
    return path


def _copies(data: bytes, folder: Path, count: int) -> list[Path]:
    """Files of the same content; each is read, decoded and placed for itself."""
    files = [folder / f"copy{k:03d}.jpg" for k in range(count)]
    files[0].write_bytes(data)
    for file in files[1:]:
        os.link(files[0], file)
    return files
