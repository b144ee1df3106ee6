"""``phenocast forecast``: week of first pick and weekly fruit."""

from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import click

from phenocast import report
from phenocast.cli import running
from phenocast.cli.console import Command
from phenocast.cli.options import (
    COUNT,
    DAY,
    SEED,
    as_of_option,
    draws_option,
    force_option,
    json_option,
    out_folder_option,
    records_option,
    season_argument,
    seed_option,
    workers_option,
)
from phenocast.cli.pages import Answer, View, page_options


@click.command(
    "forecast",
    cls=Command,
    paste=(
        "phenocast demo --out phenocast-demo",
        "phenocast forecast phenocast-demo/season.toml --out my-forecast",
    ),
    short_help="Week of first pick and weekly fruit of each block.",
)
@season_argument
@records_option
@as_of_option
@draws_option
@seed_option
@out_folder_option(required=False)
@page_options
@json_option
@click.option("--assumed", is_flag=True, help="List every assumed parameter below the text.")
@workers_option
@force_option
def command(
    season: Path,
    assumed: bool,
    report: Path | None,
    out: Path | None,
    language: str,
    units: str,
    as_json: bool,
    force: bool,
    **asked: Any,
) -> None:
    """Forecast every block of SEASON: first pick by ISO week, crown heat, weekly fruit and trays.

    Weather is what was observed to the issue date, then the outlook where one is stated, then each
    past year in turn. With --out the folder holds forecast.json, forecast.txt, report.html and
    manifest.json; with --report the page is written alone.
    """
    VIEW.run(
        partial(answer, season, **asked), out=out, language=language, units=units,
        as_json=as_json, force=force, list_assumed=assumed, report=report,
    )  # fmt: skip


def answer(
    season: Path, *, records: Path | None, as_of: date | None, draws: int, seed: int
) -> Answer:
    """Forecast of a season, with what its manifest tells."""
    loaded = running.load(season, records)
    issued = running.issue_date(loaded, as_of)
    document = running.forecast_document(loaded, issued, draws, seed)
    options = {"as_of": issued, "draws": draws, "seed": seed}
    warnings = running.document_warnings(document)
    return Answer(document, options, loaded.inputs, loaded.season, warnings)


VIEW = View(
    "forecast",
    lambda: {"report.html": report.forecast.forecast_parts},
    options={"as_of": DAY, "draws": COUNT, "seed": SEED},
    roles={"season": True, "records": False},
    make=lambda inputs, **options: answer(
        inputs["season"][0], records=next(iter(inputs["records"]), None), **options
    ),
)
