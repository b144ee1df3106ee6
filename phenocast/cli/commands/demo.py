"""``phenocast demo``: an invented cooperative from end to end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast import io, report
from phenocast.cli import running
from phenocast.cli.commands import compare, forecast
from phenocast.cli.console import Command, note
from phenocast.cli.options import (
    COUNT,
    DAY,
    SEED,
    draws_option,
    force_option,
    out_folder_option,
    seed_option,
    workers_option,
)
from phenocast.cli.pages import View, language_option, units_option

if TYPE_CHECKING:
    from phenocast.io import OutputFolder

SHIPPED_SEASON = "low_quay.toml"
SEASON = "season.toml"
PAST_RECORDS = "low_quay_records.csv"
MOST_DRAWS_A_WAY = 20
WAYS_TO_PLANT: dict[str, Any] = {
    "block": None, "plant_from": date(2026, 9, 15), "plant_to": date(2026, 10, 27), "every": 7,
    "films": ["black", "white-on-black", "silver", "metallised-striped"],
    "cultivars": ["Marl", "Gneiss", "Basalt", "Tuff"], "transplants": None, "film_costs": {},
    "transplant_costs": {}, "planting_cost": None, "harvest_cost": None, "as_of": None,
}  # fmt: skip
"""What the page to play with holds; fewer draws do, for all options share them."""
PAGES = {
    "index.html": "start here: the answer in two sentences, and a link to every page and file",
    "forecast.html": "the answer as a page for the browser, with pictures; it prints and needs no "
    "network",
    "crown.html": "how hot the crown gets on each film, over the day and the season",
    "compare.html": "options for the first block side by side: fruit, money, risk and regret",
    "explore.html": "a page to play with: planting date, film, cultivar and prices of the first "
    "block",
    "forecast.txt": "the forecast as plain text, every assumed number listed at its end",
    "forecast.json": "the same for programs",
    "compare.json": "every option of the last two pages, for programs",
    "crown.csv": "hourly film, crown and root-zone temperature of each block",
    SEASON: "what was asked: place, weather, beds and blocks; copy it for your own",
    "past/records.csv": "picks of four past seasons, with their season files, for fit, rank and "
    "hindcast",
    "manifest.json": "how it came about; 'phenocast rerun' makes the files again",
}
LINKED = (
    ("forecast.html", "forecast"), ("crown.html", "crown"), ("compare.html", "compare"),
    ("explore.html", "explore"), (SEASON, "season"), ("forecast.json", "forecast_json"),
    ("forecast.txt", "forecast_txt"), ("compare.json", "compare_json"), ("crown.csv", "crown_csv"),
    ("past/records.csv", "past"), ("manifest.json", "manifest"),
)  # fmt: skip
"""Files that the index offers, each with the key of its words."""


@click.command(
    "demo",
    cls=Command,
    paste=(
        "phenocast demo --out phenocast-demo",
        "phenocast check phenocast-demo/season.toml",
    ),
    short_help="Run an invented growers' cooperative from end to end.",
)
@out_folder_option(required=True)
@draws_option
@seed_option
@language_option
@units_option
@workers_option
@force_option
def command(out: Path, draws: int, seed: int, language: str, units: str, force: bool) -> None:
    """Run an invented growers' cooperative from end to end and say where the answer is.

    The folder receives index.html, which links the pages forecast.html, crown.html, compare.html
    and explore.html, the season file and the weather that were run, forecast.json, forecast.txt,
    compare.json, crown.csv and manifest.json, and in past/ the picks and season files of four past
    seasons. Place, blocks, picks and weather are invented: they show
    what phenocast does and prove nothing about how good it is.
    """
    with io.OutputFolder(out, force=force) as folder:
        document = produce(folder, draws, seed, language, units)
    reader = report.reader.Reader(language, units)
    place = f"{document['site']['name']} (invented), as of {document['issue_date']}."
    weather = report.parts.weather_line(document["weather"], reader)
    lines = report.render.item_lines(
        [f"{place} {weather}", report.forecast.overview(document, reader)]
    )
    click.echo("\n".join([*lines, "", "The answer is here:"]))
    for name, meaning in PAGES.items():
        click.echo(f"  {out / name}\n      {meaning}")


def produce(
    folder: OutputFolder, draws: int, seed: int, language: str, units: str
) -> dict[str, Any]:
    """Write season, weather and answers of the demo into a folder; return the forecast."""
    from phenocast.tables import CROWN_TEMPERATURES

    note("copying the season file and the weather of the demo")
    season = copy_season(folder)
    loaded = running.load(season)
    issued = running.issue_date(loaded, None)
    note(
        f"simulating {len(loaded.season.blocks)} blocks under every weather year, {draws} draws "
        f"each; {running.FIRST_RUN_NOTE}"
    )
    document = running.forecast_document(loaded, issued, draws, seed, explain=False)
    copy_past(folder)
    note("writing the answer")
    folder.write("forecast.json", io.plain_to_json(document))
    told = {"language": language, "units": units}
    folder.write("forecast.txt", forecast.VIEW.text(document, language, units))
    folder.write("forecast.html", forecast.VIEW.page("report.html", document, language, units))
    asked = compare.Asked(**WAYS_TO_PLANT, draws=min(draws, MOST_DRAWS_A_WAY), seed=seed)
    options = compare.comparison(loaded, season, asked)
    folder.write("compare.json", io.plain_to_json(options))
    for name, page in (("compare.html", "report.html"), ("explore.html", "explore.html")):
        folder.write(name, compare.VIEW.page(page, options, language, units))
    table = running.crown_rows(loaded, issued)
    io.write_table(table, folder.path / "crown.csv", contract=CROWN_TEMPERATURES)
    beds = running.crown_beds(loaded, issued, table)
    folder.write("crown.html", report.render.to_html(report.crown.crown_parts, beds, **told))
    folder.write(
        "index.html",
        report.render.to_html(partial(report.index.index_parts, files=LINKED), document, **told),
    )
    io.write_manifest(
        folder,
        "demo",
        options={"as_of": issued, "draws": draws, "seed": seed, "language": language,
                 "units": units},
        seed=seed,
        season=loaded.season,
        inputs=[replace(one, path=folder.path / one.path.name) for one in loaded.inputs],
        warnings=running.document_warnings(document),
    )  # fmt: skip
    return document


def copy_season(folder: OutputFolder) -> Path:
    """Copy the season file of the demo and every file that it names; return the season's copy."""
    from phenocast.parameters import shipped

    source = shipped("demo_weather", SHIPPED_SEASON)
    # The comments of the file tell how to run it, so they take the name that it has here.
    folder.write(SEASON, io.read_text(source).replace(SHIPPED_SEASON, SEASON))
    for one in io.season_inputs(source, io.read_season(source)):
        if one.role != "season":
            folder.write(one.path.name, one.path.read_bytes())
    return folder.path / SEASON


def copy_past(folder: OutputFolder) -> None:
    """Copy the invented records of past seasons and their season files into ``past``."""
    from phenocast.parameters import shipped

    source = shipped("calibration", "records")
    for path in sorted(source.glob("*.toml")):
        # the weather lies one folder up here, beside the demo's own season
        text = io.read_text(path).replace("../../demo_weather/", "../")
        folder.write(f"past/{path.name}", text)
    folder.write("past/records.csv", (source / PAST_RECORDS).read_bytes())


def reproduce(
    folder: OutputFolder, options: Mapping[str, Any], _inputs: Mapping[str, tuple[Path, ...]]
) -> None:
    """Write the files of an earlier demo again."""
    produce(folder, options["draws"], options["seed"], options["language"], options["units"])


VIEW = View("demo", dict, {"as_of": DAY, "draws": COUNT, "seed": SEED})
