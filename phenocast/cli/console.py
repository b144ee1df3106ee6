"""What is said on standard error: notes, faults and how far long work has come.

Colour only on a terminal and never with ``NO_COLOR``; no line wider than 100 columns, save for a
single word (a path, say) that is longer than that.
"""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from types import TracebackType
from typing import TextIO

import click

WIDEST = 100


def is_terminal(stream: TextIO) -> bool:
    """Whether a stream is a terminal that can show more than plain text."""
    return stream.isatty() and os.environ.get("TERM") != "dumb"


def has_colour(stream: TextIO) -> bool:
    """Whether colour may be used on a stream (https://no-color.org)."""
    return is_terminal(stream) and not os.environ.get("NO_COLOR")


def wrapped(text: str, first: str = "", rest: str = "") -> str:
    """Text in lines of at most 100 columns, broken at spaces only; it steers no terminal.

    Examples
    --------
    >>> print(wrapped("word " * 30, first="- ", rest="  "))
    - word word word word word word word word word word word word word word word word word word word
      word word word word word word word word word word word
    """
    import textwrap

    from phenocast.errors import printable

    lines = [
        textwrap.fill(
            printable(line),
            width=WIDEST,
            initial_indent=first if number == 0 else rest,
            subsequent_indent=rest,
            break_long_words=False,
            break_on_hyphens=False,
        )
        for number, line in enumerate(text.splitlines() or [""])
    ]
    return "\n".join(lines)


@contextmanager
def without_library_output() -> Iterator[None]:
    """Keep what compiled libraries print by themselves off standard output.

    The solver of integer programs prints lines for its own makers that no option turns off; among
    the answer they would break it, above all a JSON document.
    """
    sys.stdout.flush()
    try:
        kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    except OSError:  # no standard output at all
        yield
        return
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        _flush_libraries()
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _flush_libraries() -> None:
    """Write out what compiled libraries still hold back."""
    import ctypes

    try:
        ctypes.CDLL(None).fflush(None)
    except (OSError, TypeError, AttributeError):  # Windows: no library by that name
        return


def note(text: str) -> None:
    """Say something on standard error that is neither a result nor a fault."""
    say(wrapped(f"phenocast: {text}", rest="  "))


def warn(text: str) -> None:
    """Say on standard error what the user should know before trusting the result."""
    say(wrapped(f"phenocast: warning: {text}", rest="  "))


def problem(text: str) -> None:
    """Say on standard error why there is no result."""
    message = wrapped(f"phenocast: {text}", rest="  ")
    if has_colour(sys.stderr):
        message = click.style("phenocast:", fg="red", bold=True) + message.removeprefix(
            "phenocast:"
        )
    say(message)


def problems(faults: Sequence[str], count: int) -> None:
    """Say on standard error how many faults were found, and those that are shown, one to a line."""
    if len(faults) == 1:
        problem(faults[0])
        return
    problem(f"{count} faults:")
    for fault in faults:
        say(wrapped(fault, first="  - ", rest="    "))


def say(message: str) -> None:
    """Write to standard error; where nobody takes it any more the run goes on without."""
    with suppress(OSError):
        click.echo(message, err=True, color=has_colour(sys.stderr))


class Progress:
    """One line on standard error that tells how far long work has come.

    Silent unless standard error is a terminal, and for the first half second, so that short work
    never flickers. Used as a context manager it clears its line when the work ends or fails.

    Parameters
    ----------
    stream : text stream, optional
        Where to write; standard error by default.
    clock : callable
        Seconds since any fixed instant [s].
    delay_s : float
        Time before the first line, and the least time between two lines is a fifth of it [s].

    Examples
    --------
    >>> with Progress() as progress:
    ...     progress(3, 10, "north block")
    """

    def __init__(
        self,
        stream: TextIO | None = None,
        clock: Callable[[], float] = time.monotonic,
        delay_s: float = 0.5,
    ) -> None:
        self._stream = stream if stream is not None else sys.stderr
        self._clock = clock
        self._delay_s = delay_s
        self._next = clock() + delay_s
        self._active = is_terminal(self._stream)
        self._shown = 0

    def __call__(self, done: int, total: int, what: str) -> None:
        """Tell that so many of so many steps are done, and at what the work is now."""
        if not self._active or self._clock() < self._next:
            return
        self._next = self._clock() + self._delay_s / 5.0
        columns = min(shutil.get_terminal_size().columns, WIDEST) - 1
        line = progress_line(done, total, what)[:columns]
        self._stream.write("\r" + line.ljust(self._shown))
        self._stream.flush()
        self._shown = len(line)

    def clear(self) -> None:
        """Take the line away."""
        if self._shown:
            self._stream.write("\r" + " " * self._shown + "\r")
            self._stream.flush()
            self._shown = 0

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.clear()


def progress_line(done: int, total: int, what: str) -> str:
    """How far the work is, as a bar of twenty places, a share and a word.

    Examples
    --------
    >>> progress_line(5, 20, "north block")
    '[=====...............]  25 %  north block'
    """
    share = min(max(done / total, 0.0), 1.0) if total > 0 else 0.0
    full = int(20 * share)
    from phenocast.errors import printable

    return f"[{'=' * full}{'.' * (20 - full)}] {100 * share:3.0f} %  {printable(what)}"
