"""Block-seasons made ready for a fit: the bed is run once, for it does not depend on the cultivar.

What a trial of cultivar parameters then costs is a plant, not a bed.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, refuse
from phenocast.parameters import ParameterSet
from phenocast.phenology import plant_records
from phenocast.phenology.daily import CROWN_HEAT_30, FLOWER_MIN
from phenocast.season import Block, Season
from phenocast.simulation import bed_season, crown_daily, site_weather
from phenocast.simulation.frost import frost_nights
from phenocast.simulation.nursery import nursery_plants
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import block_setup, flowers_on_film, physics_records
from phenocast.weather import AIR_FROM_OTHER, SeasonWeather
from phenocast.weather.hourly import local_midnight_utc

LEAST_DAYS = 30
"""Shortest course of a block worth a run: before it no plant of any type bears fruit. [d]"""

MOST_NAMED = 6
"""Blocks that a caution names."""


@dataclass(frozen=True)
class FitBlock:
    """One block in one season, its bed run with the central value of every physics number.

    Parameters
    ----------
    season, name, film, cultivar, transplant : str
    planting : date
    plants : float
        Plants of the block.
    first_pick_g : float
        Cumulative ripe fruit that counts as the first pick. [g per plant]
    crown : array ``[hours]``
        Crown temperature, spin-up included. [degC]
    first_hour : int
        Position of the first hour of the planting day.
    daily : array ``[N_DAILY, days]``
        Daily table, its induction row still to be filled.
    base : record array ``[1]``
        The plant with the central value of every number.
    cultivar_set, transplant_set : ParameterSet
        Priors.
    from_nursery : bool
        The state at planting comes from a nursery's weather, so it is not fitted.
    frost_kind : str or None
        Protection from frost that the block states.
    """

    season: str
    name: str
    film: str
    cultivar: str
    transplant: str
    planting: date
    plants: float
    first_pick_g: float
    crown: FloatArray
    first_hour: int
    daily: FloatArray
    base: np.recarray[Any, Any]
    cultivar_set: ParameterSet
    transplant_set: ParameterSet
    from_nursery: bool = False
    frost_kind: str | None = None

    @property
    def key(self) -> str:
        """Season and block in one name."""
        return f"{self.season}: {self.name}"

    @property
    def n_days(self) -> int:
        """Days from planting to the last that has weather."""
        return int(self.daily.shape[1])

    def heat(self, days: int) -> float:
        """Crown degree-hours above 30 degC in the first days after planting. [degC h]"""
        return float(self.daily[CROWN_HEAT_30, :days].sum())


def fit_block(season: Season, block: Block, weather: SeasonWeather, label: str) -> FitBlock:
    """Run the bed of a block under the weather that was observed.

    Parameters
    ----------
    season : Season
    block : one of its blocks.
    weather : of the season; only what was observed is used, and the nursery's.
    label : name of the season in the records.

    Returns
    -------
    FitBlock
        It ends with the season, or with the last whole day of the observed weather.

    Raises
    ------
    InputError
        When there is no observed weather for the first `LEAST_DAYS` days after planting.
    """
    setup = block_setup(season, block)
    observed = weather.observed
    where = f"{season.source_name}: block {block.name!r}"
    if observed is None or not len(observed):
        raise InputError(
            Fault(
                "no observed weather",
                where,
                do="a fit needs what the plants felt: state weather.observed",
            )
        )
    end = _last_whole_day(observed.time_utc[-1], season.site.time_zone)
    last = min(setup.last_day, end)
    refuse(
        ((last - block.planting_date).days + 1 < LEAST_DAYS,
         Fault("the observed weather ends too soon after planting", where, end.isoformat(),
               f"{block.planting_date + timedelta(days=LEAST_DAYS)} or later")),
    )  # fmt: skip
    setup = replace(setup, block=replace(block, season_end=last))
    bed = bed_season(setup, site_weather(observed, season.site))
    crown, daily, _ = crown_daily(bed, physics_records(setup))
    base = plant_records(setup.cultivar, setup.transplant)
    base["flowers_per_truss"] *= flowers_on_film(setup)
    nursery = season.nursery is not None and season.nursery.supplies(block.name)
    if nursery and season.nursery is not None and weather.nursery is not None:
        tables = induction_tables(
            base["induction_base"], base["induction_optimum"], base["induction_ceiling"]
        )
        base = nursery_plants(season.nursery, weather.nursery, setup, base, tables)
    return FitBlock(
        season=label,
        name=block.name,
        film=block.film,
        cultivar=block.cultivar,
        transplant=block.transplant,
        planting=block.planting_date,
        plants=block.plants,
        first_pick_g=block.first_pick_g_per_plant,
        crown=np.ascontiguousarray(crown[0]),
        first_hour=bed.days.first_hour,
        daily=np.ascontiguousarray(daily[0]),
        base=base,
        cultivar_set=setup.cultivar,
        transplant_set=setup.transplant,
        from_nursery=nursery,
        frost_kind=block.frost_kind,
    )


def frost_not_stated(blocks: Sequence[FitBlock]) -> list[str]:
    """Say which blocks had frost nights and state no protection, so that none is counted."""
    bare = [
        block.key
        for block in blocks
        if block.frost_kind is None and frost_nights(block.daily[FLOWER_MIN]).any()
    ]
    more = f" and {len(bare) - MOST_NAMED} more" if len(bare) > MOST_NAMED else ""
    told = (
        f"frost nights in {', '.join(bare[:MOST_NAMED])}{more}: no protection is stated, so the "
        "fit takes them as unprotected; where they were protected, state frost_protection or "
        "row_cover, or the fit makes up for fruit that was never lost"
    )
    return [told] if bare else []


def weather_not_measured(
    season: Season, blocks: Sequence[FitBlock], weather: SeasonWeather
) -> list[str]:
    """Say of blocks that air of other days or years stands for hours that nobody measured.

    Parameters
    ----------
    season : Season
    blocks : of this season, as `fit_block` made them.
    weather : of the season.

    Returns
    -------
    list of str
        One sentence for blocks with the same number of hours.
    """
    observed = weather.observed
    if observed is None:
        return []
    hours: dict[int, list[str]] = {}
    for block in blocks:
        start = local_midnight_utc(block.planting, season.site.time_zone)
        end = local_midnight_utc(
            block.planting + timedelta(days=block.n_days), season.site.time_zone
        )
        within = (observed.time_utc >= start) & (observed.time_utc < end)
        count = int(np.count_nonzero(observed.filled[within] & AIR_FROM_OTHER))
        if count:
            hours.setdefault(count, []).append(block.key)
    return [
        f"{', '.join(keys)}: for {count} h between planting and the end of the season no air was "
        "measured and that of other days or years stands in; the records of these weeks are used "
        "against it"
        for count, keys in hours.items()
    ]


def _last_whole_day(last_hour: np.datetime64, zone: str) -> date:
    day = date.fromisoformat(str(last_hour)[:10]) + timedelta(days=1)
    while local_midnight_utc(day + timedelta(days=1), zone) > last_hour + np.timedelta64(1, "h"):
        day -= timedelta(days=1)
    return day
