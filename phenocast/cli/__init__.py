"""The commands of phenocast: what a person types, and what comes back.

Results go to standard output or under ``--out``; everything else goes to standard error. Exit
codes: 0 done, 1 a fault of phenocast, 2 usage, 3 input refused, 4 no answer, 130 interrupted.
A command is loaded when it is called, so that ``phenocast --help`` imports click and nothing else.
"""

import gc
import os
import sys
from typing import NoReturn

__all__ = ["main"]


def main() -> NoReturn:
    """Entry point of the ``phenocast`` command; always ends the process with an exit code.

    Raises
    ------
    SystemExit
        With the exit code of the command.
    """
    # One command makes hundreds of thousands of objects while it loads its libraries, and hardly a
    # cycle: looking for those now and then is enough, and saves a twentieth of the time.
    gc.set_threshold(700_000, 50, 50)
    _open_streams()
    try:
        from phenocast.cli.group import cli
    except KeyboardInterrupt:  # before there is anybody to handle it
        raise SystemExit(130) from None
    try:
        cli.main(prog_name="phenocast")
    finally:
        # Python looks for cycles several times more while it ends, through every object of every
        # library: up to a tenth of a forecast, for memory that the system takes back anyway.
        gc.freeze()
    raise SystemExit(0)  # main of a click group never returns; this tells the type checker


def _open_streams() -> None:
    """Give standard streams that were closed to nowhere: else the next file takes their number.

    What libraries print would then go into that file.
    """
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest number that is free
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
            print(f"phenocast: {name} is closed; what goes there is lost", file=sys.stderr)
