"""Calls run by processes that open what strangers sent: `ChildPool`, of which a dead child costs its own call alone.

    submit(fn, ...)   a fresh child: fn, walls round it, its answer as plain values of the type that fn declares
    attend(fn, ...)   a thread here: fn(run, ...) reads and writes files, and has `run(...)` done by children

Each call has a child of its own, forked from a program that has loaded everything once (see `child_keeper`, `child_program`): it
starts in some 20 ms and sees no other's picture. It is sent bytes, never paths: it has no folder to read them from.
What it makes comes back as bytes, and is written here under names that are chosen here. Whatever it answers, its answer
is a value of the declared type (see `plain_values`), or the call fails like that of a child that died.
"""

from __future__ import annotations

import builtins
import logging
import os
import pickle
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from threading import Lock, Timer
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar

from moondesk.service import errors
from moondesk.service.jobs.child_keeper import (
    START_SECONDS,
    ChildJob,
    ChildLimits,
    NoChildError,
    Sandbox,
    afresh,
    can_keep,
    keeper_for,
)
from moondesk.service.jobs.plain_values import NotPlainError, answer_type, read_plain
from moondesk.service.jobs.wire import ASKED, BEGUN, DONE, RAISED, BadFrameError

log = logging.getLogger(__name__)

T = TypeVar("T")
P = ParamSpec("P")

#: Address space of a child. A picture of 120 megapixels takes about half of it; its decoder must not take the machine.
MEMORY_BYTES = 4_000_000_000
#: On a small machine three quarters of what it has, but never less than this, of which libraries take a third.
LEAST_BYTES = 1_500_000_000
#: Longest text of an answer, and most bytes beside it: a labelled picture of 120 megapixels takes about half of them.
ANSWER_TEXT, ANSWER_BYTES = 32_000_000, 600_000_000
#: How far children whose work can wait step back (the system's own measure, 0 to 19). With two of them and much else
#: at work on two cores the desk's list was there after 89 ms in the median; with 0 after 242, with 5 after 127.
STEP_BACK = 10

_Logged = tuple[tuple[int, str], ...]
#: What a child's call may raise here, by name; anything else is a CallFailedError.
_BUILTIN = (
    "ArithmeticError",
    "AssertionError",
    "AttributeError",
    "EOFError",
    "FileNotFoundError",
    "IndexError",
    "KeyError",
    "LookupError",
    "MemoryError",
    "NotADirectoryError",
    "NotImplementedError",
    "OSError",
    "OverflowError",
    "PermissionError",
    "RecursionError",
    "RuntimeError",
    "TypeError",
    "UnicodeError",
    "ValueError",
    "ZeroDivisionError",
)


class ChildDiedError(Exception):
    """The child that ran a call is gone or answered nonsense: it crashed, or somebody or the system ended it."""


class ChildLateError(ChildDiedError):
    """The call took longer than it may; its child was ended."""


class CallFailedError(Exception):
    """A call in a child raised something of which only the name and the words came back."""


class Run(Protocol):
    """Has a call done elsewhere, and waits for it."""

    def __call__(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> T: ...


class ChildPool(Executor):
    """Runs calls in at most `children` processes at a time. Functions and arguments must be picklable, and a function
    declare a plain type of what it returns.

    seconds: what one call may take. preload: modules that are loaded before any child is forked. memory_bytes: cap on a
    child's address space; answer_bytes: on its answer. patient: its work can wait, so that the children step back
    behind what somebody looks at or waits for. A call raises ChildDiedError or ChildLateError where its child did not
    come back, and what the call raised: by its name and words alone, as one of Python's own or of `moondesk.service.errors`.
    """

    def __init__(
        self,
        children: int,
        seconds: float,
        preload: Sequence[str] = (),
        memory_bytes: int = MEMORY_BYTES,
        patient: bool = True,
        walls: Sandbox = "best",
        answer_bytes: int = ANSWER_BYTES,
    ) -> None:
        self._preload, self._walls, self._answer_bytes = tuple(preload), walls, answer_bytes
        self._limits = ChildLimits(min(memory_bytes, _most_memory()), STEP_BACK if patient else 0, seconds)
        self._threads = ThreadPoolExecutor(children, thread_name_prefix="child")
        self._busy: set[ChildJob] = set()
        self._lock = Lock()  # of _busy and _closing
        self._closing = False
        start_server(preload, walls)

    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        return self._threads.submit(self.run, fn, *args, **kwargs)

    def make_ready(self, fn: Callable[[str], None], argument: str) -> None:
        """Have fn(argument) called where children are forked from, once and in idle time: what it loads, they have."""
        if can_keep():
            keeper_for(self._preload, self._walls).make_ready(fn.__module__, fn.__name__, argument)

    def attend(self, fn: Callable[Concatenate[Run, P], T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """fn(run, ...) in a thread of this process; whatever it gives `run` is done in a child, and has its limits."""
        return self._threads.submit(fn, self.run, *args, **kwargs)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Let calls end; with cancel_futures end the children at work, and give out no more."""
        if cancel_futures:
            self._threads.shutdown(wait=False, cancel_futures=True)
            with self._lock:
                self._closing = True
                for job in self._busy:
                    job.end()
        self._threads.shutdown(wait=wait or cancel_futures)

    def run(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> T:
        """In a child, now: this thread waits."""
        kind = answer_type(fn)
        asked = pickle.dumps((fn, args, kwargs), protocol=pickle.HIGHEST_PROTOCOL)
        job = self._begin()
        try:
            with self._lock:
                if self._closing:
                    raise ChildDiedError("the pool is being closed")
                self._busy.add(job)
            done, text, parts = self._conversation(job, asked)
        finally:
            with self._lock:
                self._busy.discard(job)
            job.close()
        return _value_or_raise(kind, done, text, parts)  # type: ignore[no-any-return]

    def _begin(self) -> ChildJob:
        try:
            if not can_keep():
                return afresh(self._preload, self._limits)
            try:
                return keeper_for(self._preload, self._walls).job(self._limits)
            except NoChildError:  # ended by somebody; the next one is another
                return keeper_for(self._preload, self._walls).job(self._limits)
        except (NoChildError, OSError) as error:
            raise ChildDiedError(f"no child could be started: {error}") from error

    def _conversation(self, job: ChildJob, asked: bytes) -> tuple[int, bytes, list[bytes]]:
        try:
            with _Clock(job, START_SECONDS):
                job.line.send(ASKED, b"", [asked])
                kind, text, parts = job.line.receive(ANSWER_TEXT, 0)
            if kind == BEGUN:
                with _Clock(job, self._limits.seconds):
                    kind, text, parts = job.line.receive(ANSWER_TEXT, self._answer_bytes)
            if kind not in (DONE, RAISED):
                raise ChildDiedError("the child did not say what was expected")
            return kind, text, parts
        except BadFrameError as error:
            raise ChildDiedError(f"the child sent {error}") from error
        except (EOFError, OSError) as error:
            raise ChildDiedError("the child is gone") from error


def _most_memory() -> int:
    """Address space that leaves a machine something, however little it has."""
    try:
        there = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, ValueError, OSError):
        return MEMORY_BYTES
    return max(LEAST_BYTES, there * 3 // 4)


def start_server(preload: Sequence[str], walls: Sandbox = "best") -> None:
    """Have the program of the children load its modules while this one goes on with its own start."""
    if can_keep():
        keeper_for(preload, walls)


class _Clock:
    """Ends a job whose time is over, so that whatever waits for it goes on: then ChildLateError."""

    def __init__(self, job: ChildJob, seconds: float) -> None:
        self._job, self._seconds, self._late = job, seconds, False

    def __enter__(self) -> None:
        self._timer = Timer(self._seconds, self._end)
        self._timer.daemon = True
        self._timer.start()

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        self._timer.cancel()
        if self._late and kind is not None and issubclass(kind, EOFError | OSError):
            raise ChildLateError(f"longer than {self._seconds:g} s")

    def _end(self) -> None:
        self._late = True
        self._job.end()


def _value_or_raise(kind: Any, done: int, text: bytes, parts: list[bytes]) -> Any:
    """The value, or what the call raised. Raises ChildDiedError for an answer that is none."""
    try:
        if done == DONE:
            logged, value = read_plain(tuple[_Logged, kind], text, parts)
        else:
            logged, (name, words, advice) = read_plain(tuple[_Logged, tuple[str, str, str]], text, parts)
    except NotPlainError as error:
        raise ChildDiedError(f"the child's answer is not what was asked for: {error}") from error
    for level, line in logged[:20]:
        log.log(min(max(level, logging.WARNING), logging.ERROR), "%s", _printable(line)[:4000])
    if done == DONE:
        return value
    raise _exception_of(name, _printable(words)[:1000], _printable(advice)[:1000])


def _exception_of(name: str, words: str, advice: str) -> Exception:
    if name in _BUILTIN:
        return getattr(builtins, name)(words)  # type: ignore[no-any-return]
    kind = getattr(errors, name, None)
    if isinstance(kind, type) and issubclass(kind, errors.DeskError):
        return kind(words, advice)
    return CallFailedError(f"{_printable(name)[:80]}: {words}")


def _printable(text: str) -> str:
    """Without what moves a terminal's cursor."""
    return "".join(c if c.isprintable() or c == "\n" else " " for c in text)
