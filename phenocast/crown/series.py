"""What drives a bed, and the temperatures that follow, as hourly series."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.crown import balance
from phenocast.crown.sky import sky_longwave
from phenocast.errors import Fault, InputError
from phenocast.weather import HourlyWeather

Hours = NDArray[np.float64]

DEEP_MEMORY_H = 30 * 24
# The soil under a film is a little warmer than the air over the month (Diaz-Perez and Batal 2002,
# abstract: daily means 1 to 5 degC above the air at root depth) [degC].
DEEP_ABOVE_AIR_C = 1.0


@dataclass(frozen=True)
class BedForcing:
    """Hourly arrays that drive the bed, all of shape ``[n]``.

    ``air_c`` [degC], ``vapour_pressure_kpa`` [kPa], ``wind_m_s`` at 2 m [m s-1], ``solar_w_m2`` and
    ``longwave_down_w_m2`` [W m-2] and ``deep_c``, the temperature under 60 cm [degC].
    """

    air_c: Hours
    vapour_pressure_kpa: Hours
    wind_m_s: Hours
    solar_w_m2: Hours
    longwave_down_w_m2: Hours
    deep_c: Hours

    def __len__(self) -> int:
        return len(self.air_c)


@dataclass(frozen=True)
class BedTemperatures:
    """Hourly temperatures of one bed [degC], each of shape ``[n]``."""

    film_surface_c: Hours
    air_above_film_c: Hours
    crown_c: Hours
    soil_5cm_c: Hours
    soil_10cm_c: Hours


def deep_temperature(air_c: Hours) -> Hours:
    """Return the temperature of the deep soil: the mean air of the last 30 days plus 1 degC.

    In the first 30 days of a record the mean runs over the hours there are, and over the first
    three days at least.

    Examples
    --------
    >>> deep_temperature(np.full(100, 15.0))[[0, -1]]
    array([16., 16.])
    """
    total = np.concatenate(([0.0], np.cumsum(air_c)))
    ends = np.arange(1, len(air_c) + 1)
    ends = np.maximum(ends, min(72, len(air_c)))
    starts = np.maximum(ends - DEEP_MEMORY_H, 0)
    return np.asarray((total[ends] - total[starts]) / (ends - starts) + DEEP_ABOVE_AIR_C)


def bed_forcing(weather: HourlyWeather, clear_sky_w_m2: Hours) -> BedForcing:
    """Return what drives a bed from an hourly weather table.

    Measured longwave is used where the table has it; elsewhere it is estimated from air, vapour
    and cloud.

    Parameters
    ----------
    weather : HourlyWeather
    clear_sky_w_m2 : array of float64, shape [n]
        Solar radiation under a clear sky in each hour. [W m-2]
    """
    longwave = sky_longwave(
        weather.air_c,
        weather.vapour_pressure_kpa,
        weather.solar_w_m2,
        clear_sky_w_m2,
        weather.longwave_down_w_m2,
    )
    return BedForcing(
        air_c=np.ascontiguousarray(weather.air_c),
        vapour_pressure_kpa=np.ascontiguousarray(weather.vapour_pressure_kpa),
        wind_m_s=np.ascontiguousarray(weather.wind_m_s),
        solar_w_m2=np.ascontiguousarray(weather.solar_w_m2),
        longwave_down_w_m2=np.ascontiguousarray(longwave),
        deep_c=deep_temperature(weather.air_c),
    )


def bed_temperatures(
    forcing: BedForcing,
    cover: Hours,
    sprinkling_mm_h: Hours,
    record: Any,
    *,
    film_age_d: float = 0.0,
    drying_h: float = 0.5,
) -> BedTemperatures:
    """Return the hourly temperatures of film, crown and soil of one bed.

    Parameters
    ----------
    forcing : BedForcing
    cover : array of float64, shape [n]
        Share of the bed top under leaves, 0 to 1. [-]
    sprinkling_mm_h : array of float64, shape [n]
        Overhead water. [mm h-1]
    record : record of BED_DTYPE
        One element of `bed_records`.
    film_age_d : float
        Age of the film in the first hour. [d]
    drying_h : float
        Hours in which the bed stays wet after the water stops. [h]

    Raises
    ------
    InputError
        When the series differ in length or hold a value that is not finite.
    """
    _check(forcing, cover, sprinkling_mm_h)
    out = np.empty((balance.N_OUT, len(forcing)))
    run_into(forcing, cover, sprinkling_mm_h, record, film_age_d, drying_h, out)
    return BedTemperatures(
        film_surface_c=out[balance.FILM_SURFACE],
        air_above_film_c=out[balance.AIR_ABOVE_FILM],
        crown_c=out[balance.CROWN],
        soil_5cm_c=out[balance.SOIL_5CM],
        soil_10cm_c=out[balance.SOIL_10CM],
    )


def run_into(
    forcing: BedForcing,
    cover: Hours,
    sprinkling_mm_h: Hours,
    record: Any,
    film_age_d: float,
    drying_h: float,
    out: NDArray[np.float64],
) -> None:
    """Fill ``out`` ``[N_OUT, n]`` with the temperatures of one bed; for callers with many beds."""
    balance.run_bed(
        forcing.air_c,
        forcing.vapour_pressure_kpa,
        forcing.wind_m_s,
        forcing.solar_w_m2,
        forcing.longwave_down_w_m2,
        forcing.deep_c,
        cover,
        sprinkling_mm_h,
        film_age_d,
        drying_h,
        record,
        balance.start_layers(forcing.air_c, float(forcing.deep_c[0])),
        out,
    )


def _check(forcing: BedForcing, cover: Hours, sprinkling_mm_h: Hours) -> None:
    series = {
        "air": forcing.air_c,
        "vapour pressure": forcing.vapour_pressure_kpa,
        "wind": forcing.wind_m_s,
        "solar radiation": forcing.solar_w_m2,
        "longwave": forcing.longwave_down_w_m2,
        "canopy cover": cover,
        "sprinkling": sprinkling_mm_h,
    }
    faults = []
    for name, values in series.items():
        if len(values) != len(forcing):
            faults.append(
                Fault(f"{name} has another length than air", value=len(values),
                      allowed=str(len(forcing)))
            )
        elif not np.all(np.isfinite(values)):
            hour = int(np.flatnonzero(~np.isfinite(values))[0])
            faults.append(Fault(f"{name} is missing", where=f"hour {hour}", value=values[hour]))
    if faults:
        raise InputError(faults)
