"""``phenocast labour``: people for the fruit of each week."""

from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import click

from phenocast import io, report
from phenocast.cli import running
from phenocast.cli.console import Command, note, without_library_output
from phenocast.cli.options import (
    AMOUNT,
    COUNT,
    DAY,
    SEED,
    Amount,
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
    "labour",
    cls=Command,
    paste=(
        "phenocast demo --out phenocast-demo",
        "phenocast labour phenocast-demo/season.toml",
    ),
    short_help="Pickers and packers needed each week.",
)
@season_argument
@records_option
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
@workers_option
@force_option
def command(
    season: Path,
    report: Path | None,
    out: Path | None,
    language: str,
    units: str,
    as_json: bool,
    force: bool,
    **asked: Any,
) -> None:
    """Plan the people of every week of SEASON at least expected cost, from its table [labour].

    Weekly trays of all blocks over every possible season become hours, and hours a core crew with
    notice and contracts, overtime and temporary workers. With --as-of the plan starts on that day;
    earlier weeks and weeks inside the notice stay as crew_so_far states them. Heat figures are a
    planning aid, not a safety programme. With --out the folder holds labour.json, labour.txt,
    report.html and manifest.json; with --report the page is written alone.
    """
    VIEW.run(
        partial(answer, season, **asked), out=out, language=language, units=units,
        as_json=as_json, force=force, report=report,
    )  # fmt: skip


def answer(
    season: Path,
    *,
    records: Path | None,
    as_of: date | None,
    draws: int,
    seed: int,
    scenarios: int,
    time_limit: float,
) -> Answer:
    """Plan of a season, with what its manifest tells."""
    from phenocast.forecast.packout import tray_of
    from phenocast.planning.labour.document import labour_document
    from phenocast.planning.labour.plan import check_before, plan_labour, stated_labour
    from phenocast.planning.picking import shipped_rates

    loaded = running.load(season, records)
    issued = running.issue_date(loaded, as_of)
    labour, rates = stated_labour(loaded.season), shipped_rates()
    # What is stated and what the files hold is checked before the long work starts.
    weeks = running.season_weeks(loaded.season)
    check_before(labour, weeks, issued)
    fit = io.read_tallies(loaded.season, season.parent, tray_of(labour))
    curve = io.read_prices(loaded.season, season.parent, weeks)
    forecast = running.season_forecast(loaded, issued, draws, seed)
    note(f"planning the crew over {scenarios} seasons that stand for all")
    with without_library_output():
        plan = plan_labour(
            forecast,
            as_of=issued,
            rates=rates if fit is None else fit.applied_to(rates),
            curve=curve,
            scenarios=scenarios,
            time_limit_s=time_limit,
        )
    document = io.plain_document(labour_document(forecast, plan, fit))
    options = {"as_of": issued, "draws": draws, "seed": seed, "scenarios": scenarios,
               "time_limit": time_limit}  # fmt: skip
    return Answer(document, options, loaded.inputs, loaded.season)


VIEW = View(
    "labour",
    lambda: {"report.html": report.labour.labour_parts},
    options={"as_of": DAY, "draws": COUNT, "seed": SEED, "scenarios": COUNT, "time_limit": AMOUNT},
    roles={"season": True, "records": False},
    make=lambda inputs, **options: answer(
        inputs["season"][0], records=next(iter(inputs["records"]), None), **options
    ),
)
