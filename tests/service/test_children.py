"""Child processes: what one of them does costs its own call and nothing else."""

from __future__ import annotations

import contextlib
import logging
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from moondesk.service.errors import BadInputError
from moondesk.service.jobs import child_keeper, child_pool
from moondesk.service.jobs.child_pool import (
    STEP_BACK,
    CallFailedError,
    ChildDiedError,
    ChildLateError,
    ChildPool,
    start_server,
)

ROOT = Path(__file__).resolve().parents[2]
#: What the functions of this file need.
LOADED = ("test_children",)


@pytest.fixture
def pool():
    with ChildPool(2, 30, LOADED, memory_bytes=1_000_000_000) as opened:
        yield opened


def child_id() -> int:
    return os.getpid()


def sleep_then(seconds: float, value: int) -> int:
    time.sleep(seconds)
    return value


def allocate(count: int) -> int:
    return len(bytearray(count))


class OddError(Exception):
    """Of a library."""


def fail(error: BaseException) -> None:
    raise error


def sized_limits() -> tuple[int, int]:
    import resource

    return resource.getrlimit(resource.RLIMIT_AS)[0], resource.getrlimit(resource.RLIMIT_CORE)[0]


def test_each_call_runs_in_a_process_of_its_own(pool):
    ids = [pool.submit(child_id).result() for _ in range(6)]
    assert os.getpid() not in ids
    assert len(set(ids)) == 6


def remembered() -> int:
    OddError.seen = getattr(OddError, "seen", 0) + 1
    return OddError.seen


def test_a_call_sees_nothing_of_those_before_it(pool):
    assert [pool.submit(remembered).result() for _ in range(3)] == [1, 1, 1]


kept: list[str] = []


def keep(word: str) -> None:
    kept.append(word)


def words_kept() -> tuple[str, ...]:
    return tuple(kept)


def test_what_is_made_ready_once_later_calls_find(pool):
    assert pool.run(words_kept) == ()
    pool.make_ready(keep, "moon")
    pool.make_ready(keep, "moon")
    until = time.monotonic() + 30
    while pool.run(words_kept) != ("moon",) and time.monotonic() < until:
        time.sleep(0.05)
    assert pool.run(words_kept) == ("moon",)
    assert kept == []


def test_an_exception_comes_back_by_its_name_and_words(pool):
    with pytest.raises(KeyError, match="planted"):
        pool.submit(fail, KeyError("planted")).result()
    with pytest.raises(BadInputError, match="No") as told:
        pool.submit(fail, BadInputError("No.", "Do this.")).result()
    assert told.value.advice == "Do this."
    with pytest.raises(CallFailedError, match="OddError: of a  library"):
        pool.submit(fail, OddError("of a\x1b library")).result()
    assert pool.submit(sleep_then, 0, 7).result() == 7


def warns(count: int) -> int:
    for k in range(count):
        logging.getLogger("library").warning("odd \x1b[2J %d", k)
    return count


def test_what_a_child_logs_is_told_here_and_moves_no_cursor(pool, caplog):
    assert pool.submit(warns, 100).result() == 100
    assert "odd  [2J 0" in caplog.text
    assert "\x1b" not in caplog.text
    assert len(caplog.records) <= 20


def undeclared():
    return 1


def test_a_function_that_does_not_say_what_it_returns_is_a_wrong_call(pool):
    with pytest.raises(TypeError, match="declare"):
        pool.submit(undeclared).result()


def read_and_measured(run, path: Path) -> int:
    return run(measured, path.read_bytes()) + 1


def measured(data: bytes) -> int:
    return len(data)


def test_a_file_is_read_here_and_worked_on_there(pool, tmp_path):
    (tmp_path / "a").write_bytes(bytes(10_000_000))
    assert pool.attend(read_and_measured, tmp_path / "a").result() == 10_000_001


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSEGV])
def test_a_dead_child_costs_only_its_own_call(pool, number):
    before = pool.submit(sleep_then, 0.3, 1)
    dies = pool.submit(_die, number)
    after = [pool.submit(sleep_then, 0, k) for k in range(4)]
    with pytest.raises(ChildDiedError):
        dies.result()
    assert before.result() == 1
    assert [f.result() for f in after] == [0, 1, 2, 3]


def _die(number: int) -> None:
    os.kill(os.getpid(), number)
    time.sleep(30)


def test_a_late_call_is_ended_and_its_place_is_free_again():
    with ChildPool(1, 0.5, LOADED) as pool:
        slow, next_one = pool.submit(sleep_then, 60, 1), pool.submit(sleep_then, 0, 2)
        with pytest.raises(ChildLateError, match=r"0\.5 s"):
            slow.result()
        assert next_one.result() == 2


def test_systems_that_cannot_fork_so_start_each_child_afresh(monkeypatch, caplog):
    monkeypatch.setattr(child_pool, "can_keep", lambda: False)
    child_keeper._tell_missing.cache_clear()
    start_server(["moondesk.service.jobs.plain_values"])
    with ChildPool(1, 30, ["moondesk.service.jobs.plain_values"]) as pool:
        first = pool.submit(child_id).result()
        with pytest.raises(ChildDiedError):
            pool.submit(_die, signal.SIGTERM).result()
        assert first != pool.submit(child_id).result() != os.getpid()
        with pytest.raises(ChildLateError):
            ChildPool(1, 0.5).submit(sleep_then, 60, 1).result()
    assert "gaps on this system" in caplog.text


def test_a_keeper_that_was_ended_is_followed_by_another(pool):
    pool.submit(child_id).result()
    running = child_keeper.keeper_for(LOADED, "best")
    running._control.shutdown(2)
    running._thread.join(10)
    assert running.gone
    assert pool.submit(sleep_then, 0, 7).result() == 7


def test_what_the_keeper_loads_can_be_loaded(caplog):
    import moondesk.service.jobs.preload

    moondesk.service.jobs.preload.load()
    assert caplog.text == ""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems know other limits")
def test_memory_is_limited_and_no_core_is_left(pool):
    assert pool.submit(sized_limits).result() == (1_000_000_000, 0)
    with pytest.raises(MemoryError):
        pool.submit(allocate, 2_000_000_000).result()
    assert pool.submit(allocate, 1000).result() == 1000


def test_shutdown_with_cancel_does_not_wait_for_what_runs():
    pool = ChildPool(1, 60, LOADED)
    pool.submit(child_id).result()
    running, waiting = pool.submit(sleep_then, 60, 1), pool.submit(sleep_then, 60, 2)
    while not running.running():
        time.sleep(0.01)
    pool.submit(child_id)
    began = time.monotonic()
    pool.shutdown(cancel_futures=True)
    assert time.monotonic() - began < 30
    assert waiting.cancelled()
    with pytest.raises(ChildDiedError):
        running.result()


@pytest.mark.skipif(sys.platform != "linux", reason="looks for the children in /proc")
@pytest.mark.parametrize("walls", ["bubblewrap", "own", "none"])
def test_children_end_with_a_parent_that_was_killed(walls, bubblewrap):
    """While one computes, and whatever lies between it and the parent."""
    script = (
        "import sys\nfrom moondesk.service.jobs.child_pool import ChildPool\nfrom test_children import spin\n"
        f"ChildPool(1, 60, walls={walls!r}).submit(spin, sys.argv[1]).result()\n"
    )
    mark = f"spin-{os.getpid()}-{walls}"
    path = os.pathsep.join([str(ROOT), str(Path(__file__).parent)])
    parent = subprocess.Popen([sys.executable, "-c", script, mark], cwd=ROOT, env={**os.environ, "PYTHONPATH": path})
    until = time.monotonic() + 60
    while not (spinning := running_for(parent.pid)) and time.monotonic() < until:
        time.sleep(0.05)
    assert spinning, "the call has begun"
    parent.kill()
    parent.wait()
    until = time.monotonic() + 10
    while any(Path("/proc", str(pid)).is_dir() for pid in spinning) and time.monotonic() < until:
        time.sleep(0.02)
    assert not [pid for pid in spinning if Path("/proc", str(pid)).is_dir()]


def spin(mark: str) -> None:
    while True:
        sum(range(1000))


def running_for(pid: int) -> set[int]:
    """All that descend from a process, once one of them has computed for a moment."""
    table = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            told = stat.read_text().rpartition(")")[2].split()
            table[int(stat.parent.name)] = int(told[1]), told[0]
    below: set[int] = set()
    while fresh := {
        p
        for p, (parent, state) in table.items()
        if p not in below and (parent == pid or parent in below) and state != "Z"
    }:
        below |= fresh
    last = {p for p in below if not any(parent == p for parent, _ in table.values())}
    return below if any(table[p][1] == "R" for p in last) and len(below) >= 2 else set()


def _niceness() -> int:
    return os.getpriority(os.PRIO_PROCESS, 0)


@pytest.mark.skipif(not hasattr(os, "nice"), reason="this system has no such measure")
def test_work_that_can_wait_steps_back_behind_what_is_waited_for():
    here = _niceness()
    with ChildPool(1, 30, LOADED) as patient, ChildPool(1, 30, LOADED, patient=False) as prompt:
        assert patient.submit(_niceness).result() == min(here + STEP_BACK, 19)
        assert prompt.submit(_niceness).result() == here
