"""Child processes: what one of them does costs its own call and nothing else."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from service.work.children import STEP_BACK, ChildDiedError, ChildLateError, ChildPool, start_server

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def pool():
    with ChildPool(2, 30, memory_bytes=1_000_000_000) as opened:
        yield opened


def child_id() -> int:
    return os.getpid()


def sleep_then(seconds: float, value: int) -> int:
    time.sleep(seconds)
    return value


def allocate(count: int) -> int:
    return len(bytearray(count))


def fail(error: BaseException) -> None:
    raise error


def sized_limits() -> tuple[int, int]:
    import resource

    return resource.getrlimit(resource.RLIMIT_AS)[0], resource.getrlimit(resource.RLIMIT_CORE)[0]


def test_calls_run_elsewhere_and_children_are_used_again(pool):
    ids = {pool.submit(child_id).result() for _ in range(6)}
    assert os.getpid() not in ids
    assert len(ids) <= 2


def test_an_exception_comes_back_as_itself(pool):
    with pytest.raises(KeyError, match="planted"):
        pool.submit(fail, KeyError("planted")).result()
    assert pool.submit(sleep_then, 0, 7).result() == 7


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
    with ChildPool(1, 0.5) as pool:
        slow, next_one = pool.submit(sleep_then, 60, 1), pool.submit(sleep_then, 0, 2)
        with pytest.raises(ChildLateError, match=r"0\.5 s"):
            slow.result()
        assert next_one.result() == 2


def test_systems_that_cannot_fork_from_a_server_start_each_child_afresh(monkeypatch):
    monkeypatch.setattr(multiprocessing, "get_all_start_methods", lambda: ["spawn"])
    start_server(["service.work.warm"])
    with ChildPool(1, 30, ["service.work.warm"]) as pool:
        first = pool.submit(child_id).result()
        with pytest.raises(ChildDiedError):
            pool.submit(_die, signal.SIGTERM).result()
        assert first != pool.submit(child_id).result() != os.getpid()


def test_what_the_server_loads_can_be_loaded(caplog):
    import service.work.warm

    service.work.warm.load()
    gc.unfreeze()
    assert caplog.text == ""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems know other limits")
def test_memory_is_limited_and_no_core_is_left(pool):
    assert pool.submit(sized_limits).result() == (1_000_000_000, 0)
    with pytest.raises(MemoryError):
        pool.submit(allocate, 2_000_000_000).result()
    assert pool.submit(allocate, 1000).result() == 1000


def test_shutdown_with_cancel_does_not_wait_for_what_runs():
    pool = ChildPool(1, 60)
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


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks for the child in /proc")
def test_children_end_with_a_parent_that_was_killed():
    script = ("import os, sys, time\nfrom service.work.children import ChildPool\n"
              "if __name__ == '__main__':\n"
              "    pool = ChildPool(1, 60)\n    print(pool.submit(os.getpid).result(), flush=True)\n"
              "    time.sleep(60)\n")
    parent = subprocess.Popen([sys.executable, "-c", script], cwd=ROOT, stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    child = Path("/proc", parent.stdout.readline().strip())
    assert child.is_dir()
    parent.kill()
    parent.wait()
    parent.stdout.close()
    for _ in range(1000):
        if not child.is_dir() or "Z" in child.joinpath("stat").read_text().rsplit(")")[-1].split()[0]:
            return
        time.sleep(0.01)
    raise AssertionError("the child outlived its parent by 10 s")


def _reach(port: int) -> str:
    import socket

    try:
        socket.create_connection(("127.0.0.1", port), timeout=2).close()
    except OSError as error:
        return type(error).__name__
    return "reached"


def test_a_child_has_no_network(pool):
    import socket

    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        assert _reach(port) == "reached"
        if (answer := pool.submit(_reach, port).result()) == "reached":
            pytest.skip("this system lets no process give up its network")
        assert answer == "OSError"  # the network is unreachable


def _write(path: str, count: int) -> int:
    with open(path, "wb") as file:
        return file.write(bytes(count))


def test_a_child_writes_no_longer_file_than_it_may(tmp_path):
    with ChildPool(1, 30, file_bytes=1_000) as pool:
        assert pool.submit(_write, str(tmp_path / "a"), 900).result() == 900
        with pytest.raises(OSError, match="File too large"):
            pool.submit(_write, str(tmp_path / "b"), 9_000).result()


def _change(path: str, start: bool = False) -> str:
    try:
        if start:
            subprocess.run([sys.executable, "-c", "pass"], check=True)
        elif os.path.exists(path):
            os.unlink(path)
        else:
            with open(path, "w") as file:
                file.write("x")
    except OSError as error:
        return type(error).__name__
    return "done"


def test_a_child_changes_files_only_where_it_may_and_starts_no_program(tmp_path):
    mine, other = tmp_path / "mine", tmp_path / "other"
    for folder in (mine, other):
        folder.mkdir()
    (other / "a").write_text("theirs")
    with ChildPool(1, 30, may_write=[mine]) as pool:
        assert pool.submit(_change, str(mine / "b")).result() == "done"
        assert pool.submit(_change, str(mine / "b")).result() == "done"  # removed again
        if pool.submit(_change, str(other / "b")).result() == "done":
            pytest.skip("this system has no Landlock")
        assert pool.submit(_change, str(other / "a")).result() == "PermissionError"
        assert pool.submit(_change, "", True).result() == "PermissionError"
    assert (other / "a").read_text() == "theirs"


def _secrets() -> list[str]:
    return [name for name in os.environ if "PASSWORD" in name]


def test_a_child_has_no_password_in_its_environment(pool, monkeypatch):
    monkeypatch.setenv("MOONDESK_MAIL_PASSWORD", "secret")
    assert _secrets() == ["MOONDESK_MAIL_PASSWORD"]
    assert pool.submit(_secrets).result() == []


def _niceness() -> int:
    return os.getpriority(os.PRIO_PROCESS, 0)


@pytest.mark.skipif(not hasattr(os, "nice"), reason="this system has no such measure")
def test_work_that_can_wait_steps_back_behind_what_is_waited_for():
    here = _niceness()
    with ChildPool(1, 30) as patient, ChildPool(1, 30, patient=False) as prompt:
        assert patient.submit(_niceness).result() == min(here + STEP_BACK, 19)
        assert prompt.submit(_niceness).result() == here
