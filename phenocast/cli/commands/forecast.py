"""``phenocast forecast``: week of first pick and weekly fruit."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast.cli import running
from phenocast.cli.again import COUNT, DAY, SEED
from phenocast.cli.console import note
from phenocast.cli.group import Command
from phenocast.cli.options import (
    as_of_option,
    draws_option,
    force_option,
    json_option,
    out_folder_option,
    print_json,
    season_argument,
    seed_option,
)
from phenocast.cli.pages import PAGE_OPTIONS, may_write_page, page_options, write_page

if TYPE_CHECKING:
    from phenocast.io import OutputFolder


REPORT = "report.html"


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
@as_of_option
@draws_option
@seed_option
@out_folder_option(required=False)
@page_options
@json_option
@click.option("--assumed", is_flag=True, help="List every assumed number below the text.")
@force_option
def command(
    season: Path,
    as_of: date | None,
    draws: int,
    seed: int,
    out: Path | None,
    report: Path | None,
    language: str,
    units: str,
    as_json: bool,
    assumed: bool,
    force: bool,
) -> None:
    """Forecast every block of SEASON: first pick by ISO week, crown heat, weekly fruit and trays.

    Weather is what was observed to the issue date, then the outlook where one is stated, then each
    past year in turn. With --out the folder holds forecast.json, forecast.txt, report.html and
    manifest.json; with --report the page is written alone.
    """
    may_write_page(report, force=force)
    if out is None:
        loaded = running.load(season)
        issued = running.issue_date(loaded, as_of)
        document = running.forecast_document(loaded, issued, draws, seed)
    else:
        from phenocast.io import OutputFolder

        with OutputFolder(out, force=force) as folder:
            document = produce(folder, season, as_of, draws, seed, language, units)
        note(f"{out}: forecast.json, forecast.txt, {REPORT}, manifest.json")
    write_page(report, lambda: page_of(document, language, units), force=force)
    if as_json:
        print_json(document)
        return
    from phenocast.report.text import forecast_text

    click.echo(forecast_text(document, list_assumed=assumed), nl=False)


def page_of(document: dict[str, Any], language: str, units: str) -> str:
    """Page of a forecast."""
    from phenocast.report.forecast_page import forecast_page

    return forecast_page(document, language=language, units=units)


def produce(
    folder: OutputFolder,
    season: Path,
    as_of: date | None,
    draws: int,
    seed: int,
    language: str,
    units: str,
) -> dict[str, Any]:
    """Write the files of a forecast into a folder, and return its document."""
    from phenocast.io import write_manifest

    loaded = running.load(season)
    issued = running.issue_date(loaded, as_of)
    document = running.forecast_document(loaded, issued, draws, seed)
    running.write_forecast_files(folder, document, REPORT, language, units)
    write_manifest(
        folder,
        "forecast",
        options={"as_of": issued, "draws": draws, "seed": seed, "language": language,
                 "units": units},
        seed=seed,
        season=loaded.season,
        inputs=loaded.inputs,
        warnings=running.document_warnings(document),
    )  # fmt: skip
    return document


OPTIONS = {"as_of": DAY, "draws": COUNT, "seed": SEED, **PAGE_OPTIONS}
ROLES = ("season",)


def again(
    folder: OutputFolder, options: Mapping[str, Any], inputs: Mapping[str, tuple[Path, ...]]
) -> None:
    """Write the files of an earlier forecast again, from the options in its manifest."""
    produce(folder, inputs["season"][0], **options)
