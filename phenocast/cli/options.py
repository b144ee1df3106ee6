"""Options that several commands share, each written once, and how a manifest holds them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from phenocast import io

if TYPE_CHECKING:
    from phenocast.errors import Fault


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

records_option = click.option(
    "--records",
    type=FilePath("FILE"),
    metavar="FILE",
    help="What was seen in the blocks since planting, as `phenocast template records` shows; it "
    "goes before the key records of SEASON.",
)

"""--records, what was seen in the season."""

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


LARGEST_WHOLE = 2**32

"""Whole numbers of a manifest lie below this."""


@dataclass(frozen=True)
class Kind:
    """A kind of option: ``holds`` says whether JSON holds one, ``made`` makes its value of that."""

    holds: Callable[[Any], object]
    allowed: str
    made: Callable[[Any], Any] = lambda value: value

    def read(self, value: object) -> Any:
        """Value of what JSON holds; ValueError where it is none."""
        if not self.holds(value):
            raise ValueError(self.allowed)
        return self.made(value)


def _day(value: str) -> date:
    from phenocast.season.kinds import read_day

    return read_day(value)


def _whole(least: int) -> Kind:
    allowed = f"a whole number, {least} or more"
    return Kind(lambda value: type(value) is int and least <= value < LARGEST_WHOLE, allowed)


COUNT = _whole(1)

SEED = _whole(0)

AMOUNT = Kind(
    lambda value: type(value) in (int, float) and 0.0 <= value < math.inf,
    "a number, 0 or more",
    float,
)

TEXT = Kind(lambda value: isinstance(value, str) and value, "a text")

PATH = Kind(TEXT.holds, TEXT.allowed, Path)

AMOUNTS = Kind(
    lambda value: (
        isinstance(value, dict)
        and all(name and AMOUNT.holds(amount) for name, amount in value.items())
    ),
    "names with a number each, 0 or more",
    lambda value: {name: float(amount) for name, amount in value.items()},
)

DAY = Kind(lambda value: isinstance(value, str), "a day, as 2026-11-20", _day)

FLAG = Kind(lambda value: isinstance(value, bool), "true or false")


def list_of(kind: Kind, allowed: str) -> Kind:
    """Return the kind of a list of one or more."""
    return Kind(
        lambda value: isinstance(value, list) and value and all(map(kind.holds, value)), allowed
    )


TEXTS = list_of(TEXT, "a list of texts")


def one_of(*allowed: str) -> Kind:
    """Return the kind of a text that is one of a few.

    Examples
    --------
    >>> one_of("metric", "us").read("us"), one_of("metric", "us").allowed
    ('us', 'metric or us')
    """
    return Kind(lambda value: value in allowed, " or ".join(allowed))


def or_none(kind: Kind) -> Kind:
    """Return a kind that may also be left open.

    Examples
    --------
    >>> print(or_none(COUNT).read(None))
    None
    """
    return Kind(
        lambda value: value is None or kind.holds(value),
        f"{kind.allowed}, or null",
        lambda value: None if value is None else kind.made(value),
    )


def options_read(
    given: Mapping[str, Any],
    kinds: Mapping[str, Kind],
    where: str,
    called: Sequence[click.Parameter] = (),
) -> tuple[dict[str, Any], list[Fault]]:
    """Return the options of a manifest, and the faults of those that are not what they may be.

    Parameters
    ----------
    given : mapping
        As the manifest holds them.
    kinds : mapping of str to Kind
        What the command takes; other names are left alone.
    where : str
        The manifest, for messages.
    called : sequence of click.Parameter
        Of the command: ranges and choices on its command line hold for the manifest too.

    Examples
    --------
    >>> kinds = {"draws": COUNT, "seed": SEED}
    >>> options, faults = options_read({"draws": 5, "seed": -1}, kinds, "m")
    >>> options, faults[0].where, faults[0].allowed
    ({'draws': 5}, 'm: options.seed', 'a whole number, 0 or more')
    """
    from phenocast.errors import Fault

    options: dict[str, Any] = {}
    faults = []
    limits = {
        one.name: one.type
        for one in called
        if isinstance(one.type, click.IntRange | click.FloatRange | click.Choice)
    }
    for name, kind in kinds.items():
        allowed = kind.allowed
        try:
            options[name] = value = kind.read(given.get(name))
            for one in value if isinstance(value, list) else [value]:
                if name in limits and one is not None:
                    limits[name].convert(one, None, None)
        except click.BadParameter as error:
            allowed = error.message
        except (TypeError, ValueError, OverflowError):
            pass
        else:
            continue
        faults.append(
            Fault("not an option of the command", f"{where}: options.{name}", given.get(name),
                  allowed)
        )  # fmt: skip
    return options, faults
