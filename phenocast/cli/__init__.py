"""The commands of phenocast: what a person types, and what comes back.

Results go to standard output or under ``--out``; everything else goes to standard error. Exit
codes: 0 done, 1 a fault of phenocast, 2 usage, 3 input refused, 4 no answer, 130 interrupted.
A command is loaded when it is called, so that ``phenocast --help`` imports click and nothing else.
"""

from __future__ import annotations

import gc
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
