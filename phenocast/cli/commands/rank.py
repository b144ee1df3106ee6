"""``phenocast rank``: cultivars by what heat costs them."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast import io, report
from phenocast.cli import running
from phenocast.cli.console import Command, note
from phenocast.cli.options import (
    AMOUNT,
    COUNT,
    PATH,
    SEED,
    TEXT,
    Amount,
    FilePath,
    OutPath,
    force_option,
    json_option,
    or_none,
    out_folder_option,
    seed_option,
    workers_option,
)
from phenocast.cli.pages import Answer, View, page_options
from phenocast.errors import Fault, refuse

if TYPE_CHECKING:
    import pandas as pd

    from phenocast.calibration.ranking.film_effect import FilmSplit
    from phenocast.cli.past_blocks import PastBlocks
    from phenocast.io.output.fit_folder import FitFolder
    from phenocast.parameters import ParameterSet

BY = ("season", "early", "delay")
FIGURE = "caterpillar.svg"


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
@workers_option
@force_option
def command(
    fit: Path,
    table: Path | None,
    report: Path | None,
    out: Path | None,
    language: str,
    units: str,
    as_json: bool,
    force: bool,
    **asked: Any,
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
    if table is not None:
        io.may_write(table, force=force)

    def make() -> Answer:
        found = answer(fit, **asked)
        if table is not None:
            io.write_table(_rows(found.document), table, force=force)
            note(f"{table}")
        return found

    VIEW.run(
        make, out=out, language=language, units=units, as_json=as_json, force=force, report=report
    )


def answer(
    fit: Path,
    *,
    season: Path | None,
    block: str | None,
    warming: float | None,
    days: int | None,
    by: str,
    seed: int,
) -> Answer:
    """Ranking of the cultivars of a fit, with what its manifest tells."""
    from phenocast.calibration.ranking.document import FitFacts, rank_document, refuse_unrankable
    from phenocast.calibration.ranking.film_effect import split_films
    from phenocast.calibration.ranking.heat_response import (
        HeatScenario,
        heat_response,
        standard_heat,
    )
    from phenocast.calibration.ranking.indices import regimes, responses
    from phenocast.cli.past_blocks import past_blocks, scenario_block, with_fitted_transplant

    # one file is one input of the manifest, however its path was written
    found = io.read_fit(os.path.abspath(fit))
    refuse_unrankable(found.document["identifiability"], str(fit))
    standard = standard_heat()
    scenario = HeatScenario(
        standard.warming_c if warming is None else warming,
        standard.days if days is None else days,
    )
    place = _season_of(found, season)
    loaded, setup, years = scenario_block(place, block)
    setup = with_fitted_transplant(setup, found.document)
    nursery = None
    stated, grown = loaded.season.nursery, loaded.weather.nursery
    if stated is not None and grown is not None and stated.supplies(setup.block.name):
        nursery = (stated, grown)
    with running.watched() as tell:
        response = heat_response(
            setup, found.cultivars, found.draws, years, scenario, seed=seed,
            nursery=nursery, progress=tell,
        )  # fmt: skip
    past, inputs = past_blocks(found)
    hottest = ""  # the film whose crowns carried most heat: the others are held against it
    if not isinstance(past, str) and len(past.yields):
        hottest = str(past.yields.groupby("film")["heat"].mean().idxmax())
    films = (
        split_films(past.grown, found.draws, hottest, seed=seed)
        if not isinstance(past, str)
        else past
    )
    every = {one["cultivar"] for one in found.document["cultivars"]}
    idle = ", ".join(sorted(every - set(found.draws)))
    cautions = [f"not ranked, for no number of theirs was fitted: {idle}"] if idle else []
    document = io.plain_document(
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
            by=by,  # type: ignore[arg-type]  # a choice of click
            season_file=place.name,
            seed=seed,
            regimes=past if isinstance(past, str) else regimes(past.yields),
            responses=past if isinstance(past, str) else responses(past.yields),
            films=films,
            warnings=[*cautions, *loaded.told.warnings],
        )
    )
    earned = [] if isinstance(past, str) or isinstance(films, str) else _earned(past, films)

    def more(folder: io.OutputFolder, language: str, units: str) -> None:

        io.write_table(_rows(document), folder.path / "rank.csv")
        folder.write(FIGURE, report.rank.rank_figure(document, language=language, units=units))
        for film in earned:
            remark = "Film with what its records showed beyond crown temperature; see rank.txt."
            io.write_film(folder.path / f"film-{film.name}.toml", film, remarks=[remark])

    options = {
        "season": None if season is None else os.path.abspath(season), "block": block,
        "warming": warming, "days": days, "by": by, "seed": seed,
    }  # fmt: skip
    read = [*found.inputs(), *loaded.inputs, *inputs]
    return Answer(document, options, read, more=more)


def _rows(document: dict[str, Any]) -> pd.DataFrame:
    """Table of a ranking."""
    import pandas as pd

    return pd.DataFrame(report.rank.rank_rows(document))


def _earned(past: PastBlocks, splits: list[FilmSplit]) -> list[ParameterSet]:
    """Films with a left-over that the records have earned."""
    from phenocast.calibration.ranking.film_effect import with_left_over

    stated = {one.setup.film.name: one.setup for one in past.grown}
    found = [
        with_left_over(setup.film, setup.physics["flower_left_over"], splits)
        for _, setup in sorted(stated.items())
    ]
    return [one for one in found if one is not None]


def _season_of(found: FitFolder, season: Path | None) -> Path:
    place = Path(os.path.abspath(season or found.seasons[0]))
    refuse(
        (
            season is None and not place.is_file(),
            Fault(
                "the first season file of the fit is not where it was",
                str(place),
                do="name one with --season",
            ),
        )
    )
    return place


VIEW = View(
    "rank",
    lambda: {"report.html": report.rank.rank_parts},
    options={
        "season": or_none(PATH),
        "block": or_none(TEXT),
        "warming": or_none(AMOUNT),
        "days": or_none(COUNT),
        "by": TEXT,
        "seed": SEED,
    },
    roles={"fit": True, "season": True},
    make=lambda inputs, **options: answer(inputs["fit"][0].parent, **options),
    listed=("rank.csv", FIGURE),
)
