"""A block with every name resolved to numbers, and its days: ready to be simulated.

Daily sums, photoperiod and ISO weeks all use local standard time, so that daylight saving
never makes a day of 23 or 25 hours.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.crown import bed_records
from phenocast.errors import Fault, InputError
from phenocast.parameters import ParameterSet, bed, shelters
from phenocast.season import Bed, Block, Season, Site
from phenocast.weather.hourly import local_midnight_utc

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


HOURS_PER_DAY = 24


@dataclass(frozen=True)
class LocalDays:
    """A run of whole local standard days inside an hourly series.

    ``first_hour`` is the index of the first hour of ``first_date``; day ``i`` holds the 24 hours
    from ``first_hour + 24 * i``.
    """

    first_date: date
    n_days: int
    first_hour: int

    def dates(self) -> list[date]:
        """Return the calendar date of each day."""
        return [self.first_date + timedelta(days=i) for i in range(self.n_days)]

    def hours(self) -> slice:
        """Return the slice of the hourly series that these days cover."""
        return slice(self.first_hour, self.first_hour + HOURS_PER_DAY * self.n_days)


def local_days(
    time_utc: NDArray[np.datetime64],
    time_zone: str,
    first_date: date,
    n_days: int,
    what: str = "the block",
) -> LocalDays:
    """Find whole local days in a strictly hourly series.

    Parameters
    ----------
    time_utc : array of datetime64[h], start of each hour, without gaps.
    time_zone : IANA name of the site's zone.
    first_date, n_days : the days wanted.
    what : who asks, for the message.

    Raises
    ------
    InputError
        When the series does not cover the days; the message says which days it has.
    """
    start = local_midnight_utc(first_date, time_zone)
    first_hour = int((start - time_utc[0].astype("datetime64[h]")) / np.timedelta64(1, "h"))
    if first_hour < 0 or first_hour + HOURS_PER_DAY * n_days > len(time_utc):
        last = first_date + timedelta(days=n_days - 1)
        raise InputError(
            Fault(
                what=f"the weather does not cover {what}",
                where="weather",
                value=f"weather from {time_utc[0]} to {time_utc[-1]} UTC",
                allowed=f"{first_date} to {last}, local standard time",
                do="give a weather file that covers these days, or change the planting date",
            )
        )
    return LocalDays(first_date, n_days, first_hour)
