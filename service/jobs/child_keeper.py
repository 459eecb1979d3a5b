"""The program of this process's children (`child`): started within its walls, kept, told what to run.

Walls are tried from the strongest on: bubblewrap, where that is installed and works; the same by our own hand
(`walls`); none but those of each job. Other systems than Linux start every child afresh. What is missing is told once.
"""

from __future__ import annotations

import atexit
import compileall
import contextlib
import itertools
import json
import logging
import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from threading import Event, Lock, Thread
from typing import Any, Literal

from moondesk.service.jobs.sandbox import readable as paths
from moondesk.service.jobs.wire import Connection

log = logging.getLogger(__name__)

#: "bubblewrap", "own", "none": exactly these (tests); "best": the strongest that can be had.
Sandbox = Literal["best", "bubblewrap", "own", "none"]
#: What a child may take to start and load its libraries, on a machine that is busy.
START_SECONDS = 90.0
#: All that the program knows of its surroundings. Each child has one core; threads of its libraries would only fight
#: over it.
ENVIRONMENT = {
    "LANG": "C.UTF-8",
    "HOME": "/",  # where nothing can be kept; some libraries ask
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "OPENCV_IO_MAX_IMAGE_PIXELS": "150000000",
    # Memory by the large page: with the keeper's own given back before it forks, a job meets a third of the page
    # faults, and takes 0.30 s of processor for a picture for which it took 0.42.
    "GLIBC_TUNABLES": "glibc.malloc.hugetlb=1",
}
#: What Windows cannot start a program without.
_OF_WINDOWS = ("SYSTEMROOT", "PATH", "TEMP", "TMP")
#: The two packages are told by their folders: nothing that is read at the start of an interpreter is believed.
_BOOT = """
import importlib.util, json, sys
told = json.loads(sys.argv[1])
sys.path[:] = told["paths"]
for name, folder in told["packages"].items():
    spec = importlib.util.spec_from_file_location(name, folder + "/__init__.py", submodule_search_locations=[folder])
    sys.modules[name] = module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
from moondesk.service.jobs.child_program import main
main(told)
"""
#: What glibc reads to use them.
_LARGE_PAGES = "/sys/kernel/mm/transparent_hugepage"
#: Where memory runs out, the system ends a child and not the desk (proc(5), oom_score_adj).
_FIRST_TO_GO = ("/bin/sh", "-c", '{ echo 1000 >/proc/self/oom_score_adj; } 2>/dev/null; exec "$@"', "sh")
_SAID = {
    "namespaces": "they see other processes, the network's devices and the names of files",
    "landlock": "the files they may read are not ruled",
    "seccomp": "the system calls they make are not ruled",
}


class NoChildError(Exception):
    """The program of the children cannot be started, or was ended."""


@dataclass(frozen=True)
class ChildLimits:
    """Of one job. memory_bytes: address space; nice: how far it steps back; seconds: what its call may take."""

    memory_bytes: int
    nice: int
    seconds: float


class ChildJob:
    """A process that waits for one call on its line, of the thread that began it."""

    def __init__(self, line: Connection) -> None:
        self.line = line

    def end(self) -> None:
        """Kill it; from any thread, any number of times. Who waits on the line finds it closed."""
        raise NotImplementedError

    def close(self) -> None:
        """Kill it, and let go of the line: for the thread that began it, at last."""
        raise NotImplementedError


class ChildSupervisor:
    """The running program. preload: modules that it loads before it forks."""

    def __init__(self, preload: Sequence[str], walls: Sandbox) -> None:
        self._preload, self._ready, self._lock = list(preload), Event(), Lock()
        self._control: socket.socket | None = None
        self._numbers = itertools.count(1)
        self._made_ready: set[tuple[str, str, str]] = set()
        self.walls, self.missing = "", ("namespaces", "landlock", "seccomp")
        kinds = _kinds() if walls == "best" else [walls]
        # A thread of its own, for life: the system ends such a program with the thread that started it.
        self._thread = Thread(target=self._live, args=(kinds,), name="keeper of children", daemon=True)
        self._thread.start()

    @property
    def gone(self) -> bool:
        return self._ready.is_set() and self._control is None

    def job(self, limits: ChildLimits) -> ChildJob:
        """Raises NoChildError."""
        if not self._ready.wait(2 * START_SECONDS):
            raise NoChildError("the program of the children does not start")
        ours, theirs = socket.socketpair()
        number = next(self._numbers)
        told = {"job": number, "memory": limits.memory_bytes, "nice": limits.nice, "seconds": limits.seconds}
        try:
            self._tell(told, theirs)
        except NoChildError:
            ours.close()
            raise
        finally:
            theirs.close()
        return _Forked(self, number, ours)

    def close(self) -> None:
        """End the program and all that it forked."""
        with self._lock:
            if self._control is not None:
                self._control.close()
                self._control = None
        self._thread.join(2.0)

    def end(self, number: int) -> None:
        with contextlib.suppress(NoChildError):
            self._tell({"end": number})

    def make_ready(self, module: str, function: str, argument: str) -> None:
        """Have a function of the project called once when no job is to be started, so that later ones find it done."""
        if (module, function, argument) not in self._made_ready:
            self._made_ready.add((module, function, argument))
            with contextlib.suppress(NoChildError):
                self._tell({"ready": [module, function, argument]})

    def _tell(self, told: dict[str, Any], passed: socket.socket | None = None) -> None:
        with self._lock:
            if self._control is None:
                raise NoChildError("the program of the children is gone")
            data = json.dumps(told).encode()
            try:
                if passed is None:
                    self._control.send(data)
                else:
                    socket.send_fds(self._control, [data], [passed.fileno()])
            except OSError as error:
                raise NoChildError("the program of the children is gone") from error

    def _live(self, kinds: Sequence[str]) -> None:
        for kind in kinds:
            ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
            with theirs:
                try:
                    process = subprocess.Popen(
                        _command(kind, self._preload),
                        env=ENVIRONMENT,
                        stdin=theirs.fileno(),
                        stdout=subprocess.DEVNULL,
                        start_new_session=True,
                    )
                except OSError:
                    ours.close()
                    continue
            ours.settimeout(START_SECONDS)
            try:
                hello = json.loads(ours.recv(4096))
            except (OSError, ValueError):
                process.kill()
                process.wait()
                ours.close()
                continue
            ours.settimeout(None)
            self.walls, self.missing = kind, tuple(hello["missing"])
            self._control = ours
            self._ready.set()
            _tell_missing(self.missing)
            process.wait()
            break
        with self._lock:
            if self._control is not None:
                self._control.close()
                self._control = None
        self._ready.set()


class _Forked(ChildJob):
    def __init__(self, keeper: ChildSupervisor, number: int, line: socket.socket) -> None:
        super().__init__(Connection(line.fileno(), line.fileno()))
        self._keeper, self._number, self._socket = keeper, number, line

    def end(self) -> None:
        self._keeper.end(self._number)
        with contextlib.suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        self.end()
        self._socket.close()


class _Afresh(ChildJob):
    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        assert process.stdin is not None
        assert process.stdout is not None
        super().__init__(Connection(process.stdout.fileno(), process.stdin.fileno()))
        self._process = process

    def end(self) -> None:
        self._process.kill()

    def close(self) -> None:
        self.end()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                pipe.close()


def afresh(preload: Sequence[str], limits: ChildLimits) -> ChildJob:
    """A child of its own for one call, for systems that cannot fork one. Raises NoChildError."""
    told = _spawn_request("afresh", preload) | {
        "memory": limits.memory_bytes,
        "nice": limits.nice,
        "seconds": limits.seconds,
    }
    environment = ENVIRONMENT | {k: v for k, v in os.environ.items() if k.upper() in _OF_WINDOWS}
    try:
        process = subprocess.Popen(
            _python(told),
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            bufsize=0,
        )
    except OSError as error:
        raise NoChildError(f"no child could be started: {error}") from error
    _tell_missing(("namespaces", *(() if can_keep() else ("landlock", "seccomp"))))
    return _Afresh(process)


_keepers: dict[tuple[tuple[str, ...], str, int], ChildSupervisor] = {}
_keepers_lock = Lock()


def keeper_for(preload: Sequence[str], walls: Sandbox = "best") -> ChildSupervisor:
    """The running keeper that has loaded these, or a new one; a forked process has none of its parent's."""
    key = tuple(preload), walls, os.getpid()
    with _keepers_lock:
        found = _keepers.get(key)
        if found is None or found.gone:
            found = _keepers[key] = ChildSupervisor(preload, walls)
        return found


def can_keep() -> bool:
    """Whether this system forks children from a keeper."""
    return sys.platform == "linux"


@atexit.register
def close_keepers() -> None:
    for (_, _, process), keeper in list(_keepers.items()):
        if process == os.getpid():
            keeper.close()
    _keepers.clear()


def _kinds() -> Iterator[str]:
    if shutil.which("bwrap"):
        yield "bubblewrap"
    yield from ("own", "none")


def _command(kind: str, preload: Sequence[str]) -> list[str]:
    told = _spawn_request(kind, preload)
    walled = _bubblewrap(told["readable"]) if kind == "bubblewrap" else []
    return [*_FIRST_TO_GO, *walled, *_python(told)]


def _spawn_request(kind: str, preload: Sequence[str]) -> dict[str, Any]:
    _compile()
    packages = dict(zip(("moondesk", "moondesk.service"), map(str, paths.OWN), strict=True))
    return {
        "kind": kind,
        "packages": packages,
        "paths": paths.import_paths(),
        "preload": list(preload),
        "readable": paths.readable(),
    }


def _python(told: dict[str, Any]) -> list[str]:
    return [paths.interpreter(), "-I", "-S", "-B", "-c", _BOOT, json.dumps(told)]


def _bubblewrap(readable: Sequence[str]) -> list[str]:
    """Its own world, of which these are all. No /proc and no /dev: nothing here asks for them."""
    seen: list[str] = []
    for path in readable:
        seen += ["--symlink", os.readlink(path), path] if os.path.islink(path) else ["--ro-bind", path, path]
    told = [a for name, value in ENVIRONMENT.items() for a in ("--setenv", name, value)]
    return [
        shutil.which("bwrap") or "bwrap",
        "--unshare-all",
        "--die-with-parent",
        "--new-session",
        "--cap-drop",
        "ALL",
        "--clearenv",
        *told,
        *seen,
        "--ro-bind-try",
        _LARGE_PAGES,
        _LARGE_PAGES,
        "--remount-ro",
        "/",
        "--chdir",
        "/",
        "--",
    ]


@cache
def _compile() -> None:
    """Byte code of the packages as they are: behind its walls the program could keep none, and start slowly."""
    for folder in paths.OWN:
        with contextlib.suppress(OSError):
            compileall.compile_dir(folder, quiet=2)


@cache
def _tell_missing(missing: tuple[str, ...]) -> None:
    if missing:
        log.warning(
            "The walls round the programs that open pictures have gaps on this system: %s.",
            "; ".join(_SAID[m] for m in missing if m in _SAID),
        )
