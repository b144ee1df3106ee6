"""The weeks before planting: what the nursery's weather made of the transplants.

The equations of induction and development are those of the field. In the nursery the crown and the
root zone are taken at air temperature: plants stand close, well watered and without film.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError
from phenocast.phenology.nursery import nursery_state, plant_from_nursery
from phenocast.season import Nursery
from phenocast.simulation.daily_sums import (
    N_BED_DAILY,
    air_rows,
    daily_minimum,
    fill_crown_rows,
    fill_induction,
)
from phenocast.simulation.responses import branch_table, development_table
from phenocast.simulation.setup import BlockSetup, heat_limits, local_days
from phenocast.thermal_time import lit_hours
from phenocast.weather import HourlyWeather

# In the nursery leaves cover little of the ground; the cover only limits fruit load, and the young
# plants bear none.
NURSERY_COVER = 0.0


def nursery_daily(
    nursery: Nursery, weather: HourlyWeather, setup: BlockSetup
) -> tuple[FloatArray, FloatArray, int]:
    """Return the daily table of the nursery weeks, the hourly air [degC] and its first hour.

    Parameters
    ----------
    nursery : the nursery, its days and its lamps.
    weather : hourly weather of the nursery.
    setup : the block that is planted from it.

    Raises
    ------
    InputError
        When the nursery ends before it begins, or its weather does not cover its days.
    """
    last = nursery.last_day or setup.block.planting_date - timedelta(days=1)
    n_days = (last - nursery.first_day).days + 1
    if n_days < 1:
        raise InputError(
            Fault(
                "the nursery ends before it begins",
                where="nursery",
                value=f"{nursery.first_day} to {last}",
                do="give an earlier `from`",
            )
        )
    days = local_days(
        weather.time_utc, nursery.site.time_zone, nursery.first_day, n_days, "the nursery"
    )
    cultivar = setup.cultivar
    light = lit_hours(
        np.array(days.dates(), dtype="datetime64[D]"),
        nursery.site,
        cultivar.value("photoperiod_sun_angle"),
        nursery.lighting,
        cultivar.value("night_break_shortest"),
    )
    development = development_table(cultivar)
    air = np.ascontiguousarray(weather.air_c)
    daily = air_rows(
        air,
        weather.solar_w_m2,
        daily_minimum(air, days.first_hour, n_days),
        np.full(len(air), NURSERY_COVER),
        light,
        development,
        cultivar.value("fruit_heat_threshold"),
        days.first_hour,
        n_days,
    )
    fill_crown_rows(
        air,
        air,
        days.first_hour,
        development,
        branch_table(cultivar),
        heat_limits(cultivar),
        daily,
        np.empty((N_BED_DAILY, n_days)),
    )
    return daily, air, days.first_hour


def nursery_plants(
    nursery: Nursery,
    weather: HourlyWeather,
    setup: BlockSetup,
    plants: np.recarray[Any, Any],
    tables: FloatArray,
) -> np.recarray[Any, Any]:
    """Return the plants with the state that the nursery gave them, one by one.

    Parameters
    ----------
    nursery, weather, setup : as in `nursery_daily`.
    plants : recarray ``[draws]``.
    tables : ``[draws, nodes]``, the induction response of each draw.
    """
    daily, air, first_hour = nursery_daily(nursery, weather, setup)
    changed = plants.copy()
    for draw in range(len(plants)):
        fill_induction(air, first_hour, tables[draw], daily)
        changed[draw] = plant_from_nursery(plants[draw], nursery_state(daily, plants[draw]))[0]
    return changed
