"""Files are read in a copy of the process while this one loads its libraries.

Both are work of the interpreter, which does one thing at a time whatever threads it has, and a
command that starts has nothing else to do. A copy made before any library has threads of its own
is safe; where there is none to be had, the same work is done here, one thing after the other.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import threading
from collections.abc import Callable
from typing import TypeVar

from phenocast.errors import PhenocastError

Answer = TypeVar("Answer")


def beside(work: Callable[[], Answer], meanwhile: Callable[[], None]) -> Answer:
    """Return what work gives, done in a copy of this process while this one does something else.

    Parameters
    ----------
    work : callable
        Must leave nothing behind but its answer, which is pickled.
    meanwhile : callable
        What this process will need in any case; where no copy is made it is done after the work.

    Raises
    ------
    PhenocastError
        As the work raises it. A copy that ends in any other way has no say: the work is done here,
        where a fault shows its trace.

    Examples
    --------
    >>> beside(lambda: 6 * 7, lambda: None)
    42
    """
    if not _may_copy():
        result = work()
        meanwhile()
        return result
    reading, writing = os.pipe()
    copy = os.fork()
    if copy == 0:
        os.close(reading)
        _answer(work, writing)
    os.close(writing)
    try:
        with open(reading, "rb") as pipe:
            meanwhile()
            told = pipe.read()
    finally:
        os.kill(copy, signal.SIGKILL)  # it has told all it had to, or nobody listens any more
        os.waitpid(copy, 0)
    try:
        done, answer = pickle.loads(told)
    except (EOFError, pickle.UnpicklingError):
        return work()
    if not done:
        raise answer
    return answer  # type: ignore[no-any-return]


def _may_copy() -> bool:
    """Whether a copy is safe, and gains anything.

    Elsewhere than on Linux the libraries of the system do not bear it. A fault that is to be shown
    with its trace (PHENOCAST_DEBUG) must happen here.
    """
    return (
        sys.platform == "linux"
        and len(os.sched_getaffinity(0)) > 1
        and threading.active_count() == 1
        and "numpy" not in sys.modules  # it starts threads that Python does not know of
        and os.environ.get("PHENOCAST_DEBUG") != "1"
    )


def _answer(work: Callable[[], object], writing: int) -> None:
    """Write the answer and end the copy, without a word and without cleaning up what is not its."""
    try:
        try:
            told = (True, work())
        except PhenocastError as error:
            told = (False, error)
        with open(writing, "wb") as pipe:
            pickle.dump(told, pipe, protocol=pickle.HIGHEST_PROTOCOL)
    finally:
        os._exit(0)
