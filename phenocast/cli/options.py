"""Options that several commands share, each written once."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from phenocast import io

F = TypeVar("F", bound=Callable[..., Any])


if TYPE_CHECKING:
    DayBase = click.ParamType[date]
else:
    DayBase = click.ParamType  # click made it generic later than the oldest release we run on


class Day(DayBase):
    """A calendar day, ISO 8601."""

    name = "DATE"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """Day of a text such as 2026-11-20."""
        if isinstance(value, date):
            return value
        from phenocast.season.kinds import read_day

        try:
            return read_day(str(value))
        except ValueError as error:
            self.fail(f"'{value}': {error}; a day is written year-month-day, as 2026-11-20, and "
                      "lies in the years 1900 to 2100", param, ctx)  # fmt: skip


class Amount(click.FloatRange):
    """A number within a range; NaN, which no range of click keeps out, is none."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Number of a text."""
        number = super().convert(value, param, ctx)
        if not math.isfinite(number):
            self.fail(f"{value} is not a finite number", param, ctx)
        return number


class FilePath(click.Path):
    """A path that is read; whether it can be is found out where it is opened."""

    def __init__(self, name: str) -> None:
        super().__init__(path_type=Path)
        self.name = name

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Path of a text; an empty one would stand for the working directory."""
        if not str(value):
            self.fail("the name is empty; name a file or a folder", param, ctx)
        return super().convert(value, param, ctx)


class OutPath(FilePath):
    """A path that is written; `phenocast.cli.apart` keeps it off everything that is read."""


season_argument = click.argument("season", type=FilePath("FILE"), metavar="SEASON")
"""SEASON, the season file."""
as_of_option = click.option(
    "--as-of",
    type=Day(),
    metavar="DATE",
    help="Last day whose observed weather is used, as 2026-11-20. Default: the last complete "
    "day of the observed weather; without observed weather, the day before the first planting.",
)
"""--as-of, the issue date."""
draws_option = click.option(
    "--draws",
    type=click.IntRange(1, 10_000),
    metavar="N",
    default=200,
    show_default=True,
    help="Draws of what is not known about plants and films, for each possible season.",
)
"""--draws, draws of the parameters."""
seed_option = click.option(
    "--seed",
    type=click.IntRange(0, 2**32 - 1),
    metavar="N",
    default=0,
    show_default=True,
    help="Seed of the draws; the same seed gives the same figures to the last digit.",
)
"""--seed of all draws."""


def _use_workers(ctx: click.Context, _: click.Parameter, count: int | None) -> None:
    from phenocast._parallel import workers

    ctx.with_resource(workers(count))


workers_option = click.option(
    "--workers",
    type=click.IntRange(1, 256),
    metavar="N",
    expose_value=False,
    callback=_use_workers,
    help="How many share the work; default one for each processor that may be used.",
)
"""--workers, how many share the work; it is in force while the command runs."""
force_option = click.option(
    "--force", is_flag=True, help="Replace output of an earlier run that is in the way."
)
"""--force, replace output that exists."""
json_option = click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="Print exactly one JSON document (with schema_version) instead of text.",
)
"""--json, one document on standard output."""


def out_folder_option(*, required: bool) -> Callable[[F], F]:
    """--out, a folder of results."""
    return click.option(
        "--out",
        type=OutPath("DIR"),
        metavar="DIR",
        required=required,
        help="Folder to write the files and their manifest.json into.",
    )


def print_json(value: Any) -> None:
    """Print one JSON document on standard output, in UTF-8 whatever the terminal is set to."""
    click.echo(io.to_json(value).encode("utf-8"), nl=False)
