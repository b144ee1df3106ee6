"""``phenocast labour``: people for the fruit of each week."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast.cli import running
from phenocast.cli.again import AMOUNT, COUNT, DAY, SEED
from phenocast.cli.answer_files import write_answer
from phenocast.cli.console import note, without_library_output
from phenocast.cli.group import Command
from phenocast.cli.options import (
    Amount,
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


@click.command(
    "labour",
    cls=Command,
    paste=(
        "phenocast demo --out phenocast-demo",
        "phenocast labour phenocast-demo/season.toml",
    ),
    short_help="Pickers and packers needed each week.",
)
@season_argument
@as_of_option
@draws_option
@seed_option
@click.option(
    "--scenarios",
    type=click.IntRange(1, 500),
    metavar="N",
    default=50,
    show_default=True,
    help="Seasons that stand for all in the plan; the error of this is printed.",
)
@click.option(
    "--time-limit",
    type=Amount(1.0, 3600.0),
    metavar="SECONDS",
    default=30.0,
    show_default=True,
    help="For each solution of the program; the gap that is left is printed. A plan that it cut "
    "short may come out otherwise in a rerun.",
)
@page_options
@out_folder_option(required=False)
@json_option
@force_option
def command(
    season: Path,
    as_of: date | None,
    draws: int,
    seed: int,
    scenarios: int,
    time_limit: float,
    report: Path | None,
    language: str,
    units: str,
    out: Path | None,
    as_json: bool,
    force: bool,
) -> None:
    """Plan the people of every week of SEASON at least expected cost, from its table [labour].

    Weekly trays of all blocks over every possible season become hours, and hours a core crew with
    notice and contracts, overtime and temporary workers. With --as-of the plan starts on that day;
    earlier weeks and weeks inside the notice stay as crew_so_far states them. Heat figures are a
    planning aid, not a safety programme. With --out the folder holds labour.json, labour.txt,
    report.html and manifest.json; with --report the page is written alone.
    """
    from phenocast.report.labour_text import labour_text

    may_write_page(report, force=force)
    if out is None:
        loaded = running.load(season)
        issued = running.issue_date(loaded, as_of)
        document = plan_document(loaded, season, issued, draws, seed, scenarios, time_limit)
    else:
        from phenocast.io import OutputFolder

        with OutputFolder(out, force=force) as folder:
            document = produce(
                folder, season, as_of, draws, seed, scenarios, time_limit, language, units
            )
        note(f"{out}: labour.json, labour.txt, report.html, manifest.json")
    write_page(report, lambda: page_of(document, language, units), force=force)
    if as_json:
        print_json(document)
        return
    click.echo(labour_text(document), nl=False)


def page_of(document: dict[str, Any], language: str, units: str) -> str:
    """Page of a plan, which is made of its document alone."""
    from phenocast.report.labour_page import labour_page

    return labour_page(document, language=language, units=units)


def plan_document(
    loaded: running.Loaded,
    season: Path,
    issued: date,
    draws: int,
    seed: int,
    scenarios: int,
    time_limit: float,
) -> dict[str, Any]:
    """Document of the plan of a season."""
    from phenocast.forecast.packout import tray
    from phenocast.io import plain_data, read_prices, read_tallies
    from phenocast.planning.labour import check_before, plan_labour
    from phenocast.planning.labour_document import labour_document
    from phenocast.planning.picking import shipped_rates

    labour = running.stated_labour(loaded.season)
    rates = shipped_rates()
    # What is stated and what the files hold is checked before the long work starts.
    weeks = running.season_weeks(loaded.season)
    check_before(labour, weeks, issued)
    fit = read_tallies(
        loaded.season, season.parent, tray(labour.pack, labour.tray_kg, labour.over_pack)
    )
    if fit is not None:
        rates = fit.applied_to(rates)
    curve = read_prices(loaded.season, season.parent, weeks)
    forecast = running.season_forecast(loaded, issued, draws, seed)
    note(f"planning the crew over {scenarios} seasons that stand for all")
    with without_library_output():
        plan = plan_labour(
            forecast,
            as_of=issued,
            rates=rates,
            curve=curve,
            scenarios=scenarios,
            time_limit_s=time_limit,
        )
    document = plain_data(labour_document(forecast, plan, fit))
    assert isinstance(document, dict)
    return document


def produce(
    folder: OutputFolder,
    season: Path,
    as_of: date | None,
    draws: int,
    seed: int,
    scenarios: int,
    time_limit: float,
    language: str,
    units: str,
) -> dict[str, Any]:
    """Write the files of a plan into a folder, and return its document."""
    from phenocast.io import write_manifest
    from phenocast.report.labour_text import labour_text

    loaded = running.load(season)
    issued = running.issue_date(loaded, as_of)
    document = plan_document(loaded, season, issued, draws, seed, scenarios, time_limit)
    pages = {"report.html": page_of(document, language, units)}
    write_answer(folder, "labour", document, labour_text(document), pages)
    write_manifest(
        folder,
        "labour",
        options={"as_of": issued, "draws": draws, "seed": seed, "scenarios": scenarios,
                 "time_limit": time_limit, "language": language, "units": units},
        seed=seed,
        season=loaded.season,
        inputs=loaded.inputs,
        warnings=document["warnings"],
    )  # fmt: skip
    return document


OPTIONS = {
    "as_of": DAY, "draws": COUNT, "seed": SEED, "scenarios": COUNT, "time_limit": AMOUNT,
    **PAGE_OPTIONS,
}  # fmt: skip
ROLES = ("season",)


def again(
    folder: OutputFolder, options: Mapping[str, Any], inputs: Mapping[str, tuple[Path, ...]]
) -> None:
    """Write the files of an earlier plan again, from the options in its manifest."""
    produce(folder, inputs["season"][0], **options)
