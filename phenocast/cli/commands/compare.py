"""``phenocast compare``: planting dates, films and cultivars side by side."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from functools import partial
from math import prod
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast import io, report
from phenocast.cli import running
from phenocast.cli.console import Command, note
from phenocast.cli.options import (
    AMOUNT,
    AMOUNTS,
    COUNT,
    DAY,
    SEED,
    TEXT,
    TEXTS,
    Amount,
    Day,
    OutPath,
    as_of_option,
    force_option,
    json_option,
    or_none,
    out_folder_option,
    season_argument,
    seed_option,
    workers_option,
)
from phenocast.cli.pages import Answer, View, page_options
from phenocast.errors import Fault, InputError

if TYPE_CHECKING:
    from phenocast.season import Block, Costs, Season


@dataclass(frozen=True)
class Asked:
    """What is compared, as the command line states it; None and empty stand for the block's own."""

    block: str | None
    plant_from: date
    plant_to: date
    every: int
    films: list[str] | None
    cultivars: list[str] | None
    transplants: list[str] | None
    film_costs: dict[str, float]
    transplant_costs: dict[str, float]
    planting_cost: float | None
    harvest_cost: float | None
    as_of: date | None
    draws: int
    seed: int

    @property
    def plantings(self) -> list[date]:
        """Planting dates in order."""
        span = (self.plant_to - self.plant_from).days
        return [self.plant_from + timedelta(days=day) for day in range(0, span + 1, self.every)]

    def names(self, block: Block) -> dict[str, list[str]]:
        """Films, cultivars and transplant types; the block's own where none are stated."""
        return {
            "films": self.films or [block.film],
            "cultivars": self.cultivars or [block.cultivar],
            "transplants": self.transplants or [block.transplant],
        }

    def costs(self, season: Season) -> Costs | None:
        """Costs of the season file, with those of the command line in their place."""
        from phenocast.season import Costs

        for name in self.film_costs:
            season.film(name)
        for name in self.transplant_costs:
            season.transplant(name)
        here = (self.film_costs, self.transplant_costs, self.planting_cost, self.harvest_cost)
        if all(one is None or one == {} for one in here):
            return season.costs
        if season.prices is None:
            raise InputError(
                Fault("costs are stated but no prices", where="prices",
                      do="add a table [prices] to the season file, or leave the costs out")
            )  # fmt: skip
        stated = season.costs or Costs(season.prices.currency)
        planting, harvest = self.planting_cost, self.harvest_cost
        return replace(
            stated,
            film_per_ha={**stated.film_per_ha, **self.film_costs},
            transplant_each={**stated.transplant_each, **self.transplant_costs},
            planting_per_ha=stated.planting_per_ha if planting is None else planting,
            harvest_per_kg=stated.harvest_per_kg if harvest is None else harvest,
        )


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
@click.option("--block", metavar="NAME", help="Block; default the first one.")
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
    help="Cost of a film, laid, per ha, in the currency of the prices; may be given again. This "
    "and the next three go before the table [costs] of the season file.",
)  # fmt: skip
@click.option(
    "--transplant-cost", "transplant_costs", multiple=True, metavar="NAME=AMOUNT",
    help="Cost of one plant of a transplant type; may be given again.",
)  # fmt: skip
@click.option(
    "--planting-cost", type=Amount(0.0), metavar="AMOUNT",
    help="Cost of bed and planting, per ha.",
)  # fmt: skip
@click.option(
    "--harvest-cost", type=Amount(0.0), metavar="AMOUNT",
    help="Cost of picking and packing, per kg of fruit.",
)  # fmt: skip
@as_of_option
@click.option(
    "--draws", type=click.IntRange(1, 2000), default=50, show_default=True, metavar="N",
    help="Parameter draws, for each weather year and option.",
)  # fmt: skip
@seed_option
@click.option(
    "--explore", type=OutPath("FILE"), metavar="FILE.html",
    help="Write a page to play with planting date, film, cultivar and prices, which needs no "
    "network. A folder of --out holds it as explore.html in any case.",
)  # fmt: skip
@page_options
@out_folder_option(required=False)
@json_option
@workers_option
@force_option
def command(
    season: Path,
    plant_from: date,
    plant_to: date,
    films: str | None,
    cultivars: str | None,
    transplants: str | None,
    film_costs: tuple[str, ...],
    transplant_costs: tuple[str, ...],
    explore: Path | None,
    report: Path | None,
    out: Path | None,
    language: str,
    units: str,
    as_json: bool,
    force: bool,
    **asked: Any,
) -> None:
    """Compare options for one block of SEASON under the same weather years and parameter draws.

    With a table [prices] in the season file the options are judged by their margin, what [costs]
    states taken off, otherwise by their fruit. The reference is the block as the season states it,
    where its date is among those compared, otherwise the first date on its own film and cultivar.
    With --out the folder holds compare.json, compare.txt, report.html, explore.html and
    manifest.json; with --report or --explore a page is written alone.
    """
    if plant_to < plant_from:
        raise click.UsageError(f"--plant-to {plant_to} lies before --plant-from {plant_from}")
    make = partial(
        answer, season, plant_from=plant_from, plant_to=plant_to, films=_names(films),
        cultivars=_names(cultivars), transplants=_names(transplants),
        film_costs=_costs("--film-cost", film_costs, "black=900"),
        transplant_costs=_costs("--transplant-cost", transplant_costs, "plug=0.25"), **asked,
    )  # fmt: skip
    VIEW.run(
        make, out=out, language=language, units=units, as_json=as_json, force=force,
        explore=explore, report=report,
    )  # fmt: skip


def answer(season: Path, **asked: Any) -> Answer:
    """Comparison of options for a block, with what its manifest tells."""
    wanted = Asked(**asked)
    loaded = running.load(season)
    if loaded.records is not None:
        note("records of the season are not used: what is compared is not planted yet")
    document = comparison(loaded, season, wanted)
    issued = date.fromisoformat(document["issue_date"])
    options = asdict(replace(wanted, block=document["block"], as_of=issued))
    return Answer(document, options, loaded.inputs, loaded.season)


def comparison(loaded: io.Loaded, season: Path, asked: Asked) -> dict[str, Any]:
    """Document of a comparison of options for a block."""
    from phenocast.forecast.options import Option, run_options
    from phenocast.forecast.packout import packout_of
    from phenocast.planning.comparison.digest import digest_of
    from phenocast.planning.comparison.document import compare_document

    told = loaded.told
    block = told.blocks[0] if asked.block is None else told.block(asked.block)
    wanted = asked.names(block)
    costs = asked.costs(told)
    # A file of prices is read before the long work starts.
    of_file = told.prices is not None and told.prices.file is not None
    curve = io.read_prices(told, season.parent, ()) if of_file else None
    issued = issue_before(loaded, asked.as_of, asked.plant_from)
    count = len(asked.plantings) * prod(len(names) for names in wanted.values())
    note(f"running {count} options of {block.name}")
    with running.watched() as tell:
        seasons = run_options(
            told, loaded.weather, block, plantings=asked.plantings, issue_date=issued,
            films=wanted["films"], cultivars=wanted["cultivars"],
            transplants=wanted["transplants"], draws=asked.draws, seed=asked.seed, progress=tell,
        )  # fmt: skip
    candidates = [
        Option(day, block.film, block.cultivar, block.transplant)
        for day in (block.planting_date, asked.plant_from)
    ]
    places = [seasons.options.index(one) for one in candidates if one in seasons.options]
    if not of_file:
        curve = io.read_prices(told, season.parent, seasons.weeks)
    packout = packout_of(told.labour, draws=asked.draws, seed=asked.seed)
    digest = digest_of(
        seasons, packout, seed=asked.seed, curve=curve, costs=costs,
        reference=places[0] if places else 0,
    )  # fmt: skip
    del seasons  # its weeks are the largest thing held
    return io.plain_document(
        compare_document(told, digest, weather=loaded.weather, issue_date=issued)
    )


def issue_before(loaded: io.Loaded, as_of: date | None, first: date) -> date:
    """Issue date of a comparison: the day before the first planting, unless stated.

    A choice is made before planting, so weather observed later is not used even where it is known.
    """
    if as_of is not None:
        return running.issue_date(loaded, as_of)
    return min(running.issue_date(loaded, None), first - timedelta(days=1))


def _names(text: str | None) -> list[str] | None:
    if text is None:
        return None
    names = list(dict.fromkeys(part.strip() for part in text.split(",") if part.strip()))
    if not names:
        raise click.UsageError("a list of names is empty; write names with commas between them")
    return names


def _costs(option: str, stated: tuple[str, ...], example: str) -> dict[str, float]:
    costs = {}
    for text in stated:
        name, _, amount = text.partition("=")
        try:
            cost = float(amount)
        except ValueError:
            cost = -1.0
        if not name.strip() or not 0.0 <= cost < float("inf"):
            raise click.UsageError(f"{option} '{text}': write NAME=AMOUNT, such as {example}")
        costs[name.strip()] = cost
    return costs


VIEW = View(
    "compare",
    lambda: {
        "report.html": report.compare.compare_parts,
        "explore.html": report.explore.explore_parts,
    },
    options={
        "block": TEXT,
        "plant_from": DAY,
        "plant_to": DAY,
        "every": COUNT,
        "films": or_none(TEXTS),
        "cultivars": or_none(TEXTS),
        "transplants": or_none(TEXTS),
        "film_costs": AMOUNTS,
        "transplant_costs": AMOUNTS,
        "planting_cost": or_none(AMOUNT),
        "harvest_cost": or_none(AMOUNT),
        "as_of": DAY,
        "draws": COUNT,
        "seed": SEED,
    },
    make=lambda inputs, **options: answer(inputs["season"][0], **options),
)
