"""One count of workers and one way to share work out among them."""

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar

Made = TypeVar("Made")

_STATED: ContextVar[int | None] = ContextVar("workers", default=None)
_QUOTA = Path("/sys/fs/cgroup/cpu.max")
AHEAD = 2
"""Tasks of each worker that wait for it: what is done and not yet taken stays few."""


def worker_count() -> int:
    """Return how many workers share the work: as stated by `workers`, or as there are processors.

    Processors count that this process may run on, and no more than a container's quota allows.

    >>> worker_count() >= 1
    True
    """
    stated = _STATED.get()
    if stated is not None:
        return stated
    if hasattr(os, "sched_getaffinity"):
        count = len(os.sched_getaffinity(0))
    else:
        count = os.cpu_count() or 1
    try:
        quota, period = _QUOTA.read_text().split()
        if quota != "max":
            count = min(count, int(quota) // int(period))
    except (OSError, ValueError):  # no container, or one that says nothing
        pass
    return max(1, count)


@contextmanager
def workers(count: int | None) -> Iterator[None]:
    """State how many workers share the work within a block; None leaves it to `worker_count`.

    >>> with workers(3):
    ...     worker_count()
    3
    """
    token = _STATED.set(count)
    try:
        yield
    finally:
        _STATED.reset(token)


def in_order(
    work: Callable[..., Made], tasks: Iterable[tuple[Any, ...]], executor: Executor | None = None
) -> Iterator[Made]:
    """Call a function with each of many sets of arguments; yield what it returns in their order.

    Parameters
    ----------
    work : callable
    tasks : iterable of tuple
    executor : Executor, optional
        Where the work is done; threads of its own where none is given, and no thread where there
        is one worker.

    Examples
    --------
    >>> list(in_order(pow, [(2, 3), (3, 2)]))
    [8, 9]
    """
    count = worker_count()
    if executor is None and count == 1:
        yield from (work(*task) for task in tasks)
        return
    pool = executor or ThreadPoolExecutor(max_workers=count)
    left = iter(tasks)
    running: deque[Future[Made]] = deque()
    try:
        running.extend(pool.submit(work, *task) for task in islice(left, (1 + AHEAD) * count))
        while running:
            made = running.popleft().result()
            running.extend(pool.submit(work, *task) for task in islice(left, 1))
            yield made
    finally:
        for one in running:
            one.cancel()
        if executor is None:
            pool.shutdown()
