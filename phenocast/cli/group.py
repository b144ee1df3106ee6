"""The group of commands, each loaded when it is called.

The table below is what ``phenocast --help`` lists; a test holds it against the commands.
"""

import importlib
import os
import sys
import warnings
from typing import Any

import click

from phenocast import __version__
from phenocast.cli import console
from phenocast.cli.console import Command

COMMANDS = {
    "demo": "Run an invented growers' cooperative from end to end.",
    "check": "Say what was understood of season and weather files.",
    "template": "Write a file to start from.",
    "guide": "Show a guide: users, python, methods or tables.",
    "crown": "Hourly film, crown and root-zone temperature of each block.",
    "forecast": "Week of first pick and weekly fruit of each block.",
    "compare": "Planting dates, films and cultivars side by side.",
    "labour": "Pickers and packers needed each week.",
    "trial": "Analysis of a designed film trial.",
    "fit": "Cultivar parameters from past picks, flowers and dates.",
    "rank": "Cultivars by what heat costs them.",
    "hindcast": "Forecasts of past seasons against what was picked.",
    "rerun": "Make the files of an earlier run again, byte for byte.",
}


class LazyGroup(Command, click.Group):
    """A group that imports a command when it is called, never before."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands that work, in the order of the help page."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command; None for a name that is not known."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"phenocast.cli.commands.{cmd_name}")
        command = module.command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that was called; a misspelt one is told the nearest name."""
        name = args[0]
        if name.startswith("-") or name in COMMANDS:
            return super().resolve_command(ctx, args)
        from phenocast.errors import nearest

        close = nearest(name, COMMANDS)
        meant = f" Did you mean '{close}'?" if close else ""
        raise click.UsageError(f"There is no command '{name}'.{meant}", ctx=ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands that work, and apart from them those that do not yet."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))
        with formatter.section("Exit codes"):
            formatter.write_dl(
                [
                    ("0", "done"),
                    ("1", "a fault of phenocast; the message says where to report it"),
                    ("2", "usage: the command was called wrongly"),
                    ("3", "input refused: the message names file, row or key, and what to do"),
                    ("4", "no answer: too many gaps, no convergence, an infeasible plan"),
                    ("130", "interrupted"),
                ]
            )
        with formatter.section("Environment"):
            formatter.write_dl(
                [
                    ("NO_COLOR", "no colour, also on a terminal"),
                    ("PHENOCAST_DEBUG", "1 shows the trace of a fault"),
                ]
            )

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run the command line; ends the process with the exit code of what happened."""
        for stream in (sys.stdout, sys.stderr):
            # A terminal that lacks a letter shows a mark instead of ending the run.
            reconfigure = getattr(stream, "reconfigure", None)
            if reconfigure is not None:
                reconfigure(errors="replace")
        _leave_out_unusable_settings()
        return super().main(*args, **kwargs)


def _leave_out_unusable_settings() -> None:
    """Leave out settings of numba in the environment that it would answer with a traceback."""
    warnings.filterwarnings("ignore", message="Environment variable 'NUMBA_")
    name = "NUMBA_NUM_THREADS"
    try:
        usable = int(os.environ.get(name, "1")) > 0
    except ValueError:
        usable = False
    if not usable:
        console.warn(f"{name}={os.environ.pop(name)} is left out: it takes a whole number above 0")


cli = click.version_option(
    __version__, message="phenocast %(version)s", help="Show the version and leave."
)(
    LazyGroup(
        name="phenocast",
        paste=(
            "phenocast demo --out phenocast-demo",
            "phenocast forecast phenocast-demo/season.toml",
        ),
        help=(
            "From a weather file and a mulch film to the week of first pick of a strawberry block, "
            "and the fruit that follows.\n\n"
            "Results go to standard output or under --out, everything else to standard error."
        ),
    )
)
