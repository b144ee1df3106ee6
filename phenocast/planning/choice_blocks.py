"""Options worked on a few at a time by every core, so that neither cache nor memory overflows."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

OPTIONS_AT_ONCE = 96
"""So many options of 2000 scenarios are 1.5 megabytes, about what the cache of a core holds; with
fewer at once threads wait for each other more than for memory."""


def by_blocks(work: Callable[[slice], None], options: int) -> None:
    """Call ``work`` with the rows of a few options after another, on several threads.

    Parameters
    ----------
    work : callable
        Given rows; writes what it finds of them into arrays of its own, and looks at no others.
    options : int
        How many there are.

    Examples
    --------
    >>> import numpy as np
    >>> squares = np.arange(100)
    >>> def square(rows: slice) -> None:
    ...     squares[rows] **= 2
    >>> by_blocks(square, 100)
    >>> int(squares[99])
    9801
    """
    left = deque(slice(at, at + OPTIONS_AT_ONCE) for at in range(0, options, OPTIONS_AT_ONCE))

    def take() -> None:
        while True:
            try:
                rows = left.popleft()
            except IndexError:  # another thread took the last
                return
            work(rows)

    # This thread works as well: it need not wait until others are up, nor change hands a block.
    others = min(os.cpu_count() or 1, len(left)) - 1
    if others < 1:
        take()
        return
    with ThreadPoolExecutor(max_workers=others) as pool:
        started = [pool.submit(take) for _ in range(others)]
        take()
        for one in started:
            one.result()
