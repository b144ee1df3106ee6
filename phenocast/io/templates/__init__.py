"""Starter files, and the data dictionary of all tables, told from the contracts."""

import math
import textwrap
from dataclasses import dataclass
from importlib import resources

from phenocast.errors import refuse, unknown_name
from phenocast.tables import (
    CANOPY_COVER,
    CHAMBER_TRIALS,
    HARVEST_RECORDS,
    PRICES,
    SENSOR_READINGS,
    TALLIES,
    TRIAL_PLOTS,
    WEATHER_RECORDS,
    Column,
    TableContract,
)

_FILES = {
    "season": "season.toml",
    "weather": "weather.csv",
    "records": "records.csv",
    "chamber": "chamber.csv",
    "sensors": "sensors.csv",
    "prices": "prices.csv",
    "tallies": "tallies.csv",
    "trial": "trial.csv",
    "dictionary": "dictionary.md",
}

TEMPLATE_NAMES = tuple(_FILES)


def template_file(name: str) -> str:
    """Name that a template's file should have.

    Examples
    --------
    >>> template_file("season")
    'season.toml'
    """
    refuse((name not in _FILES, unknown_name("template", name, TEMPLATE_NAMES)))
    return _FILES[name]


def template(name: str) -> str:
    """Text of a commented starter file.

    Parameters
    ----------
    name : str
        "season", "weather", "records", "chamber", "sensors", "prices", "tallies", "trial", or
        "dictionary", the data dictionary of all tables, which is made of their contracts.

    Returns
    -------
    str

    Raises
    ------
    InputError
        Where there is no such template; the nearest is suggested.

    Examples
    --------
    >>> template("season").splitlines()[0][:27]
    '# One season of one farm. E'
    """
    if name == "dictionary":
        return dictionary()
    file = resources.files(__package__ or "phenocast.io.templates") / template_file(name)
    return file.read_text(encoding="utf-8")


_WIDTH = 100


@dataclass(frozen=True)
class RecordTable:
    """One kind of records.

    Parameters
    ----------
    title : str
    template : str
        Name of its starter, `phenocast template NAME`; "" where there is none.
    contract : TableContract
    row : str
        What one row is.
    readers : str
        Commands that read it.
    remarks : str
        What the columns by themselves do not tell.
    """

    title: str
    template: str
    contract: TableContract
    row: str
    readers: str
    remarks: str = ""


RECORD_TABLES = (
    RecordTable(
        "Picks, flowers and dates", "records", HARVEST_RECORDS,
        "a block (or one of its plots) and a visit", "fit, hindcast, forecast, labour, compare",
        "`marketable` and `fruit` are weights of the whole plot and need a unit in the header "
        "(kg, g, lb, oz); all other columns may have one. Cultivar, film, planting date, "
        "transplant type and plants of a block stand in its season file and not here. A fit "
        "refuses a file with a wrong row, and lists visits after the weather or the season ends as "
        "not used. A forecast uses what can be used and lists the rest.",
    ),
    RecordTable(
        "Trial layout and what was measured", "trial", TRIAL_PLOTS, "a plot", "trial",
        "Beside these stands the column that was measured, under any name and in any unit "
        "(`--response`); an empty cell is a lost plot. The three treatments may have other names "
        "(`--block`, `--whole-plot`, `--sub-plot`).",
    ),
    RecordTable(
        "Chamber trials", "chamber", CHAMBER_TRIALS, "a treatment of a cultivar", "fit --chamber",
        "One of `flowering` and `flowering_pct` is needed, not both.",
    ),
    RecordTable(
        "Sensor log of a bed", "sensors", SENSOR_READINGS, "a block and a reading", "fit",
        "Film and cover at the time stand in the season file (`film`, `row_cover`, `canopy_file` "
        "of the block).",
    ),
    RecordTable(
        "Weather of a station", "weather", WEATHER_RECORDS,
        "an hour (or a shorter or longer interval, or a day)", "every command, by the season file",
        "Names and units are those that are kept; a header such as `air temp [degF]`, `RH` or "
        "`wind [mph]` is understood, and the header of the time tells its clock and whether a "
        "stamp is start or end: `time [UTC, start]`. Air temperature is needed, hourly or as the "
        "highest and lowest of the day; what else is missing is estimated and flagged.",
    ),
    RecordTable(
        "Prices", "prices", PRICES, "an ISO week", "labour, compare",
        "In the grower's own currency.",
    ),
    RecordTable("Tallies of crews", "tallies", TALLIES, "a block and a day", "labour"),
    RecordTable(
        "Measured canopy cover", "", CANOPY_COVER, "a day on which the cover of a block was read",
        "every command, by `canopy_file` of a block",
    ),
)  # fmt: skip

# Numbered while reading; no column of a file.
_INTERNAL = ("row",)

_RANGE = {"day": "a day", "time": "a time", "week": "an ISO week, such as 2027-W03", "text": "text"}


def dictionary() -> str:
    """Return the data dictionary as a page of Markdown.

    Examples
    --------
    >>> [line for line in dictionary().splitlines() if line.startswith("## ")][1]
    '## Trial layout and what was measured'
    """
    lines = [
        "# Data dictionary: the tables of records that phenocast reads",
        "",
        *_wrapped(
            "CSV or Parquet, one table a file. Times and days as year-month-day, decimals with a "
            "point; lines that begin with # are comments. An optional column may be left out, or "
            "have empty cells. A header may state another unit of the same kind in brackets: "
            "fruit_mass_g [oz]. A value outside its range, of another kind, or missing where it "
            "must not be, is refused with its row and column, and so is a "
            "column of another name, but in files of weather and trials. `phenocast template NAME` "
            "writes a commented file to start from. This page is made of the contracts that "
            "the readers hold files to."
        ),
    ]
    for table in RECORD_TABLES:
        lines += ["", *_section(table)]
    return "\n".join(lines) + "\n"


def _section(table: RecordTable) -> list[str]:
    lines = [
        f"## {table.title}",
        "",
        *_wrapped(
            f"One row is {table.row}. "
            + (f"Starter: `phenocast template {table.template}`. " if table.template else "")
            + f"Read by: {table.readers}."
        ),
        "",
    ]
    for column in table.contract.columns:
        if column.name not in _INTERNAL:
            lines += _wrapped(_told(column), "  ", "- ")
    if table.contract.extra:
        lines += _wrapped("any other column is let through", "  ", "- ")
    if table.remarks:
        lines += ["", *_wrapped(table.remarks)]
    return lines


def _told(column: Column) -> str:
    """One column: name, unit, range, whether it must be there, meaning."""
    unit = f" [{column.unit}]" if column.unit else ""
    if column.kind in ("number", "whole"):
        low, high = (
            f"{end:.10g}" if math.isfinite(end) else "" for end in (column.lower, column.upper)
        )
        span = f"{low} to {high}"
        if column.kind == "whole":
            span += ", whole"
    else:
        span = _RANGE[column.kind]
    must = "required" if column.required else "optional"
    if column.required and column.nullable:
        must += ", may be empty"
    elif not column.required and not column.nullable:
        must += ", but without empty cells"
    return f"`{column.name}`{unit}: {column.meaning}. {span[0].upper()}{span[1:]}; {must}."


def _wrapped(text: str, indent: str = "", bullet: str = "") -> list[str]:
    return textwrap.wrap(
        text, _WIDTH, initial_indent=bullet, subsequent_indent=indent, break_on_hyphens=False,
        break_long_words=False,
    )  # fmt: skip
