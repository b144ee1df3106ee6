"""How the spread of what is not known is sampled: biology, film physics and weather together.

Every combination of a weather trace and a biology draw is one season. Each trace has a few physics
draws of its own, which its seasons share: over all traces the physics is sampled as finely as
`PHYSICS_RUNS` says, and no two traces share a draw.
Blocks with the same film, cultivar or transplant type see the same draws, so that differences
between blocks are not blurred by chance.
"""

from __future__ import annotations

from collections.abc import Callable
from math import ceil
from typing import Any

import numpy as np

from phenocast._typing import BoolArray, FloatArray
from phenocast.errors import Fault, InputError
from phenocast.phenology import plant_records
from phenocast.phenology.trusses import HALF_A_TRUSS
from phenocast.season import Block, Nursery, Season
from phenocast.simulation.engine import DrawnBlock
from phenocast.simulation.nursery import nursery_plants
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import BlockSetup, flowers_on_film, physics_records
from phenocast.weather import HourlyWeather

# Runs of the bed over all traces of a block: a number of the sampling, not of the model. Six seeds
# of the demo move P10 and P90 of first pick by .2 d and of season fruit by 1 % with 46 runs as with
# 368, for the plants' draws do that; P90 of the heat above 30 degC moves by 5 % with 80 runs.
PHYSICS_RUNS = 80
MOST_DRAWS = 20_000


def block_draws(
    setup: BlockSetup,
    n_traces: int,
    draws: int,
    seed: int,
    physics_runs: int = PHYSICS_RUNS,
    *,
    nursery: tuple[Nursery, HourlyWeather] | None = None,
    shared: dict[tuple[Any, ...], Any] | None = None,
) -> DrawnBlock:
    """Draw what is not known about one block.

    Parameters
    ----------
    setup : the block.
    n_traces : number of weather traces.
    draws : biology draws for each trace.
    seed : one seed for everything.
    physics_runs : runs of the bed over all traces.
    nursery : the nursery that supplies the block and its weather (`nursery_of`); None leaves what
        the transplant type assumes.
    shared : what blocks of one season have in common, filled: theirs is drawn once.

    Raises
    ------
    InputError
        When the number of draws makes no sense.
    """
    if not 1 <= draws <= MOST_DRAWS:
        raise InputError(
            Fault(
                "the number of draws is out of range",
                where="--draws",
                value=draws,
                allowed=f"1 to {MOST_DRAWS}",
            )
        )
    block, cultivar, transplant = setup.block, setup.cultivar, setup.transplant
    each = max(1, min(draws, ceil(physics_runs / n_traces)))
    shared = {} if shared is None else shared

    def once(key: tuple[Any, ...], make: Callable[[], Any]) -> Any:
        if key not in shared:
            shared[key] = make()
        return shared[key]

    def tables() -> FloatArray:
        drawn = cultivar.draw(seed, draws)
        names = ("induction_base", "induction_optimum", "induction_ceiling")
        return induction_tables(*(drawn[name] for name in names))

    flowers = once(
        ("flowers", block.film), lambda: flowers_on_film(setup, n_draws=draws, seed=seed)
    )

    def plants() -> np.recarray[Any, Any]:
        drawn = plant_records(cultivar, transplant, n_draws=draws, seed=seed)
        drawn["flowers_per_truss"] *= flowers
        return drawn if nursery is None else nursery_plants(*nursery, setup, drawn, of_tables)

    of_tables = once(("tables", cultivar.name), tables)
    planted = None if nursery is None else block.planting_date
    return DrawnBlock(
        setup=setup,
        plants=once(("plants", cultivar.name, transplant.name, planted, flowers.tobytes()), plants),
        tables=of_tables,
        physics=once(
            ("physics", block.film, block.stripe_width_m),
            lambda: physics_records(setup, n_draws=each * n_traces, seed=seed),
        ),
        physics_each=each,
    )


def nursery_of(
    season: Season, block: Block, weather: HourlyWeather | None
) -> tuple[Nursery, HourlyWeather] | None:
    """Return the nursery that a block was planted from, with its weather; None for none."""
    if season.nursery is None or weather is None or not season.nursery.supplies(block.name):
        return None
    return season.nursery, weather


def with_buds(plants: np.recarray[Any, Any]) -> BoolArray:
    """Say which draws of the plant arrive with flower buds, ``[draws]``.

    They bring half a truss or more, or are induced.
    """
    return np.asarray(
        (plants["trusses_at_planting"] >= HALF_A_TRUSS) | (plants["induction_carried"] >= 1.0)
    )
