"""What is said on standard error, how far long work has come, and the exit code of what happened.

Colour only on a terminal and never with ``NO_COLOR``; no line wider than 100 columns, save for a
single word (a path, say) that is longer than that. Exit codes: 0 done, 1 a fault of phenocast,
2 usage, 3 input refused, 4 no answer, 130 interrupted.
"""

from __future__ import annotations

import errno
import os
import shutil
import signal
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from types import FrameType, TracebackType
from typing import Any, NoReturn, TextIO

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
    import ctypes

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
        with suppress(OSError, TypeError, AttributeError):  # Windows: no library by that name
            ctypes.CDLL(None).fflush(None)
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


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


DONE = 0

OUR_FAULT = 1

USAGE = 2

REFUSED = 3

NO_ANSWER = 4

INTERRUPTED = 130

TERMINATED = 143


# Faults of the machine or of permissions: the user can put these right, and no code of ours can.
_OF_THE_DISK = frozenset(
    {errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOSPC, errno.EDQUOT, errno.ENAMETOOLONG}
)


def run_to_exit(action: Callable[[], object]) -> NoReturn:
    """Run a command and end the process with the exit code of what happened.

    Parameters
    ----------
    action : callable
        Runs the command; may return an exit code, anything else counts as done.

    Raises
    ------
    SystemExit
        Always.

    Examples
    --------
    >>> run_to_exit(lambda: None)
    Traceback (most recent call last):
    SystemExit: 0
    """
    stream = sys.stdout
    with _termination_cleans_up():
        try:
            result = action()
            sys.stdout.flush()
        except SystemExit:
            if sys.stdout is stream:
                raise
            # click puts another stream there where the reader of a pipe has gone, and exits with 1
            code = report(BrokenPipeError(errno.EPIPE, ""))
        except BaseException as error:
            code = report(error)
        else:
            code = result if type(result) is int else DONE
    sys.exit(code)


def report(error: BaseException) -> int:
    """Say on standard error what went wrong, and return the exit code that belongs to it."""
    if isinstance(error, click.exceptions.Exit):
        return int(error.exit_code)
    if isinstance(error, (click.Abort, KeyboardInterrupt, EOFError)):
        problem("interrupted; no unfinished output is left behind")
        return INTERRUPTED
    if isinstance(error, click.UsageError):
        _show_usage(error)
        return USAGE
    if isinstance(error, click.ClickException):
        problem(error.format_message())
        return REFUSED if isinstance(error, click.FileError) else int(error.exit_code)
    if isinstance(error, OSError) and error.errno == errno.EPIPE:
        # The reader of a pipe has seen enough; a flush at exit must not complain either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    if os.environ.get("PHENOCAST_DEBUG") == "1":
        import traceback

        say("".join(traceback.format_exception(error)).rstrip())

    from phenocast.errors import PhenocastError

    if isinstance(error, PhenocastError) and error.exit_code != OUR_FAULT:
        faults = [str(fault) for fault in getattr(error, "faults", ())] or [str(error)]
        problems(faults, getattr(error, "count", 1))
        return int(error.exit_code)
    if isinstance(error, OSError) and error.errno in _OF_THE_DISK:
        where = error.filename or "standard output"  # every other place is named where it is met
        problem(f"{where}: {os.strerror(error.errno)}; nothing was written there")
        return REFUSED
    if isinstance(error, MemoryError):
        problem(
            "not enough memory for this run; close other programs, or ask for less: fewer years of "
            "weather, fewer blocks, or fewer draws where the command has --draws"
        )
        return NO_ANSWER
    _our_fault(error)
    return OUR_FAULT


def _show_usage(error: click.UsageError) -> None:
    """Print the usage line of the command and what was wrong with the call."""
    if type(error).__name__ == "NoArgsIsHelpError":  # its message is the whole help page
        say(error.format_message())
        return
    if error.ctx is not None:
        say(error.ctx.get_usage())
        say(f"Try '{error.ctx.command_path} --help' for help.")
    problem(error.format_message())


def _our_fault(error: BaseException) -> None:
    """Tell the user that the fault is ours, and what to send to whom."""
    import platform
    import traceback

    from phenocast import __version__

    frames = [
        frame
        for frame in traceback.extract_tb(error.__traceback__)
        if f"{os.sep}phenocast{os.sep}" in frame.filename
    ]
    place = ""
    if frames:
        inside = frames[-1].filename.rsplit(f"{os.sep}phenocast{os.sep}", 1)[-1]
        place = f" at phenocast/{inside.replace(os.sep, '/')}:{frames[-1].lineno}"
    detail = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
    problem(
        f"this is a fault of phenocast, not of your input: {detail}{place}. "
        "Please report it to whoever you had phenocast from (its README says where), with the "
        "command you gave and this line "
        f"(phenocast {__version__}, Python {platform.python_version()}, {platform.system()}). "
        "PHENOCAST_DEBUG=1 in the environment shows the whole trace."
    )


@contextmanager
def _termination_cleans_up() -> Iterator[None]:
    """Turn a termination signal into an exit, so that unfinished output is removed first."""

    def leave(_signal: int, _frame: FrameType | None) -> None:
        sys.exit(TERMINATED)

    try:
        before = signal.signal(signal.SIGTERM, leave)
    except ValueError:  # not the main thread: whoever runs us there handles signals
        yield
        return
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}


class Command(click.Command):
    """A command whose help opens with lines that can be pasted and run.

    Parameters
    ----------
    paste : sequence of str
        The lines.
    """

    def __init__(self, *args: Any, paste: Sequence[str] = (), **kwargs: Any) -> None:
        kwargs.setdefault("context_settings", CONTEXT)
        super().__init__(*args, **kwargs)
        self.paste = tuple(paste)

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the lines to paste, then the help of every click command."""
        for line in self.paste:
            formatter.write(f"{line}\n")
        formatter.write("\n")
        super().format_help(ctx, formatter)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command, once it is sure that no output lies where an input does."""
        from phenocast.cli.apart import keep_apart

        keep_apart(ctx)
        return super().invoke(ctx)

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run the command by itself, with the exit codes of the group."""
        return _ended(super().main, args, kwargs)


def _ended(run: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]) -> Any:
    """Run a click command; unless told otherwise, end the process with what its result means."""
    if not kwargs.pop("standalone_mode", True):
        return run(*args, standalone_mode=False, **kwargs)
    return run_to_exit(lambda: run(*args, standalone_mode=False, **kwargs))
