"""Where work runs, each a `concurrent.futures.Executor`: this process, or the workers of a Dask cluster.

(The usual one, children of this process, is `children.ChildPool`.) On a cluster every worker runs its calls in children
of its own, with the same limits and walls as here, so that a picture that crashes its decoder costs the worker nothing.
Paths go to the workers, not pixels: they must see the data folder under the same path, and have the same release
installed. The workers themselves are trusted like this process; whoever reaches their scheduler is, too.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from functools import cache
from typing import Any, Concatenate, ParamSpec, TypeVar

from moondesk.service.errors import BadInputError
from moondesk.service.jobs.child_pool import ChildPool, Run

T = TypeVar("T")
P = ParamSpec("P")

CONNECT_SECONDS = 10


def attend(pool: Executor, fn: Callable[Concatenate[Run, P], T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
    """fn(run, ...) where the pool has its threads: it reads and writes files; what opens them it gives to `run`.

    Any executor will do: in one that knows nothing of children, `run` calls at once.
    """
    if isinstance(pool, ChildPool | ClusterPool):
        return pool.attend(fn, *args, **kwargs)
    return pool.submit(fn, call_here, *args, **kwargs)


def call_here(fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> T:
    return fn(*args, **kwargs)


class InProcess(Executor):
    """Runs each call at once, in this process."""

    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        future: Future[T] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


class ClusterPool(Executor):
    """Runs calls in the children of a Dask cluster's workers.

    seconds: what one call may take. Raises BadInputError where the extra is missing, or nobody answers at the address.
    """

    def __init__(self, address: str, seconds: float, preload: tuple[str, ...] = ()) -> None:
        try:
            import distributed
        except ImportError as error:
            raise BadInputError(
                "Work on a cluster needs an extra that is not installed.",
                "Run pip install 'moondesk[cluster]', or leave --cluster away.",
            ) from error
        try:
            client: Any = distributed.Client  # of its methods some have types, some not
            self._client = client(address, timeout=CONNECT_SECONDS, set_as_default=False)
        except (OSError, ValueError, TimeoutError) as error:
            raise BadInputError(
                f"No cluster answers at {address} ({type(error).__name__}).",
                "Name its scheduler, like tcp://10.0.0.5:8786.",
            ) from error
        self._executor = self._client.get_executor(pure=False)
        self._seconds, self._preload = seconds, preload

    @property
    def workers(self) -> int:
        """How many calls the cluster runs at once, as it stands now; at least 1."""
        threads: dict[str, int] = self._client.nthreads()
        return max(1, sum(threads.values()))

    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        return self._executor.submit(in_child, self._seconds, self._preload, fn, args, kwargs)  # type: ignore[no-any-return]

    def attend(self, fn: Callable[Concatenate[Run, P], T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """As `ChildPool.attend`, in a worker of the cluster."""
        return self._executor.submit(  # type: ignore[no-any-return]
            in_worker_of_cluster, self._seconds, self._preload, fn, args, kwargs
        )

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        self._executor.shutdown(wait=wait and not cancel_futures)
        self._client.close()


def in_child(
    seconds: float, preload: tuple[str, ...], fn: Callable[..., T], args: tuple[Any, ...], kwargs: dict[str, Any]
) -> T:
    """Run a call in a child of this process, a worker of a cluster. Raises ChildDiedError, ChildLateError."""
    return _children(seconds, preload).submit(fn, *args, **kwargs).result()


def in_worker_of_cluster(
    seconds: float, preload: tuple[str, ...], fn: Callable[..., T], args: tuple[Any, ...], kwargs: dict[str, Any]
) -> T:
    """`attend` in this process, a worker of a cluster."""
    return _children(seconds, preload).attend(fn, *args, **kwargs).result()


@cache
def _children(seconds: float, preload: tuple[str, ...]) -> ChildPool:
    return ChildPool(64, seconds, preload)  # as many as the worker has threads that ask, never more
