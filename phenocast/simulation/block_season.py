"""One block in one season under one course of weather: the whole chain, and all it went through."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from phenocast._typing import FloatArray
from phenocast.crown import BedTemperatures
from phenocast.harvest import PlantSeason, grow
from phenocast.phenology import plant_records
from phenocast.simulation.bed import BedSeason, bed_season, crown_daily, site_weather
from phenocast.simulation.daily_sums import fill_induction
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import BlockSetup, flowers_on_film, physics_records
from phenocast.weather import HourlyWeather


@dataclass(frozen=True)
class BlockSeason:
    """A simulated block-season: what went in, what happened between, and what came out.

    Parameters
    ----------
    setup : the block and every parameter set it was run with.
    bed : weather, canopy, water and light of the block, hour by hour.
    temperatures : film, crown and soil, hour by hour, the days before planting included. [degC]
    daily : the daily table that the plant read, ``[N_DAILY, days]``.
    plant : dates and daily harvest.
    """

    setup: BlockSetup
    bed: BedSeason
    temperatures: BedTemperatures
    daily: FloatArray
    plant: PlantSeason

    @property
    def planting_date(self) -> date:
        """Day from which the plant's dates count."""
        return self.setup.block.planting_date

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the user should know of the weather."""
        return self.bed.weather.warnings


def simulate_block(setup: BlockSetup, weather: HourlyWeather) -> BlockSeason:
    """Run one block with the central value of every parameter.

    Parameters
    ----------
    setup : BlockSetup
    weather : HourlyWeather
        Covers the block's days; up to two weeks before planting are used as spin-up.

    Returns
    -------
    BlockSeason

    Raises
    ------
    InputError
        When the weather does not cover the block's days.
    """
    bed = bed_season(setup, site_weather(weather, setup.site))
    records = physics_records(setup)
    crown, daily, _ = crown_daily(bed, records)
    cultivar = setup.cultivar
    table = induction_tables(
        *(
            np.array([cultivar.value(name)])
            for name in ("induction_base", "induction_optimum", "induction_ceiling")
        )
    )[0]
    fill_induction(crown[0], bed.days.first_hour, table, daily[0])
    plants = plant_records(cultivar, setup.transplant)
    plants["flowers_per_truss"] *= flowers_on_film(setup)
    plant = plants[0]
    return BlockSeason(
        setup=setup,
        bed=bed,
        temperatures=bed.temperatures(records[0]),
        daily=daily[0],
        plant=grow(daily[0], plant, setup.block.first_pick_g_per_plant),
    )
