"""``phenocast rank``: cultivars by what heat costs them."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast.cli import running
from phenocast.cli.again import AMOUNT, COUNT, SEED, TEXT, or_none
from phenocast.cli.answer_files import write_answer
from phenocast.cli.console import Progress, note
from phenocast.cli.group import Command
from phenocast.cli.options import (
    Amount,
    FilePath,
    OutPath,
    force_option,
    json_option,
    out_folder_option,
    print_json,
    seed_option,
)
from phenocast.cli.pages import PAGE_OPTIONS, may_write_page, page_options, write_page

if TYPE_CHECKING:
    from phenocast.calibration.film_split import FilmSplit
    from phenocast.cli.fitted import PastBlocks
    from phenocast.io import InputFile, OutputFolder
    from phenocast.io.output.fit_folder import FitFolder
    from phenocast.parameters import ParameterSet

BY = ("season", "early", "delay")
FIGURE = "caterpillar.svg"


@dataclass(frozen=True)
class Asked:
    """What is asked, as the command line states it; None stands for the shipped scenario."""

    season: Path | None
    block: str | None
    warming: float | None
    days: int | None
    by: str
    seed: int


@click.command(
    "rank",
    cls=Command,
    paste=(
        "phenocast fit phenocast-demo/past/records.csv phenocast-demo/past --out my-fit",
        "phenocast rank my-fit --csv ranks.csv",
    ),
    short_help="Cultivars by what heat costs them.",
)
@click.argument("fit", type=FilePath("DIR"), metavar="FIT_DIR")
@click.option(
    "--season",
    type=FilePath("FILE"),
    metavar="FILE",
    help="Season file of the block in the heat scenario. Default: the first of the fit.",
)
@click.option("--block", metavar="NAME", help="Its block. Default: the first of the season.")
@click.option(
    "--warming",
    type=Amount(0.5, 8.0),
    metavar="DEGC",
    help="How much warmer the air is in the scenario. Default: 3, about what black film adds to "
    "the soil over a reflective one.",
)
@click.option(
    "--days",
    type=click.IntRange(7, 365),
    metavar="N",
    help="For how many days after planting. Default: 60, until leaves shade most of the film.",
)
@click.option(
    "--by",
    type=click.Choice(BY),
    default="season",
    show_default=True,
    help="Rank by the season's fruit lost, by early fruit lost, or by the delay of first pick.",
)
@click.option(
    "--csv", "table", type=OutPath("FILE"), metavar="FILE", help="Write the table to FILE too."
)
@seed_option
@out_folder_option(required=False)
@page_options
@json_option
@force_option
def command(
    fit: Path,
    season: Path | None,
    block: str | None,
    warming: float | None,
    days: int | None,
    by: str,
    table: Path | None,
    seed: int,
    out: Path | None,
    report: Path | None,
    language: str,
    units: str,
    as_json: bool,
    force: bool,
) -> None:
    """Rank the cultivars of a fit by what heat costs them in one stated scenario.

    FIT_DIR is what `phenocast fit` wrote. The scenario grows one block in each of its past years as
    it was, and in warmer air; every cultivar gets the share of fruit that the heat takes, with 80
    and 95 % intervals, its expected rank, its probabilities of being the best and among the best
    three, and whether it is distinguishable from the best. Beside them stand the usual indices from
    raw yields, and what the films did beyond their crown temperature. Ends with code 4 where the
    records of the fit cannot rank, and says which would. With --out the folder holds rank.json,
    rank.txt, rank.csv, caterpillar.svg, report.html, manifest.json, and a film file for each film
    whose records have earned a left-over.
    """
    from phenocast.io import OutputFolder, may_write, write_table
    from phenocast.report.rank_page import rank_page
    from phenocast.report.rank_text import rank_rows, rank_text

    asked = Asked(season, block, warming, days, by, seed)
    may_write_page(report, force=force)
    if table is not None:
        may_write(table, force=force)
    if out is None:
        document = ranking(fit, asked)[0]
    else:
        with OutputFolder(out, force=force) as folder:
            document = produce(folder, fit, asked, language, units)
        note(f"{out}: rank.json, rank.txt, rank.csv, {FIGURE}, report.html, manifest.json")
    if table is not None:
        import pandas as pd

        write_table(pd.DataFrame(rank_rows(document)), table, force=force)
        note(f"{table}")
    write_page(report, lambda: rank_page(document, language=language, units=units), force=force)
    if as_json:
        print_json(document)
        return
    click.echo(rank_text(document), nl=False)


def ranking(fit: Path, asked: Asked) -> tuple[dict[str, Any], list[InputFile], list[ParameterSet]]:
    """Document of a ranking, the files that were read, and films that earned a left-over."""
    from phenocast.calibration.film_predictions import split_films
    from phenocast.calibration.heat_scenario import HeatScenario, heat_response, standard_heat
    from phenocast.calibration.rank_document import FitFacts, rank_document, refuse_unrankable
    from phenocast.calibration.raw_yields import regimes, responses
    from phenocast.cli.fitted import past_blocks, scenario_block, with_fitted_transplant
    from phenocast.io import plain_data
    from phenocast.io.output.fit_folder import read_fit

    # one file is one input of the manifest, however its path was written
    found = read_fit(os.path.abspath(fit))
    refuse_unrankable(found.document["identifiability"], str(fit))
    standard = standard_heat()
    scenario = HeatScenario(
        standard.warming_c if asked.warming is None else asked.warming,
        standard.days if asked.days is None else asked.days,
    )
    place = _season_of(found, asked)
    loaded, setup, years = scenario_block(place, asked.block)
    setup = with_fitted_transplant(setup, found.document)
    nursery = None
    stated, grown = loaded.season.nursery, loaded.weather.nursery
    if stated is not None and grown is not None and stated.supplies(setup.block.name):
        nursery = (stated, grown)
    with Progress() as progress, running.patient_note() as started:

        def tell(done: int, total: int, what: str) -> None:
            started()
            progress(done, total, what)

        response = heat_response(
            setup, found.cultivars, found.draws, years, scenario, seed=asked.seed,
            nursery=nursery, progress=tell,
        )  # fmt: skip
    past, inputs = past_blocks(found)
    films = (
        split_films(past.grown, found.draws, _hottest(past.yields), seed=asked.seed)
        if not isinstance(past, str)
        else past
    )
    document = plain_data(
        rank_document(
            response,
            scenario,
            setup,
            FitFacts(
                Path(os.path.abspath(fit)).name,
                found.records_file.name,
                tuple(found.document["records"]["seasons"]),
                tuple(found.document["warnings"]),
            ),
            by=asked.by,  # type: ignore[arg-type]  # a choice of click
            season_file=place.name,
            seed=asked.seed,
            regimes=past if isinstance(past, str) else regimes(past.yields),
            responses=past if isinstance(past, str) else responses(past.yields),
            films=films,
            warnings=[*_cautions(found), *loaded.told.warnings],
        )
    )
    assert isinstance(document, dict)
    earned = [] if isinstance(past, str) or isinstance(films, str) else _earned(past, films)
    return document, [*found.inputs(), *loaded.inputs, *inputs], earned


def _earned(past: PastBlocks, splits: list[FilmSplit]) -> list[ParameterSet]:
    """Films with a left-over that the records have earned."""
    from phenocast.calibration.film_split import with_left_over

    stated = {one.setup.film.name: one.setup for one in past.grown}
    found = [
        with_left_over(setup.film, setup.physics["flower_left_over"], splits)
        for _, setup in sorted(stated.items())
    ]
    return [one for one in found if one is not None]


def _season_of(found: FitFolder, asked: Asked) -> Path:
    from phenocast.errors import Fault, InputError

    place = Path(os.path.abspath(asked.season or found.seasons[0]))
    if asked.season is None and not place.is_file():
        raise InputError(
            Fault("the first season file of the fit is not where it was", str(place),
                  do="name one with --season")
        )  # fmt: skip
    return place


def _hottest(yields: Any) -> str:
    """Film whose crowns carried most heat: the others are held against it."""
    if not len(yields):
        return ""
    return str(yields.groupby("film")["heat"].mean().idxmax())


def _cautions(found: FitFolder) -> list[str]:
    """Say which cultivars of the fit are not ranked."""
    idle = sorted(
        one["cultivar"] for one in found.document["cultivars"]
        if one["cultivar"] not in found.draws
    )  # fmt: skip
    if not idle:
        return []
    return [f"not ranked, for no number of theirs was fitted: {', '.join(idle)}"]


def produce(
    folder: OutputFolder, fit: Path, asked: Asked, language: str = "en", units: str = "metric"
) -> dict[str, Any]:
    """Write the files of a ranking into a folder, and return its document."""
    import pandas as pd

    from phenocast.io import write_film, write_manifest, write_table
    from phenocast.report.rank_page import rank_figure, rank_page
    from phenocast.report.rank_text import rank_rows, rank_text

    document, inputs, earned = ranking(fit, asked)
    pages = {"report.html": rank_page(document, language=language, units=units)}
    write_answer(folder, "rank", document, rank_text(document), pages)
    write_table(pd.DataFrame(rank_rows(document)), folder.path / "rank.csv")
    folder.write(FIGURE, rank_figure(document, language=language, units=units))
    for film in earned:
        remark = "Film with what its records showed beyond crown temperature; see rank.txt."
        write_film(folder.path / f"film-{film.name}.toml", film, remarks=[remark])
    write_manifest(
        folder,
        "rank",
        options={
            "season": None if asked.season is None else os.path.abspath(asked.season),
            "block": asked.block,
            "warming": asked.warming,
            "days": asked.days,
            "by": asked.by,
            "seed": asked.seed,
            "language": language,
            "units": units,
        },
        seed=asked.seed,
        inputs=inputs,
        warnings=document["warnings"],
    )
    return document


OPTIONS = {
    "season": or_none(TEXT),
    "block": or_none(TEXT),
    "warming": or_none(AMOUNT),
    "days": or_none(COUNT),
    "by": TEXT,
    "seed": SEED,
    **PAGE_OPTIONS,
}
ROLES = ("fit", "season")


def again(
    folder: OutputFolder, options: Mapping[str, Any], inputs: Mapping[str, tuple[Path, ...]]
) -> None:
    """Write the files of an earlier ranking again, from the options in its manifest."""
    season = options["season"]
    produce(
        folder,
        inputs["fit"][0].parent,
        Asked(
            None if season is None else Path(season), options["block"], options["warming"],
            options["days"], options["by"], options["seed"],
        ),
        options["language"],
        options["units"],
    )  # fmt: skip
