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
    type=click.FloatRange(1.0, 3600.0),
    metavar="SECONDS",
    default=30.0,
    show_default=True,
    help="For each solution of the program; the gap that is left is printed. A plan that it cut "
    "short may come out otherwise in a rerun.",
)
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
    out: Path | None,
    as_json: bool,
    force: bool,
) -> None:
    """Plan the people of every week of SEASON at least expected cost, from its table [labour].

    Weekly trays of all blocks over every possible season become hours, and hours a core crew with
    notice and contracts, overtime and temporary workers. With --as-of the plan starts on that day;
    earlier weeks and weeks inside the notice stay as crew_so_far states them. Heat figures are a
    planning aid, not a safety programme. With --out the folder holds labour.json, labour.txt and
    manifest.json.
    """
    from phenocast.report.labour_text import labour_text

    if out is None:
        loaded = running.load(season)
        issued = running.issue_date(loaded, as_of)
        document = plan_document(loaded, season, issued, draws, seed, scenarios, time_limit)
    else:
        from phenocast.io import OutputFolder

        with OutputFolder(out, force=force) as folder:
            document = produce(folder, season, as_of, draws, seed, scenarios, time_limit)
        note(f"{out}: labour.json, labour.txt, manifest.json")
    if as_json:
        print_json(document)
        return
    click.echo(labour_text(document), nl=False)


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
    from phenocast.io import plain_data, read_prices, read_tallies
    from phenocast.planning.labour import plan_labour
    from phenocast.planning.labour_document import labour_document
    from phenocast.planning.packing import tray
    from phenocast.planning.picking import shipped_rates

    labour = running.stated_labour(loaded.season)
    rates = shipped_rates()
    # What the files hold is checked before the long work starts.
    fit = read_tallies(
        loaded.season, season.parent, tray(labour.pack, labour.tray_kg, labour.over_pack)
    )
    if fit is not None:
        rates = fit.applied_to(rates)
    curve = read_prices(loaded.season, season.parent, running.season_weeks(loaded.season))
    forecast = running.season_forecast(loaded, issued, draws, seed)
    note(f"planning the crew over {scenarios} seasons that stand for all")
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
) -> dict[str, Any]:
    """Write the files of a plan into a folder, and return its document."""
    from phenocast.io import write_manifest
    from phenocast.report.labour_text import labour_text

    loaded = running.load(season)
    issued = running.issue_date(loaded, as_of)
    document = plan_document(loaded, season, issued, draws, seed, scenarios, time_limit)
    write_answer(folder, "labour", document, labour_text(document))
    write_manifest(
        folder,
        "labour",
        options={"as_of": issued, "draws": draws, "seed": seed, "scenarios": scenarios,
                 "time_limit": time_limit},
        seed=seed,
        season=loaded.season,
        inputs=loaded.inputs,
        warnings=document["warnings"],
    )  # fmt: skip
    return document


OPTIONS = {"as_of": DAY, "draws": COUNT, "seed": SEED, "scenarios": COUNT, "time_limit": AMOUNT}
ROLES = ("season",)


def again(
    folder: OutputFolder, options: Mapping[str, Any], inputs: Mapping[str, tuple[Path, ...]]
) -> None:
    """Write the files of an earlier plan again, from the options in its manifest."""
    produce(folder, inputs["season"][0], **options)
