"""Work in a copy of the process, while this one goes on.

Loading libraries and reading tables are work of the interpreter, which does one thing at a time
whatever threads it has. A copy made before any library has threads of its own is safe; where there
is none to be had, the same work is done here, one thing after the other.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from io import BufferedReader, BufferedWriter
from types import TracebackType
from typing import Generic, TypeVar

from phenocast.cli.exits import shows_traces
from phenocast.errors import PhenocastError

Asked = TypeVar("Asked")
Answer = TypeVar("Answer")


class Beside(Generic[Asked, Answer]):
    """One piece of work, done in a copy of this process from entering on.

    Parameters
    ----------
    ready : callable
        Loads what the work needs; runs in the copy at once, before it is asked.
    work : callable
        Turns what is asked into an answer; both are pickled. Must leave nothing else behind.

    Examples
    --------
    >>> with Beside(lambda: None, lambda number: 7 * number) as copy:
    ...     copy.ask(6)  # and this process may do what takes long
    ...     copy.answer()
    42
    """

    def __init__(self, ready: Callable[[], object], work: Callable[[Asked], Answer]) -> None:
        self._ready = ready
        self._work = work
        self._pipes: tuple[int, BufferedWriter, BufferedReader] | None = None

    def __enter__(self) -> Beside[Asked, Answer]:
        if not _may_copy():
            return self
        questions, to_copy = os.pipe()
        from_copy, answers = os.pipe()
        copy = os.fork()
        if copy == 0:
            os.close(to_copy)
            os.close(from_copy)
            _serve(self._ready, self._work, questions, answers)
        os.close(questions)
        os.close(answers)
        self._pipes = copy, open(to_copy, "wb"), open(from_copy, "rb")
        return self

    def ask(self, asked: Asked) -> None:
        """Begin the work; where there is no copy, do it."""
        self._asked = asked
        if self._pipes is None:
            self._answer = self._work(asked)
            return
        with suppress(BrokenPipeError), self._pipes[1] as pipe:
            pickle.dump(asked, pipe, protocol=pickle.HIGHEST_PROTOCOL)

    def answer(self) -> Answer:
        """Wait for the answer.

        Raises
        ------
        PhenocastError
            As the work raises it. A copy that ends in any other way has no say: the work is done
            here, where a fault shows its trace.
        """
        if self._pipes is None:
            return self._answer
        told = self._pipes[2].read()
        try:
            done, answer = pickle.loads(told)
        except (EOFError, pickle.UnpicklingError):
            return self._work(self._asked)
        if not done:
            raise answer
        return answer  # type: ignore[no-any-return]

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._pipes is None:
            return
        copy, to_copy, from_copy = self._pipes
        os.kill(copy, signal.SIGKILL)  # it has told all it had to, or nobody listens any more
        os.waitpid(copy, 0)
        with suppress(BrokenPipeError):
            to_copy.close()
        from_copy.close()


def _may_copy() -> bool:
    """Whether a copy is safe, and gains anything.

    Elsewhere than on Linux the libraries of the system do not bear it. Where every core has work
    already, a copy only has it share one more time. A fault that is to be shown with its trace must
    happen here.
    """
    if sys.platform != "linux":
        return False
    cores = len(os.sched_getaffinity(0))
    return (
        cores > 1
        and os.getloadavg()[0] < cores
        and threading.active_count() == 1
        and "numpy" not in sys.modules  # it starts threads that Python does not know of
        and not shows_traces()
    )


def _serve(
    ready: Callable[[], object], work: Callable[[Asked], object], questions: int, answers: int
) -> None:
    """Answer one question and end the copy, without a word and without cleaning up."""
    try:
        ready()
        with open(questions, "rb") as pipe:
            asked = pickle.load(pipe)
        try:
            told = (True, work(asked))
        except PhenocastError as error:
            told = (False, error)
        with open(answers, "wb") as pipe:
            pickle.dump(told, pipe, protocol=pickle.HIGHEST_PROTOCOL)
    finally:
        os._exit(0)
