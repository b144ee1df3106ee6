"""The bed of one block under one course of weather: cover, water, shelter, hourly temperatures."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

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
from phenocast.season import Block, ClockHours, Lighting, Site
from phenocast.simulation.daily_sums import (
    N_BED_DAILY,
    air_rows,
    daily_minimum,
    fill_crown_rows,
)
from phenocast.simulation.days import LocalDays, local_days
from phenocast.simulation.responses import branch_table, development_table
from phenocast.simulation.setup import SPIN_UP_DAYS, BlockSetup, heat_limits
from phenocast.thermal_time import lit_hours
from phenocast.weather import HourlyWeather
from phenocast.weather.local_time import local_midnight_utc
from phenocast.weather.sun import clear_sky_w_m2

Hours = NDArray[np.float64]


@dataclass(frozen=True)
class BedSeason:
    """What drives the bed of a block from its spin-up to its last day, before any physics draw.

    ``days`` are the block's own days inside the hourly arrays; the hours before them are spin-up.
    ``air_daily`` holds the rows of the daily table that do not depend on the crown;
    ``bare_flower_min`` ``[days]`` is its lowest flower temperature where nothing protects. [degC]
    """

    setup: BlockSetup
    weather: HourlyWeather
    days: LocalDays
    forcing: BedForcing
    cover: Hours
    sprinkling_mm_h: Hours
    film_age_d: float
    air_daily: NDArray[np.float64]
    bare_flower_min: NDArray[np.float64]

    def temperatures(self, record: Any) -> BedTemperatures:
        """Return the hourly temperatures of the bed for one physics record, spin-up included."""
        return bed_temperatures(
            self.forcing, self.cover, self.sprinkling_mm_h, record, film_age_d=self.film_age_d
        )

    def until(self, n_days: int) -> BedSeason:
        """Return the bed to the end of its first so many days."""
        days = replace(self.days, n_days=n_days)
        hours = slice(0, days.hours().stop)
        return replace(
            self,
            weather=self.weather.slice(0, hours.stop),
            days=days,
            forcing=self.forcing.part(hours),
            cover=self.cover[hours],
            sprinkling_mm_h=self.sprinkling_mm_h[hours],
            air_daily=self.air_daily[:, :n_days],
            bare_flower_min=self.bare_flower_min[:n_days],
        )


def spin_up_start(setup: BlockSetup) -> date:
    """Return the local day on which the bed's run begins."""
    return setup.block.planting_date - timedelta(days=SPIN_UP_DAYS)


def bed_season(setup: BlockSetup, weather: HourlyWeather) -> BedSeason:
    """Return the bed of a block under one course of weather.

    Parameters
    ----------
    setup : BlockSetup
    weather : HourlyWeather
        Covers the block's days; hours before planting are used as spin-up where there are any, up
        to `SPIN_UP_DAYS` days.

    Raises
    ------
    InputError
        When the weather does not cover the block's days.
    """
    block = setup.block
    own = local_days(
        weather.time_utc,
        setup.site.time_zone,
        block.planting_date,
        setup.n_days,
        f"block {block.name!r}",
    )
    spin_up = min(own.first_hour, SPIN_UP_DAYS * 24)
    first = own.first_hour - spin_up
    cut = weather.slice(first, own.hours().stop)
    days = LocalDays(own.first_date, own.n_days, spin_up)
    clear = clear_sky_w_m2(cut.time_utc, setup.site)
    bare = bed_forcing(cut, clear)
    forcing, covered = _under_cover(setup, bare, cut)
    cover = _canopy(setup, forcing.air_c, days)
    bare_flower = flower = flower_temperature(bare, setup.physics)
    if block.covers:
        flower = flower_temperature(forcing, setup.physics)
    flower = _against_frost(setup, flower, forcing, days, ~covered)
    light = felt_light_h(
        setup.site,
        days.first_date,
        days.n_days,
        setup.cultivar.value("photoperiod_sun_angle"),
        block.lighting,
        setup.cultivar.value("night_break_shortest"),
    )
    air_daily = air_rows(
        forcing.air_c,
        forcing.solar_w_m2,
        flower,
        cover,
        light,
        development_table(setup.cultivar),
        setup.cultivar.value("fruit_heat_threshold"),
        days.first_hour,
        days.n_days,
    )
    return BedSeason(
        setup=setup,
        weather=cut,
        days=days,
        forcing=forcing,
        cover=cover,
        sprinkling_mm_h=sprinkling_mm_h(setup, days, len(cut)),
        film_age_d=max(0.0, setup.film_age_at_planting_d - spin_up / 24.0),
        air_daily=air_daily,
        bare_flower_min=daily_minimum(bare_flower, days.first_hour, days.n_days),
    )


@lru_cache(maxsize=256)
def felt_light_h(
    site: Site,
    first_date: date,
    n_days: int,
    sun_angle_deg: float,
    lighting: tuple[Lighting, ...],
    shortest_break_h: float,
) -> Hours:
    """Return the photoperiod that the plants of a block feel on each day, ``[days]`` [h].

    The sun does not depend on the weather, so the futures of a block share one read-only array.
    """
    dates = np.datetime64(first_date, "D") + np.arange(n_days)
    light = lit_hours(dates, site, sun_angle_deg, lighting, shortest_break_h)
    light.setflags(write=False)
    return light


def crown_daily(
    season: BedSeason, records: Any
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Run the bed once for each physics record and sum its days.

    Returns
    -------
    crown : array ``[records, hours]`` [degC]
        Hourly crown temperature, spin-up included.
    daily : array ``[records, N_DAILY, days]``
        The daily table; its induction row is still to be filled for each cultivar draw.
    bed : array ``[records, N_BED_DAILY, days]``
        What the report reads: crown and soil, day by day.
    """
    n = len(records)
    hours = len(season.weather)
    crown = np.empty((n, hours))
    daily = np.empty((n, *season.air_daily.shape))
    bed = np.empty((n, N_BED_DAILY, season.days.n_days))
    cultivar = season.setup.cultivar
    development = development_table(cultivar)
    branch = branch_table(cultivar)
    limits = heat_limits(cultivar)
    run = BedRun(0, season.cover, season.sprinkling_mm_h, season.film_age_d, records)
    for _, i, (crown_c, soil_c) in run_beds(season.forcing, [run]):
        crown[i] = crown_c
        daily[i] = season.air_daily
        fill_crown_rows(
            crown[i],
            soil_c,
            season.days.first_hour,
            development,
            branch,
            limits,
            daily[i],
            bed[i],
        )
    return crown, daily, bed


def grown_cover(physics: ParameterSet, air_c: Hours) -> Hours:
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


def _canopy(setup: BlockSetup, air_c: Hours, days: LocalDays) -> Hours:
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


def _local_hour(n_hours: int, first_hour: int) -> NDArray[np.float64]:
    """Return the clock hour (0 to 23) at which each hour of the series begins, local standard."""
    return np.asarray((np.arange(n_hours) - first_hour) % 24, dtype=np.float64)


def _within(clock: ClockHours | None, hour_of_day: NDArray[np.float64]) -> NDArray[np.bool_]:
    if clock is None:
        return np.ones(len(hour_of_day), dtype=bool)
    held = np.array([clock.holds(hour + 0.5) for hour in range(24)])
    return held[hour_of_day.astype(int)]


def sprinkling_mm_h(
    setup: BlockSetup, days: LocalDays, n_hours: int, *, days_on: int | None = None
) -> Hours:
    """Return the overhead water of each hour [mm h-1], from planting for the block's own days.

    ``days_on`` replaces the number of days that the block states.
    """
    water = np.zeros(n_hours)
    sprinkling = setup.block.sprinkling
    if sprinkling is None:
        return water
    rate = sprinkling.rate_mm_h
    if rate is None:
        rate = setup.physics.value("sprinkling_rate")
    stop = days.first_hour + 24 * (sprinkling.days if days_on is None else days_on)
    on = _within(sprinkling.hours, _local_hour(n_hours, days.first_hour))
    on[: days.first_hour] = False
    on[stop:] = False
    water[on] = rate
    return water


def _against_frost(
    setup: BlockSetup,
    flower_c: Hours,
    forcing: BedForcing,
    days: LocalDays,
    open_to_water: NDArray[np.bool_],
) -> Hours:
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
    setup: BlockSetup, forcing: BedForcing, weather: HourlyWeather
) -> tuple[BedForcing, NDArray[np.bool_]]:
    """Return the weather under the covers of the block, and the hours that one is on."""
    block: Block = setup.block
    covered = np.zeros(len(forcing), dtype=bool)
    for cover in block.covers:
        days = local_days_clipped(setup, weather, cover.first_day, cover.last_day)
        closed = np.zeros(len(forcing))
        closed[days] = 1.0
        if cover.hours is not None:
            first = local_day_start(setup, weather)
            closed *= _within(cover.hours, _local_hour(len(forcing), first))
        forcing = sheltered(forcing, closed, setup.shelters[cover.kind])
        covered |= closed > 0.0
    return forcing, covered


def local_day_start(setup: BlockSetup, weather: HourlyWeather) -> int:
    """Return the position of a local midnight in the series (of the block's first day)."""
    start = local_midnight_utc(setup.block.planting_date, setup.site.time_zone)
    return int((start - weather.time_utc[0]) / np.timedelta64(1, "h"))


def local_days_clipped(
    setup: BlockSetup, weather: HourlyWeather, first_day: date, last_day: date
) -> slice:
    """Return the hours of a period of local days, cut to the series."""
    planting = local_day_start(setup, weather)
    start = planting + 24 * (first_day - setup.block.planting_date).days
    stop = planting + 24 * ((last_day - setup.block.planting_date).days + 1)
    return slice(max(0, start), max(0, min(stop, len(weather))))
