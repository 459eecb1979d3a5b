"""Child processes that run calls for this one: `ChildPool`, an Executor of which a dead child costs only its own call.

The standard process pool is broken by any child that dies, and does not say of which call. Here each child has its own
pipe, so that a crash, or a call that takes too long, is known for what it is; the next call gets a new child. Children
are forked from a server that has loaded and warmed up everything once (where the system can: elsewhere each starts
afresh), so that a new one costs some 25 ms instead of a second, and they share the memory of what was loaded.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Lock
from typing import Any, TypeVar

from service.work import walls

T = TypeVar("T")

#: Each child has one core; threads of its libraries would only fight over it. Set before those libraries load.
ENVIRONMENT = {
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "OPENCV_IO_MAX_IMAGE_PIXELS": "150000000",
}
#: Address space of a child. A picture of 120 megapixels takes about half of it; its decoder must not take the machine.
MEMORY_BYTES = 4_000_000_000
#: Longest file that a child may write: a labelled picture is far smaller.
FILE_BYTES = 1_000_000_000
#: How far children whose work can wait step back (the system's own measure, 0 to 19). With two of them and much else
#: at work on two cores the desk's list was there after 89 ms in the median; with 0 after 242, with 5 after 127.
STEP_BACK = 10
#: What a child may take to start and load its libraries, on a machine that is busy.
START_SECONDS = 90.0

_Limits = tuple[int, int, tuple[str, ...] | None, bool]
_READY, _BEGUN = "ready", "begun"


class ChildDiedError(Exception):
    """The child that ran a call is gone: it crashed, or somebody or the system ended it."""


class ChildLateError(ChildDiedError):
    """The call took longer than it may; its child was ended."""


class ChildPool(Executor):
    """Runs calls in at most `children` processes at a time. Functions and arguments must be picklable.

    seconds: what one call may take. preload: modules that the server of the children imports before it forks any (the
    first pool of a process decides). memory_bytes, file_bytes: caps on its address space and on any file it writes.
    may_write: existing folders; it changes no file elsewhere (where the system can see to that). None: anywhere.
    patient: its work can wait, so that the children step back behind what somebody looks at or waits for.
    A call's future raises ChildDiedError or ChildLateError where its child did not come back.
    """

    def __init__(self, children: int, seconds: float, preload: Sequence[str] = (),
                 memory_bytes: int = MEMORY_BYTES, file_bytes: int = FILE_BYTES,
                 may_write: Sequence[Path] | None = None, patient: bool = True) -> None:
        self._context = context_of(preload)
        below = None if may_write is None else tuple(str(p.resolve()) for p in may_write)
        self._seconds, self._limits = seconds, (memory_bytes, file_bytes, below, patient)
        self._threads = ThreadPoolExecutor(children, thread_name_prefix="child")
        self._idle: deque[_Child] = deque()
        self._busy: set[_Child] = set()
        self._lock = Lock()  # of _busy and _closing
        self._closing = False

    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        return self._threads.submit(self._run, fn, args, kwargs)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End the children; with cancel_futures those at work too, else their calls are waited for."""
        if cancel_futures:
            self._threads.shutdown(wait=False, cancel_futures=True)
            with self._lock:
                self._closing = True
                for child in self._busy:
                    child.end()
        self._threads.shutdown(wait=wait or cancel_futures)
        while self._idle:
            self._idle.pop().end()

    def _run(self, fn: Callable[..., T], args: tuple[Any, ...], kwargs: dict[str, Any]) -> T:
        try:
            child = self._idle.pop()
        except IndexError:
            child = _Child(self._context, self._limits)
        try:
            with self._lock:
                if self._closing:
                    raise ChildDiedError("the pool is being closed")
                self._busy.add(child)
            succeeded, value = child.call((fn, args, kwargs), self._seconds)
        except BaseException:
            child.end()
            raise
        finally:
            with self._lock:
                self._busy.discard(child)
        self._idle.append(child)
        if succeeded:
            return value  # type: ignore[no-any-return]
        raise value


def context_of(preload: Sequence[str]) -> multiprocessing.context.BaseContext:
    """How children are started, and the environment they need; the server of a process preloads what it is told first.

    Never a plain fork: this process may have threads, and a forked child would inherit their locks.
    """
    for name, value in ENVIRONMENT.items():
        os.environ.setdefault(name, value)
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(preload))
    return context


def start_server(preload: Sequence[str]) -> None:
    """Have the server of the children load its modules while this process goes on with its own start."""
    if context_of(preload).get_start_method() == "forkserver":
        from multiprocessing import forkserver

        forkserver.ensure_running()


class _Child:
    """One child process and the pipe to it; used by one thread at a time."""

    def __init__(self, context: multiprocessing.context.BaseContext, limits: _Limits) -> None:
        self._pipe, theirs = context.Pipe()
        self._process: BaseProcess = context.Process(  # type: ignore[attr-defined]
            target=_serve, args=(theirs, *limits), daemon=True)
        try:
            self._process.start()
        except (OSError, EOFError) as error:
            raise ChildDiedError(f"no child could be started: {error}") from error
        theirs.close()
        self._expect(_READY)

    def call(self, what: tuple[Callable[..., Any], tuple[Any, ...], dict[str, Any]], seconds: float) -> Any:
        """(True, result) or (False, exception). Raises ChildDiedError."""
        try:
            self._pipe.send((*what, seconds))
        except (BrokenPipeError, ConnectionResetError) as error:
            raise ChildDiedError("the child is gone") from error
        self._expect(_BEGUN)
        return self._receive(seconds)

    def end(self) -> None:
        """Kill it, whatever it does. Another thread may wait for its answer: that one finds the pipe closed."""
        self._process.kill()
        self._process.join()

    def _expect(self, word: str) -> None:
        if self._receive(START_SECONDS) != word:
            raise ChildDiedError("the child did not say what was expected")

    def _receive(self, seconds: float) -> Any:
        try:
            if not self._pipe.poll(seconds):
                raise ChildLateError(f"longer than {seconds:g} s")
            return self._pipe.recv()
        except (EOFError, OSError) as error:
            raise ChildDiedError("the child is gone") from error


def _serve(pipe: Connection, memory_bytes: int, file_bytes: int, may_write: tuple[str, ...] | None,
           patient: bool) -> None:
    """A child's life: calls one after the other until the pipe closes, which it also does when the parent dies."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the parent ends its children
    _confine(memory_bytes, file_bytes, may_write)
    if patient and hasattr(os, "nice"):
        os.nice(STEP_BACK)
    with contextlib.suppress(EOFError, ConnectionResetError, BrokenPipeError):
        pipe.send(_READY)
        while True:
            function, args, kwargs, seconds = pipe.recv()
            pipe.send(_BEGUN)
            if hasattr(signal, "alarm"):  # the parent's own clock ends a late call; this is for a parent that is gone
                signal.alarm(int(seconds) + 10)
            try:
                answer = True, function(*args, **kwargs)
            except Exception as error:
                answer = False, error
            if hasattr(signal, "alarm"):
                signal.alarm(0)
            pipe.send(answer)


def _confine(memory_bytes: int, file_bytes: int, may_write: tuple[str, ...] | None) -> None:
    """Caps on what a hostile file can make this process take; no network, no secrets, no core dump with a picture.

    What a system does not know or not allow is left out: each is one wall among several.
    """
    for name in [n for n in os.environ if "PASSWORD" in n.upper()]:
        del os.environ[name]
    if sys.platform == "win32":
        return
    import resource

    for limit, value in ((resource.RLIMIT_AS, memory_bytes), (resource.RLIMIT_CORE, 0),
                         (resource.RLIMIT_FSIZE, file_bytes)):
        with contextlib.suppress(ValueError, OSError):  # a system that does not know the limit, or has a lower one
            resource.setrlimit(limit, (value, value))
    walls.cut_off()
    if may_write is not None:
        walls.write_only_below(may_write)
