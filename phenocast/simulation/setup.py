"""A block with every name resolved to numbers, ready to be simulated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np

from phenocast.crown import bed_records
from phenocast.parameters import ParameterSet, bed, shelters
from phenocast.season import Bed, Block, Season, Site

# Soil temperatures forget their start within about ten days (time constant of the deep layer
# 118 h); the bed is run for these days before planting and they are not reported.
SPIN_UP_DAYS = 14


@dataclass(frozen=True)
class BlockSetup:
    """One block of a season and the parameters that its names stand for."""

    site: Site
    bed: Bed
    block: Block
    film: ParameterSet
    shoulder: ParameterSet | None
    physics: ParameterSet
    soil: ParameterSet
    cultivar: ParameterSet
    transplant: ParameterSet
    shelters: Mapping[str, ParameterSet]

    @property
    def last_day(self) -> date:
        """Last day that is simulated."""
        if self.block.season_end is not None:
            return self.block.season_end
        days = int(self.cultivar.value("season_days"))
        return self.block.planting_date + timedelta(days=days - 1)

    @property
    def n_days(self) -> int:
        """Days from planting to the last day, both included."""
        return (self.last_day - self.block.planting_date).days + 1

    @property
    def film_age_at_planting_d(self) -> float:
        """Age of the film on the day of planting [d]."""
        if self.block.film_laid is not None:
            return float((self.block.planting_date - self.block.film_laid).days)
        return self.physics.value("film_age_at_planting")


def block_setup(season: Season, block: Block) -> BlockSetup:
    """Return the setup of one block.

    Raises
    ------
    InputError
        For a film, cultivar, soil or transplant type that is not known.
    """
    return BlockSetup(
        site=season.site,
        bed=season.bed,
        block=block,
        film=season.film(block.film),
        shoulder=season.shoulder(block.film),
        physics=bed(),
        soil=season.soil(),
        cultivar=season.cultivar(block.cultivar),
        transplant=season.transplant(block.transplant),
        shelters=shelters(),
    )


def heat_limits(cultivar: ParameterSet) -> tuple[float, float, float, float, float, float]:
    """Return the limits that `fill_crown_rows` reads, in its order [degC]."""
    names = (
        "crown_heat_threshold",
        "crown_strong_heat_threshold",
        "leaf_base",
        "leaf_cap",
        "chill_low",
        "chill_high",
    )
    return tuple(cultivar.value(name) for name in names)  # type: ignore[return-value]


def physics_records(
    setup: BlockSetup, *, n_draws: int | None = None, seed: int = 0
) -> np.recarray[Any, Any]:
    """Return the bed's records of a block: the central values, or draws of what is not known.

    Parameters
    ----------
    setup : the block.
    n_draws : number of draws; None for one record of the central values.
    seed : of the draws.
    """
    return bed_records(
        setup.film,
        setup.physics,
        setup.soil,
        shoulder=setup.shoulder,
        stripe_width_m=setup.block.stripe_width_m,
        row_offset_m=setup.bed.plant_row_offset_m,
        water_m3_m3=setup.bed.soil_water_m3_m3,
        n_draws=n_draws,
        seed=seed,
    )


def flowers_on_film(
    setup: BlockSetup, *, n_draws: int | None = None, seed: int = 0
) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Flowers on the block's film over those that its crown temperature explains.

    Parameters
    ----------
    setup : the block.
    n_draws : number of draws; None for the central value alone.
    seed : of the draws.

    Returns
    -------
    array ``[n_draws]`` or ``[1]``
        1 for every film whose own file says no other: a left-over enters only when a fit of records
        has earned it. [1]
    """
    stated = setup.film if "flower_left_over" in setup.film else setup.physics
    own = stated["flower_left_over"]
    if n_draws is None:
        return np.exp(np.array([own.value]))
    drawn = ParameterSet(setup.film.name, {"flower_left_over": own}).draw(seed, n_draws)
    return np.exp(drawn["flower_left_over"])
