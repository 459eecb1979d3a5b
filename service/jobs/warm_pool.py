"""A few children kept warm for what somebody at the desk waits for: pictures placed again, drawn, laid out otherwise.

Started at the first use, or ahead of it (`warm`), and then kept: a child that has loaded the core answers at once.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from concurrent.futures import Executor, Future
from functools import cache
from threading import Lock
from typing import Any, Concatenate, ParamSpec, TypeVar

from moondesk.service.errors import DeskError
from moondesk.service.jobs import engine
from moondesk.service.jobs.child_pool import ChildDiedError, ChildLateError, ChildPool
from moondesk.service.jobs.child_pool import Run as ChildRun
from moondesk.service.jobs.engine import PRELOAD, Engine, Loader, WithEngine
from moondesk.service.jobs.executors import attend
from moondesk.service.settings.config import IntakeLimits

log = logging.getLogger(__name__)

P = ParamSpec("P")
T = TypeVar("T")

#: One for what is waited for, one for what is drawn meanwhile.
CHILDREN = 2


class WarmPoolError(DeskError):
    """What was asked for could not be made: the picture took too long, or ended the program that opened it."""

    http_status = 503


class WarmPool:
    """Runs functions of (Engine, ...) in children; see `ChildPool` for what they may take and return.

    load, and every function and argument, must be picklable. pool: where to, instead of children of this process.
    """

    def __init__(self, load: Loader, seconds: float, pool: Executor | None = None) -> None:
        self._load, self._seconds, self._pool = load, seconds, pool
        self._lock = Lock()

    def run(self, fn: Callable[Concatenate[Engine, P], T], *args: P.args, **kwargs: P.kwargs) -> T:
        """The function's answer; what it raises is raised here. Raises WarmPoolError."""
        for last in (False, True):
            try:
                return self.begin(fn, *args, **kwargs).result()
            except ChildLateError as error:
                raise WarmPoolError(f"The picture took {error}.", "Try again with other corrections.") from error
            except ChildDiedError as error:  # perhaps not by this picture: somebody may have ended the process
                if last:
                    raise WarmPoolError(
                        "The picture made the program that opens it stop; nothing was changed.",
                        "Ask for it again as JPEG or PNG.",
                    ) from error
        raise AssertionError("it returned or raised")

    def begin(self, fn: Callable[Concatenate[Engine, P], T], *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """The same for what nobody waits for."""
        return self._executor().submit(WithEngine(self._load, fn), *args, **kwargs)

    def attend(self, fn: Callable[..., T], *args: Any) -> Future[T]:
        """fn(run, ...) in a thread of this process, where run(...) is as `run` here, but for the second try."""
        return attend(self._executor(), _attend, self._load, fn, args)

    def warm(self) -> None:
        """Have a child load the core, if none has yet."""
        with self._lock:
            started = self._pool is not None
        if not started:
            self._executor()

    def close(self) -> None:
        with self._lock:
            if isinstance(self._pool, ChildPool):
                self._pool.shutdown(cancel_futures=True)
                self._pool = None

    def _executor(self) -> Executor:
        with self._lock:
            if self._pool is None:
                self._pool = ChildPool(CHILDREN, self._seconds, PRELOAD, patient=False)
            return self._pool


def at_once(fn: Callable[Concatenate[Engine, P], T], *args: P.args, **kwargs: P.kwargs) -> T:
    """`WarmPool.run` by children of the command that is running."""
    return WarmPool(engine.load_engine, IntakeLimits.place_seconds, pool=_of_this_process()).run(fn, *args, **kwargs)


@cache
def _of_this_process() -> ChildPool:
    return ChildPool(CHILDREN, IntakeLimits.place_seconds, PRELOAD, patient=False)


def _attend(run: ChildRun, load: Loader, fn: Callable[..., T], args: tuple[Any, ...]) -> T:
    return fn(lambda inner, *given: run(WithEngine(load, inner), *given), *args)
