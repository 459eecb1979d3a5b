"""The program that runs calls for another one: started once, it loads what they need, then forks a process for each.

    parent --command, a socket--> keeper --fork--> job: walls, one call by its own socket, its answer, its end

The keeper opens nothing that strangers sent. A job has one call and sees no other; it ends after it. What it logs goes
along with its answer: it has no terminal. Where a system cannot fork so, the program is the job itself (`afresh`).
Nothing but the standard library is imported here before the walls of the keeper stand.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import importlib
import json
import logging
import os
import pickle
import select
import signal
import socket
import sys
from collections.abc import Callable
from typing import Any

from moondesk.service.jobs import sandbox
from moondesk.service.jobs.sandbox.root import end_with_parent, give_up_rights, move_into
from moondesk.service.jobs.wire import BEGUN, DONE, RAISED, Connection

#: Longest command; longest request: a picture's bytes and what is known of it.
COMMAND_BYTES, REQUEST_BYTES = 4096, 1 << 40
#: What a job may log: records, and characters of each.
MOST_LOGGED, LOGGED_CHARACTERS = 20, 4000
#: Beyond what a call may take, for the parent to end it; this is for a parent that cannot.
GRACE_SECONDS = 10
_CONTROL = 0


def main(told: dict[str, Any]) -> None:
    """told: kind of the walls, preload, readable; for a job afresh its limits too."""
    with contextlib.suppress(ValueError, OSError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches a whole group; the parent ends its children
    if told["kind"] == "afresh":
        _afresh(told)
        return
    missing: tuple[str, ...] = ()
    if told["kind"] == "own":
        missing = move_into(told["readable"])
    elif told["kind"] == "none":
        missing = ("namespaces",)
        end_with_parent()
    give_up_rights()
    _load(told["preload"])
    with socket.socket(fileno=_CONTROL) as control:
        control.send(json.dumps({"missing": [*missing, *_missing_in_job(told["readable"])]}).encode())
        _keep(control, told["readable"])


def _load(modules: list[str]) -> None:
    for name in modules:
        try:
            importlib.import_module(name)
        except Exception:  # each job meets the fault itself, and tells it with its call
            logging.getLogger(__name__).exception("%s cannot be loaded", name)
    # What was loaded stays as it is: no collection need look through it again, nor copy its pages into each job.
    gc.collect()
    gc.freeze()
    with contextlib.suppress(OSError, AttributeError):  # glibc's: a job that takes fresh memory copies none of this
        ctypes.CDLL(None).malloc_trim(0)


def _missing_in_job(readable: list[str]) -> list[str]:
    """Walls of a job that this system does not have, found out by one that does nothing else."""
    names = ("landlock", "seccomp")
    pid = os.fork()
    if pid == 0:
        status = 255
        with contextlib.suppress(BaseException):
            missing = sandbox.around_job(readable, 1 << 40)
            status = sum(1 << k for k, name in enumerate(names) if name in missing)
        os._exit(status)
    _, status = os.waitpid(pid, 0)
    code = os.waitstatus_to_exitcode(status)
    return [name for k, name in enumerate(names) if code < 0 or code >> k & 1]


def _keep(control: socket.socket, readable: list[str]) -> None:
    """Fork and end jobs as told, until the parent is gone: with the first process of this world end all others."""
    jobs: dict[int, int] = {}
    wanted: list[list[str]] = []
    while True:
        if not select.select([control], [], [], 0.0 if wanted else 1.0)[0]:
            _reap(jobs)
            if wanted:
                _make_ready(*wanted.pop(0))
            continue
        data, sockets, _, _ = socket.recv_fds(control, COMMAND_BYTES, 1)
        if not data:
            os._exit(0)
        _reap(jobs)
        told = json.loads(data)
        if "ready" in told:
            wanted.append(told["ready"])
            continue
        if "end" in told:
            pid = jobs.get(told["end"])
            if pid is not None:  # not waited for yet, so that no other has its number
                os.kill(pid, signal.SIGKILL)
            continue
        try:
            pid = os.fork()
        except OSError:  # the closed socket tells
            pid = -1
        if pid == 0:
            control.close()
            _as_job(sockets[0], told, readable)
        jobs[told["job"]] = pid
        for opened in sockets:
            os.close(opened)


def _make_ready(module: str, function: str, argument: str) -> None:
    """What jobs will want that came before: done here once, between them, and each that is forked later has it."""
    try:
        getattr(importlib.import_module(module), function)(argument)
    except Exception:  # jobs do it for themselves then
        logging.getLogger(__name__).exception("%s cannot be made ready", argument)
    gc.collect()
    gc.freeze()


def _reap(jobs: dict[int, int]) -> None:
    with contextlib.suppress(ChildProcessError):
        while (ended := os.waitpid(-1, os.WNOHANG)[0]) != 0:
            for number in [n for n, pid in jobs.items() if pid == ended]:
                del jobs[number]


def _as_job(opened: int, told: dict[str, Any], readable: list[str]) -> None:
    """The life of a job. Never returns."""
    try:
        os.dup2(opened, 0)
        os.close(opened)
        os.dup2(1, 2)  # what libraries complain of; 1 is nowhere
        end_with_parent()
        _limit(told, readable)
        _serve(Connection(0, 0))
    finally:
        os._exit(0)


def _limit(told: dict[str, Any], readable: list[str]) -> None:
    if hasattr(signal, "alarm"):
        signal.alarm(int(told["seconds"]) + GRACE_SECONDS)
    if told["nice"] and hasattr(os, "nice"):
        os.nice(told["nice"])
    sandbox.around_job(readable, told["memory"])


def _afresh(told: dict[str, Any]) -> None:
    """One call by the pipes that this program was started with."""
    reads, writes = os.dup(0), os.dup(1)
    nowhere = os.open(os.devnull, os.O_RDWR)
    for standard in (0, 1, 2):
        os.dup2(nowhere, standard)
    _load(told["preload"])
    _limit(told, told["readable"])
    _serve(Connection(reads, writes))
    os._exit(0)


def _serve(line: Connection) -> None:
    _, _, (asked,) = line.receive(0, REQUEST_BYTES)
    logged = _Logged()
    logging.getLogger().addHandler(logged)
    try:
        function, args, kwargs = pickle.loads(asked)  # from the parent, which is trusted
        line.send(BEGUN)  # from here on its time counts: what it needs is loaded
        text, parts = _answer(function, args, kwargs, logged)
        kind = DONE
    except Exception as error:
        from moondesk.service.jobs.plain_values import plain_of

        kind = RAISED
        said = str(error.args[0]) if len(error.args) == 1 else str(error)
        name = "MemoryError" if isinstance(error, MemoryError) else type(error).__name__  # libraries have their own
        text, parts = plain_of((tuple(logged.lines), (name, _fit(said), _fit(str(getattr(error, "advice", ""))))))
    line.send(kind, text, parts)


def _answer(
    function: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any], logged: _Logged
) -> tuple[bytes, list[bytes]]:
    from moondesk.service.jobs.plain_values import plain_of

    value = function(*args, **kwargs)
    return plain_of((tuple(logged.lines), value))


class _Logged(logging.Handler):
    """Keeps the first warnings and errors of a job."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.lines: list[tuple[int, str]] = []

    def emit(self, record: logging.LogRecord) -> None:
        if len(self.lines) < MOST_LOGGED:
            with contextlib.suppress(Exception):
                self.lines.append((record.levelno, _fit(self.format(record))))


def _fit(text: str) -> str:
    """The end of a long text: of a fault's path through the code that is where it happened."""
    return text.encode(errors="replace").decode()[-LOGGED_CHARACTERS:]


if __name__ == "__main__":
    main(json.loads(sys.argv[1]))
