"""A film fit for one block of a season: its bed, canopy and sprinkling as the season states."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd

from phenocast.calibration.film.estimator import CrownSensorCalibrator
from phenocast.calibration.film.readings import SensorRows, sensor_rows
from phenocast.errors import Fault, InputError, refuse
from phenocast.season import Block, Season
from phenocast.simulation import bed_season, site_weather
from phenocast.simulation.setup import SPIN_UP_DAYS, block_setup
from phenocast.weather import HourlyWeather, SeasonWeather
from phenocast.weather.hourly import local_day_and_clock


def block_sensors(
    season: Season, block: Block, weather: SeasonWeather, table: pd.DataFrame, *, seed: int = 0
) -> tuple[CrownSensorCalibrator, SensorRows]:
    """An estimator set up for a block, and the readings that it takes.

    Parameters
    ----------
    season : Season
    block : Block
        One of its blocks; film, canopy and sprinkling are those that it states.
    weather : SeasonWeather
        Only what was observed is used.
    table : DataFrame
        Readings as the contract of sensor readings has them, of any blocks.
    seed : int
        Of the days held out.

    Returns
    -------
    calibrator : CrownSensorCalibrator
        Not fitted yet: ``calibrator.fit(rows.hours, rows.readings)``.
    rows : SensorRows
        Hourly means from the time that the weather of the bed covers.

    Raises
    ------
    InputError
        Without observed weather over the readings, for readings before the bed's run begins, or
        under a row cover or tunnel, whose own numbers would hide in those of the film.

    Examples
    --------
    See ``tests/cli/test_fit_sensors.py``: a season takes more than a few lines.
    """
    rows = sensor_rows(table, season.site, block.name)
    where = f"block {block.name!r}"
    first, last = _day(rows.days.min()), _day(rows.days.max())
    if weather.observed is None or not len(weather.observed):
        raise InputError(
            Fault(
                "no observed weather",
                where,
                do="a sensor fit needs what the bed felt: state weather.observed",
            )
        )
    earliest = block.planting_date - timedelta(days=SPIN_UP_DAYS)
    refuse(
        (first < earliest,
         Fault("readings begin long before planting", where, first.isoformat(),
               f"{earliest} or later",
               "leave the earlier rows out, or state when the film was in place")),
        *((cover.first_day <= last and first <= cover.last_day,
           Fault("readings under a row cover or tunnel", where,
                 f"{cover.first_day} to {cover.last_day}",
                 do="leave those rows out: what the cover does would be put on the film"))
          for cover in block.covers),
    )  # fmt: skip
    last = max(min(last, _last_whole_day(season, weather.observed)), block.planting_date)
    setup = block_setup(season, replace(block, season_end=last))
    bed = bed_season(setup, site_weather(weather.observed, season.site))
    inside = (rows.hours[:, 0] >= bed.weather.time_utc[0]) & (
        rows.hours[:, 0] <= bed.weather.time_utc[-1]
    )
    refuse(
        (not inside.any(),
         Fault("no reading falls into the observed weather", where, f"{first} to {last}",
               f"{bed.weather.time_utc[0]} to {bed.weather.time_utc[-1]} (UTC)")),
    )  # fmt: skip
    calibrator = CrownSensorCalibrator(
        bed.weather,
        film=setup.film,
        soil=setup.soil,
        physics=setup.physics,
        stripe_width_m=block.stripe_width_m,
        row_offset_m=season.bed.plant_row_offset_m,
        water_m3_m3=season.bed.soil_water_m3_m3,
        cover=np.asarray(bed.cover),
        sprinkling_mm_h=np.asarray(bed.sprinkling_mm_h),
        film_age_d=bed.film_age_d,
        seed=seed,
        name=film_name(block),
    )
    return calibrator, SensorRows(
        rows.hours[inside], rows.readings[inside].reset_index(drop=True), rows.days[inside]
    )


def film_name(block: Block) -> str:
    """Name of the film that is fitted on a block.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> film_name(SimpleNamespace(film="white-on-black", name="North Field (2)"))
    'white-on-black-north-field-2'
    """
    plain = "".join(c if c.isascii() and c.isalnum() else " " for c in block.name.lower())
    return "-".join([block.film, *(plain.split() or ["fitted"])])


def _last_whole_day(season: Season, observed: HourlyWeather) -> date:
    days, _ = local_day_and_clock(observed.time_utc, season.site.standard_offset_h)
    known, hours = np.unique(days, return_counts=True)
    whole = known[hours >= 24]
    return _day(whole[-1] if whole.size else known[0])


def _day(stamp: np.datetime64) -> date:
    return date.fromisoformat(str(stamp.astype("datetime64[D]")))
