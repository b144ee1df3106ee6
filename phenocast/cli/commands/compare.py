"""``phenocast compare``: planting dates, films and cultivars side by side."""

from __future__ import annotations

from datetime import date, timedelta
from math import prod
from pathlib import Path
from typing import TYPE_CHECKING

import click

from phenocast.cli import running
from phenocast.cli.console import Progress, note
from phenocast.cli.group import Command
from phenocast.cli.options import (
    Day,
    as_of_option,
    json_option,
    print_json,
    season_argument,
    seed_option,
)

if TYPE_CHECKING:
    from phenocast.season import Season


@click.command(
    "compare",
    cls=Command,
    paste=(
        "phenocast demo --out phenocast-demo",
        (
            "phenocast compare phenocast-demo/season.toml "
            "--plant-from 2026-09-20 --plant-to 2026-10-11"
        ),
    ),
    short_help="Planting dates, films and cultivars side by side.",
)
@season_argument
@click.option("--block", "block_name", metavar="NAME", help="Block; default the first one.")
@click.option("--plant-from", type=Day(), required=True, metavar="DATE", help="First date.")
@click.option("--plant-to", type=Day(), required=True, metavar="DATE", help="Last date.")
@click.option(
    "--every", type=click.IntRange(1, 60), default=7, show_default=True, metavar="DAYS",
    help="Days from one planting date to the next.",
)  # fmt: skip
@click.option("--films", metavar="A,B", help="Films; default the block's own.")
@click.option("--cultivars", metavar="A,B", help="Cultivars; default the block's own.")
@click.option("--transplants", metavar="A,B", help="Transplant types; default the block's own.")
@click.option(
    "--film-cost", "film_costs", multiple=True, metavar="NAME=AMOUNT",
    help="Cost of a film laid, per ha, in the currency of the prices; may be given again.",
)  # fmt: skip
@click.option(
    "--planting-cost", type=click.FloatRange(0.0), default=0.0, metavar="AMOUNT",
    help="Cost of plants and planting, per ha.",
)  # fmt: skip
@as_of_option
@click.option(
    "--draws", type=click.IntRange(1, 2000), default=50, show_default=True, metavar="N",
    help="Draws of what is not known, for each possible season and option.",
)  # fmt: skip
@seed_option
@json_option
def command(
    season: Path,
    block_name: str | None,
    plant_from: date,
    plant_to: date,
    every: int,
    films: str | None,
    cultivars: str | None,
    transplants: str | None,
    film_costs: tuple[str, ...],
    planting_cost: float,
    as_of: date | None,
    draws: int,
    seed: int,
    as_json: bool,
) -> None:
    """Compare ways to plant one block of SEASON under the same possible seasons and draws.

    With a table [prices] in the season file the options are judged by their margin, otherwise by
    their fruit. The reference is the block as the season states it, where its date is among
    those compared, otherwise the first date on its own film and cultivar.
    """
    from phenocast.forecast.options import Option, run_options
    from phenocast.io import plain_data, read_prices
    from phenocast.planning.choice_document import compare_document
    from phenocast.report.compare_text import compare_text

    if plant_to < plant_from:
        raise click.UsageError(f"--plant-to {plant_to} lies before --plant-from {plant_from}")
    loaded = running.load(season)
    told = loaded.told
    block = told.blocks[0] if block_name is None else told.block(block_name)
    span = (plant_to - plant_from).days
    days = [plant_from + timedelta(days=day) for day in range(0, span + 1, every)]
    wanted = {
        "films": _names(films, block.film),
        "cultivars": _names(cultivars, block.cultivar),
        "transplants": _names(transplants, block.transplant),
    }
    costs = _costs(told, film_costs)
    issued = issue_before(loaded, as_of, plant_from)
    count = len(days) * prod(len(names) for names in wanted.values())
    note(f"running {count} options of {block.name}")
    with Progress() as progress, running.patient_note() as started:

        def tell(done: int, total: int, what: str) -> None:
            started()
            progress(done, total, what)

        seasons = run_options(
            told, loaded.weather, block, plantings=days, issue_date=issued, draws=draws, seed=seed,
            progress=tell, **wanted,
        )  # fmt: skip
    candidates = [
        Option(day, block.film, block.cultivar, block.transplant)
        for day in (block.planting_date, plant_from)
    ]
    places = [seasons.options.index(one) for one in candidates if one in seasons.options]
    reference = places[0] if places else 0
    document = plain_data(
        compare_document(
            told, seasons, issue_date=issued, seed=seed,
            curve=read_prices(loaded.season, season.parent, seasons.weeks),
            film_cost_per_ha=costs, planting_cost_per_ha=planting_cost, reference=reference,
        )
    )  # fmt: skip
    assert isinstance(document, dict)
    if as_json:
        print_json(document)
        return
    click.echo(compare_text(document), nl=False)


def issue_before(loaded: running.Loaded, as_of: date | None, first: date) -> date:
    """Issue date of a comparison: the day before the first planting, unless stated.

    A choice is made before planting, so weather observed later is not used even where it is known.
    """
    if as_of is not None:
        return running.issue_date(loaded, as_of)
    return min(running.issue_date(loaded, None), first - timedelta(days=1))


def _names(text: str | None, own: str) -> list[str]:
    if text is None:
        return [own]
    names = list(dict.fromkeys(part.strip() for part in text.split(",") if part.strip()))
    if not names:
        raise click.UsageError("a list of names is empty; write names with commas between them")
    return names


def _costs(season: Season, stated: tuple[str, ...]) -> dict[str, float]:
    costs = {}
    for text in stated:
        name, sign, amount = text.partition("=")
        try:
            cost = float(amount)
        except ValueError:
            cost = -1.0
        if not sign or cost < 0.0:
            raise click.UsageError(f"--film-cost '{text}': write NAME=AMOUNT, such as black=900")
        season.film(name.strip())
        costs[name.strip()] = cost
    return costs
