"""The bed of one block under one course of weather: cover, water, shelter, hourly temperatures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
import pandas as pd

from phenocast._typing import BoolArray, FloatArray
from phenocast.crown import (
    BedForcing,
    BedRun,
    BedTemperatures,
    bed_forcing,
    bed_temperatures,
    canopy_cover,
    canopy_degree_days,
    flower_temperature,
    measured_cover,
    run_beds,
    sheltered,
)
from phenocast.crown.frost_protection import watered_flower
from phenocast.parameters import ParameterSet
from phenocast.parameters import bed as shipped_bed
from phenocast.season import ClockHours, Lighting, Site
from phenocast.simulation.daily_sums import N_BED_DAILY, air_rows, daily_minimum, fill_crown_rows
from phenocast.simulation.responses import branch_table, development_table
from phenocast.simulation.setup import (
    SPIN_UP_DAYS,
    BlockSetup,
    LocalDays,
    heat_limits,
    local_days,
    physics_records,
)
from phenocast.thermal_time import lit_hours
from phenocast.weather import HourlyWeather
from phenocast.weather.sun import clear_sky_w_m2


@dataclass(frozen=True)
class SiteWeather:
    """A course of weather at a site with what it makes of sky and deep soil.

    It is made once for all beds under it (`site_weather`), so that a night is the same for each.
    """

    weather: HourlyWeather
    forcing: BedForcing

    @cached_property
    def flower_c(self) -> FloatArray:
        """Hourly temperature of an open flower that nothing protects, ``[hours]``. [degC]"""
        return flower_temperature(self.forcing, shipped_bed())


def site_weather(weather: HourlyWeather, site: Site) -> SiteWeather:
    """Return a course of weather with what it makes of the sky and the deep soil of a site."""
    return SiteWeather(weather, bed_forcing(weather, clear_sky_w_m2(weather.time_utc, site)))


@dataclass(frozen=True)
class BedSeason:
    """What drives the bed of a block from its spin-up to its last day, before any physics draw.

    ``days`` are the block's own days inside the hourly arrays; the hours before them are spin-up,
    which begins at ``first_hour`` of the course of weather. ``flower_min`` and
    ``bare_flower_min`` ``[days]`` are the lowest flower temperatures of each day, as the block is
    protected and without protection. [degC]
    """

    setup: BlockSetup
    of_site: SiteWeather
    first_hour: int
    days: LocalDays
    forcing: BedForcing
    cover: FloatArray
    sprinkling_mm_h: FloatArray
    film_age_d: float
    flower_min: FloatArray
    bare_flower_min: FloatArray

    @property
    def weather(self) -> HourlyWeather:
        """Weather of the bed's hours."""
        return self.of_site.weather.slice(self.first_hour, self.first_hour + len(self.cover))

    def temperatures(self, record: Any) -> BedTemperatures:
        """Return the hourly temperatures of the bed for one physics record, spin-up included."""
        return bed_temperatures(
            self.forcing, self.cover, self.sprinkling_mm_h, record, film_age_d=self.film_age_d
        )


def spin_up_start(setup: BlockSetup) -> date:
    """Return the local day on which the bed's run begins."""
    return setup.block.planting_date - timedelta(days=SPIN_UP_DAYS)


def bed_season(setup: BlockSetup, of_site: SiteWeather) -> BedSeason:
    """Return the bed of a block under one course of weather.

    Parameters
    ----------
    setup : BlockSetup
    of_site : SiteWeather
        Covers the block's days; hours before planting are used as spin-up where there are any, up
        to `SPIN_UP_DAYS` days.

    Raises
    ------
    InputError
        When the weather does not cover the block's days.
    """
    block = setup.block
    own = local_days(
        of_site.weather.time_utc,
        setup.site.time_zone,
        block.planting_date,
        setup.n_days,
        f"block {block.name!r}",
    )
    spin_up = min(own.first_hour, SPIN_UP_DAYS * 24)
    first = own.first_hour - spin_up
    hours = slice(first, own.hours().stop)
    days = LocalDays(own.first_date, own.n_days, spin_up)
    bare = of_site.forcing.part(hours)
    forcing, covered = _under_cover(setup, bare, days)
    bare_flower = flower = of_site.flower_c[hours]
    if block.covers:
        flower = flower_temperature(forcing, setup.physics)
    flower = _against_frost(setup, flower, forcing, days, ~covered)
    return BedSeason(
        setup=setup,
        of_site=of_site,
        first_hour=first,
        days=days,
        forcing=forcing,
        cover=_canopy(setup, forcing.air_c, days),
        sprinkling_mm_h=_sprinkling_mm_h(setup, days, len(bare)),
        film_age_d=film_age_d(setup, days),
        flower_min=daily_minimum(flower, days.first_hour, days.n_days),
        bare_flower_min=daily_minimum(bare_flower, days.first_hour, days.n_days),
    )


def film_age_d(setup: BlockSetup, days: LocalDays) -> float:
    """Return the age of the film in the first hour of the bed's run. [d]"""
    return max(0.0, setup.film_age_at_planting_d - days.first_hour / 24.0)


@lru_cache(maxsize=256)
def effective_photoperiod_h(
    site: Site,
    first_date: date,
    n_days: int,
    sun_angle_deg: float,
    lighting: tuple[Lighting, ...],
    shortest_break_h: float,
) -> FloatArray:
    """Return the photoperiod that the plants of a block feel on each day, ``[days]`` [h].

    The sun does not depend on the weather, so the traces of a block share one read-only array.
    """
    dates = np.datetime64(first_date, "D") + np.arange(n_days)
    light = lit_hours(dates, site, sun_angle_deg, lighting, shortest_break_h)
    light.setflags(write=False)
    return light


def bed_hours(
    beds: Sequence[BedSeason], records: Sequence[Any]
) -> list[tuple[FloatArray, FloatArray]]:
    """Run beds of one site under one course of weather for some draws of their physics.

    Parameters
    ----------
    beds : the beds.
    records : of each bed its physics records, ``[draws]``.

    Returns
    -------
    list of (crown, soil)
        Of each bed the hourly temperature of crown and soil at 10 cm, ``[draws, hours]``, spin-up
        included. [degC]
    """
    hours = [
        (np.empty((len(own), len(bed.cover))), np.empty((len(own), len(bed.cover))))
        for bed, own in zip(beds, records, strict=True)
    ]
    # beds in the open share the weather of the site; a cover makes weather of its own
    alike: dict[int, list[int]] = {}
    for number, bed in enumerate(beds):
        alike.setdefault(id(bed.forcing if bed.setup.block.covers else bed.of_site), []).append(
            number
        )
    for numbers in alike.values():
        in_open = not beds[numbers[0]].setup.block.covers
        forcing = beds[numbers[0]].of_site.forcing if in_open else beds[numbers[0]].forcing
        runs = [
            BedRun(
                beds[number].first_hour if in_open else 0,
                beds[number].cover,
                beds[number].sprinkling_mm_h,
                beds[number].film_age_d,
                records[number],
            )
            for number in numbers
        ]
        for place, draw, (crown, soil) in run_beds(forcing, runs):
            hours[numbers[place]][0][draw] = crown
            hours[numbers[place]][1][draw] = soil
    return hours


def air_daily(bed: BedSeason, cultivar: ParameterSet, n_days: int) -> FloatArray:
    """Return the daily table of plants on a bed with the rows that do not depend on the crown."""
    light = effective_photoperiod_h(
        bed.setup.site,
        bed.days.first_date,
        n_days,
        cultivar.value("photoperiod_sun_angle"),
        bed.setup.block.lighting,
        cultivar.value("night_break_shortest"),
    )
    return air_rows(
        bed.forcing.air_c,
        bed.forcing.solar_w_m2,
        bed.flower_min[:n_days],
        bed.cover,
        light,
        development_table(cultivar),
        cultivar.value("fruit_heat_threshold"),
        bed.days.first_hour,
        n_days,
    )


def daily_tables(
    bed: BedSeason, crown_c: FloatArray, soil_c: FloatArray, cultivar: ParameterSet, n_days: int
) -> tuple[FloatArray, FloatArray]:
    """Sum the days of a bed as the plants of a cultivar feel them.

    Parameters
    ----------
    bed : the bed.
    crown_c, soil_c : arrays ``[draws, hours]``, of `bed_hours`. [degC]
    cultivar : whose thresholds count.
    n_days : days from planting on.

    Returns
    -------
    daily : array ``[draws, N_DAILY, days]``
        The daily tables; their induction row is still to be filled for each cultivar draw.
    bed : array ``[draws, N_BED_DAILY, days]``
        What the report reads: crown and soil, day by day.
    """
    of_air = air_daily(bed, cultivar, n_days)
    daily = np.repeat(of_air[None], len(crown_c), axis=0)
    of_bed = np.empty((len(crown_c), N_BED_DAILY, n_days))
    development, branch = development_table(cultivar), branch_table(cultivar)
    limits = heat_limits(cultivar)
    first = bed.days.first_hour
    for crown, soil, table, sums in zip(crown_c, soil_c, daily, of_bed, strict=True):
        fill_crown_rows(crown, soil, first, development, branch, limits, table, sums)
    return daily, of_bed


def crown_daily(bed: BedSeason, records: Any) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Run the bed once for each physics record and sum its days for the block's cultivar.

    Returns
    -------
    crown : array ``[records, hours]`` [degC]
        Hourly crown temperature, spin-up included.
    daily, bed : arrays ``[records, N_DAILY, days]`` and ``[records, N_BED_DAILY, days]``
        `daily_tables`.
    """
    ((crown, soil),) = bed_hours([bed], [records])
    return crown, *daily_tables(bed, crown, soil, bed.setup.cultivar, bed.days.n_days)


def grown_cover(physics: ParameterSet, air_c: FloatArray) -> FloatArray:
    """Return the canopy cover that grows on the air from the hour of planting on, ``[hours]``.

    Parameters
    ----------
    physics : the bed's physics with its ``canopy_*`` numbers.
    air_c : array ``[hours]`` from the hour of planting on. [degC]
    """
    warmth = canopy_degree_days(
        air_c,
        base_c=physics.value("canopy_base"),
        ceiling_c=physics.value("canopy_ceiling"),
        delay_h=int(physics.value("canopy_delay")),
    )
    return canopy_cover(
        warmth,
        initial=physics.value("canopy_initial"),
        maximum=physics.value("canopy_maximum"),
        midpoint_degree_days=physics.value("canopy_midpoint"),
        scale_degree_days=physics.value("canopy_scale"),
    )


def _canopy(setup: BlockSetup, air_c: FloatArray, days: LocalDays) -> FloatArray:
    block = setup.block
    cover = np.full(len(air_c), setup.physics.value("canopy_initial"))
    first = days.first_hour
    if block.canopy:
        read_at = np.array(
            [24.0 * (reading.day - block.planting_date).days + 12.0 for reading in block.canopy]
        )
        share = np.array([reading.cover for reading in block.canopy])
        since = np.arange(len(air_c), dtype=np.float64) - first
        return measured_cover(since, read_at, share)
    cover[first:] = grown_cover(setup.physics, air_c[first:])
    return cover


def _local_hour(n_hours: int, first_hour: int) -> FloatArray:
    """Return the clock hour (0 to 23) at which each hour of the series begins, local standard."""
    return np.asarray((np.arange(n_hours) - first_hour) % 24, dtype=np.float64)


def _within(clock: ClockHours | None, hour_of_day: FloatArray) -> BoolArray:
    if clock is None:
        return np.ones(len(hour_of_day), dtype=bool)
    held = np.array([clock.holds(hour + 0.5) for hour in range(24)])
    return held[hour_of_day.astype(int)]


def _sprinkling_mm_h(setup: BlockSetup, days: LocalDays, n_hours: int) -> FloatArray:
    """Return the overhead water of each hour [mm h-1], from planting for the block's own days."""
    water = np.zeros(n_hours)
    sprinkling = setup.block.sprinkling
    if sprinkling is None:
        return water
    rate = sprinkling.rate_mm_h
    if rate is None:
        rate = setup.physics.value("sprinkling_rate")
    stop = days.first_hour + 24 * sprinkling.days
    on = _within(sprinkling.hours, _local_hour(n_hours, days.first_hour))
    on[: days.first_hour] = False
    on[stop:] = False
    water[on] = rate
    return water


def _against_frost(
    setup: BlockSetup,
    flower_c: FloatArray,
    forcing: BedForcing,
    days: LocalDays,
    open_to_water: BoolArray,
) -> FloatArray:
    """Return the flower temperature with the overhead water that the block states."""
    stated = setup.block.frost_protection
    if stated is None or stated.kind != "overhead-water":
        return flower_c
    hour = np.arange(len(flower_c)) - days.first_hour
    ready = open_to_water & (hour >= 0)
    if stated.first_day is not None:
        ready &= hour >= 24 * (stated.first_day - days.first_date).days
    if stated.last_day is not None:
        ready &= hour < 24 * (stated.last_day - days.first_date).days + 36
    return watered_flower(
        flower_c, forcing, setup.physics, stated, ready, (days.first_hour + 12) % 24
    )


def _under_cover(
    setup: BlockSetup, forcing: BedForcing, days: LocalDays
) -> tuple[BedForcing, BoolArray]:
    """Return the weather under the covers of the block, and the hours that one is on."""
    covered = np.zeros(len(forcing), dtype=bool)
    since = np.arange(len(forcing)) - days.first_hour
    for cover in setup.block.covers:
        first, last = (
            24 * (day - days.first_date).days for day in (cover.first_day, cover.last_day)
        )
        closed = (since >= first) & (since < last + 24)
        closed &= _within(cover.hours, _local_hour(len(forcing), days.first_hour))
        forcing = sheltered(forcing, closed.astype(np.float64), setup.shelters[cover.kind])
        covered |= closed
    return forcing, covered


COLUMNS = (
    "block",
    "time_utc",
    "air_c",
    "film_surface_c",
    "air_above_film_c",
    "crown_c",
    "soil_5cm_c",
    "soil_10cm_c",
    "canopy_cover",
    "filled",
)


def crown_rows(beds: Iterable[BedSeason]) -> pd.DataFrame:
    """Return the hourly temperatures of beds from planting to their last day.

    Parameters
    ----------
    beds : the beds of the blocks, each under its course of weather.

    Returns
    -------
    DataFrame with the columns of `COLUMNS`: temperatures [degC], cover 0 to 1, and ``filled``, the
    bits that tell which weather values of the hour were filled or estimated (0 for none).
    """
    parts = []
    for bed in beds:
        temperatures = bed.temperatures(physics_records(bed.setup)[0])
        own = bed.days.hours()
        parts.append(
            pd.DataFrame(
                {
                    "block": bed.setup.block.name,
                    "time_utc": bed.weather.time_utc[own].astype("datetime64[s]"),
                    "air_c": bed.forcing.air_c[own],
                    "film_surface_c": temperatures.film_surface_c[own],
                    "air_above_film_c": temperatures.air_above_film_c[own],
                    "crown_c": temperatures.crown_c[own],
                    "soil_5cm_c": temperatures.soil_5cm_c[own],
                    "soil_10cm_c": temperatures.soil_10cm_c[own],
                    "canopy_cover": bed.cover[own],
                    "filled": bed.weather.filled[own],
                },
                columns=list(COLUMNS),
            )
        )
    return pd.concat(parts, ignore_index=True)
