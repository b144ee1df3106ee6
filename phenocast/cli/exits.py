"""The one place where an error becomes an exit code and a message.

Codes: 0 done, 1 a fault of phenocast, 2 usage, 3 input refused, 4 no answer, 130 interrupted.
"""

from __future__ import annotations

import errno
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import NoReturn

import click

from phenocast.cli import console

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
        console.problem("interrupted; no unfinished output is left behind")
        return INTERRUPTED
    if isinstance(error, click.UsageError):
        _show_usage(error)
        return USAGE
    if isinstance(error, click.ClickException):
        console.problem(error.format_message())
        return REFUSED if isinstance(error, click.FileError) else int(error.exit_code)
    if isinstance(error, OSError) and error.errno == errno.EPIPE:
        # The reader of a pipe has seen enough; a flush at exit must not complain either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    if os.environ.get("PHENOCAST_DEBUG") == "1":
        import traceback

        console.say("".join(traceback.format_exception(error)).rstrip())

    from phenocast.errors import PhenocastError

    if isinstance(error, PhenocastError) and error.exit_code != OUR_FAULT:
        faults = [str(fault) for fault in getattr(error, "faults", ())] or [str(error)]
        console.problems(faults, getattr(error, "count", 1))
        return int(error.exit_code)
    if isinstance(error, OSError) and error.errno in _OF_THE_DISK:
        where = error.filename or "standard output"  # every other place is named where it is met
        console.problem(f"{where}: {os.strerror(error.errno)}; nothing was written there")
        return REFUSED
    if isinstance(error, MemoryError):
        console.problem(
            "not enough memory for this run; close other programs, or ask for less: fewer years of "
            "weather, fewer blocks, or fewer draws where the command has --draws"
        )
        return NO_ANSWER
    _our_fault(error)
    return OUR_FAULT


def _show_usage(error: click.UsageError) -> None:
    """Print the usage line of the command and what was wrong with the call."""
    if type(error).__name__ == "NoArgsIsHelpError":  # its message is the whole help page
        console.say(error.format_message())
        return
    if error.ctx is not None:
        console.say(error.ctx.get_usage())
        console.say(f"Try '{error.ctx.command_path} --help' for help.")
    console.problem(error.format_message())


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
    console.problem(
        f"this is a fault of phenocast, not of your input: {detail}{place}. "
        f"Please report it {_where_to_report()}, with the command you gave and this line "
        f"(phenocast {__version__}, Python {platform.python_version()}, {platform.system()}). "
        "PHENOCAST_DEBUG=1 in the environment shows the whole trace."
    )


def _where_to_report() -> str:
    """Address for reports, as the installed package states it."""
    from importlib import metadata

    try:
        urls = metadata.metadata("phenocast").get_all("Project-URL") or []
    except metadata.PackageNotFoundError:
        urls = []
    for entry in urls:
        label, _, url = str(entry).partition(",")
        if label.strip().lower() in {"issues", "bug tracker", "tracker"}:
            return f"at {url.strip()}"
    return "to whoever you had phenocast from (its README says where)"


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
