"""How the spread of what is not known is sampled: biology, film physics and weather together.

Every combination of a future and a biology draw is one season. The bed is costlier to run than the
plant, so each future gets its own few physics draws, and its seasons take them in turn: over all
futures the physics is sampled as finely as `PHYSICS_RUNS` says, and no two futures share a draw.
Blocks with the same film, cultivar or transplant type see the same draws, so that differences
between blocks are not blurred by chance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError
from phenocast.phenology import plant_records
from phenocast.phenology.cohorts import HALF_A_TRUSS
from phenocast.season import Season
from phenocast.simulation.nursery import nursery_plants
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import BlockSetup, flowers_on_film, physics_records
from phenocast.weather import HourlyWeather

# Runs of the bed over all futures of a block: a number of the sampling, not of the model. Six seeds
# of the demo move P10 and P90 of first pick by .2 d and of season fruit by 1 % with 46 runs as with
# 368, for the plants' draws do that; P90 of the heat above 30 degC moves by 5 % with 80 runs.
PHYSICS_RUNS = 80
MOST_DRAWS = 20_000


@dataclass(frozen=True)
class BlockDraws:
    """The draws of one block: plants ``[draws]``, their tables, physics ``[futures * each]``."""

    plants: np.recarray[Any, Any]
    tables: NDArray[np.float64]
    physics: np.recarray[Any, Any]
    physics_each: int

    def physics_of(self, future: int) -> np.recarray[Any, Any]:
        """Return the physics records of one future."""
        start = future * self.physics_each
        part: np.recarray[Any, Any] = self.physics[start : start + self.physics_each].view(
            np.recarray
        )
        return part


def block_draws(
    setup: BlockSetup, n_futures: int, draws: int, seed: int, physics_runs: int = PHYSICS_RUNS
) -> BlockDraws:
    """Draw what is not known about one block.

    Parameters
    ----------
    setup : the block.
    n_futures : number of futures.
    draws : biology draws for each future.
    seed : one seed for everything.
    physics_runs : runs of the bed over all futures.

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
    each = max(1, min(draws, ceil(physics_runs / n_futures)))
    cultivar = setup.cultivar.draw(seed, draws)
    plants = plant_records(setup.cultivar, setup.transplant, n_draws=draws, seed=seed)
    plants["flowers_per_truss"] *= flowers_on_film(setup, n_draws=draws, seed=seed)
    return BlockDraws(
        plants=plants,
        tables=induction_tables(
            cultivar["induction_base"],
            cultivar["induction_optimum"],
            cultivar["induction_ceiling"],
        ),
        physics=physics_records(setup, n_draws=each * n_futures, seed=seed),
        physics_each=each,
    )


def with_buds(plants: np.recarray[Any, Any]) -> NDArray[np.bool_]:
    """Say which draws of the plant arrive with flower buds, ``[draws]``.

    They bring half a truss or more, or are induced.
    """
    return np.asarray(
        (plants["trusses_at_planting"] >= HALF_A_TRUSS) | (plants["induction_carried"] >= 1.0)
    )


def with_nursery(
    draws: BlockDraws, season: Season, setup: BlockSetup, nursery: HourlyWeather | None
) -> BlockDraws:
    """Return the draws with the transplants as the season's nursery made them, where it has one.

    Parameters
    ----------
    draws : the draws of a block.
    season : Season
    setup : the block; its planting date ends the nursery weeks where no day of lifting is stated.
    nursery : weather of the nursery; None leaves what the transplant type assumes.
    """
    return replace(draws, plants=nursed(draws.plants, draws.tables, season, setup, nursery))


def nursed(
    plants: np.recarray[Any, Any], tables: NDArray[np.float64], season: Season, setup: BlockSetup,
    nursery: HourlyWeather | None,
) -> np.recarray[Any, Any]:  # fmt: skip
    """Return plants as `with_nursery` does, with their induction tables."""
    if season.nursery is None or nursery is None or not season.nursery.supplies(setup.block.name):
        return plants
    return nursery_plants(season.nursery, nursery, setup, plants, tables)
