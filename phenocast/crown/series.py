"""What drives a bed, and the temperatures that follow, as hourly series."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.crown import balance
from phenocast.crown.atmosphere import sky_longwave
from phenocast.crown.records import BED_DTYPE
from phenocast.errors import Fault, InputError
from phenocast.vector import in_groups, lane_records, side_by_side

if TYPE_CHECKING:
    from phenocast.weather.hourly import HourlyWeather

DEEP_MEMORY_H = 30 * 24


@dataclass(frozen=True)
class BedForcing:
    """Hourly arrays that drive the bed, all of shape [n].

    Parameters
    ----------
    air_c, vapour_pressure_kpa, wind_m_s : arrays of float64, shape [n]
        Air [degC], vapour pressure [kPa], wind at 2 m [m s-1].
    solar_w_m2, longwave_down_w_m2 : arrays of float64, shape [n]
        Sunlight on the level and longwave from the sky. [W m-2]
    deep_c : array of float64, shape [n]
        Mean air of the last 30 days, which the deep soil follows. [degC]
    longwave_estimated : array of float64, shape [n]
        1 where the longwave is an estimate, 0 where it was measured. [-]
    """

    air_c: FloatArray
    vapour_pressure_kpa: FloatArray
    wind_m_s: FloatArray
    solar_w_m2: FloatArray
    longwave_down_w_m2: FloatArray
    deep_c: FloatArray
    longwave_estimated: FloatArray

    def __len__(self) -> int:
        return len(self.air_c)

    def part(self, hours: slice) -> BedForcing:
        """Return some of the hours."""
        return BedForcing(*(getattr(self, field.name)[hours] for field in fields(self)))


@dataclass(frozen=True)
class BedRun:
    """The run of one bed inside the hours of a forcing.

    Parameters
    ----------
    first_hour : int
        Place of its first hour in the forcing.
    cover, sprinkling_mm_h : arrays of float64, shape [n]
        Share of the bed top under leaves [-] and overhead water [mm h-1], from that hour on; the
        run has as many hours.
    film_age_d : float
        Age of the film in the first hour. [d]
    records : recarray of BED_DTYPE, shape [draws]
    """

    first_hour: int
    cover: FloatArray
    sprinkling_mm_h: FloatArray
    film_age_d: float
    records: Any


@dataclass(frozen=True)
class BedTemperatures:
    """Hourly temperatures of one bed [degC], each of shape [n].

    The film surface is that of the film at the plants (of a striped film, the stripe). The soil at
    5 cm lies on the straight line between the centres of the two upper layers, 2 and 10 cm.
    """

    film_surface_c: FloatArray
    air_above_film_c: FloatArray
    crown_c: FloatArray
    soil_5cm_c: FloatArray
    soil_10cm_c: FloatArray


def deep_temperature(air_c: FloatArray) -> FloatArray:
    """Mean air of the last 30 days, hour by hour.

    In the first 30 days of a record the mean runs over the hours there are, and over the first
    three days at least.

    Parameters
    ----------
    air_c : array of float64, shape [n]
        Hourly air temperature. [degC]

    Returns
    -------
    array of float64, shape [n]
        Running mean. [degC]

    Examples
    --------
    >>> deep_temperature(np.full(100, 15.0))[[0, -1]]
    array([15., 15.])
    """
    air = np.asarray(air_c, dtype=np.float64)
    total = np.concatenate(([0.0], np.cumsum(air)))
    ends = np.maximum(np.arange(1, air.size + 1), min(72, air.size))
    starts = np.maximum(ends - DEEP_MEMORY_H, 0)
    return np.asarray((total[ends] - total[starts]) / (ends - starts), dtype=np.float64)


def bed_forcing(weather: HourlyWeather, clear_sky_w_m2: FloatArray) -> BedForcing:
    """Return what drives a bed from an hourly weather table.

    Measured longwave is used where the table has it; elsewhere it is estimated from air, vapour
    and cloud.

    Parameters
    ----------
    weather : HourlyWeather
    clear_sky_w_m2 : array of float64, shape [n]
        Solar radiation under a clear sky in each hour. [W m-2]

    Returns
    -------
    BedForcing

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> table = SimpleNamespace(
    ...     air_c=np.full(24, 20.0), vapour_pressure_kpa=np.full(24, 1.2),
    ...     wind_m_s=np.full(24, 2.0), solar_w_m2=np.zeros(24),
    ...     longwave_down_w_m2=np.full(24, np.nan))
    >>> bed_forcing(table, np.zeros(24)).longwave_down_w_m2[0].round(1)
    np.float64(328.9)
    """
    longwave = sky_longwave(
        weather.air_c,
        weather.vapour_pressure_kpa,
        weather.solar_w_m2,
        clear_sky_w_m2,
        weather.longwave_down_w_m2,
    )
    estimated = ~np.isfinite(np.asarray(weather.longwave_down_w_m2, dtype=np.float64))
    return BedForcing(
        air_c=np.ascontiguousarray(weather.air_c, dtype=np.float64),
        vapour_pressure_kpa=np.ascontiguousarray(weather.vapour_pressure_kpa, dtype=np.float64),
        wind_m_s=np.ascontiguousarray(weather.wind_m_s, dtype=np.float64),
        solar_w_m2=np.ascontiguousarray(weather.solar_w_m2, dtype=np.float64),
        longwave_down_w_m2=np.ascontiguousarray(longwave, dtype=np.float64),
        deep_c=deep_temperature(weather.air_c),
        longwave_estimated=estimated.astype(np.float64),
    )


def bed_temperatures(
    forcing: BedForcing,
    cover: FloatArray,
    sprinkling_mm_h: FloatArray,
    record: Any,
    *,
    film_age_d: float = 0.0,
    newton_steps: int = balance.NEWTON_STEPS,
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
    newton_steps : int
        Newton steps of the film balance in each hour.

    Returns
    -------
    BedTemperatures

    Raises
    ------
    InputError
        When the series differ in length or hold a value that is missing or impossible.

    Examples
    --------
    >>> from phenocast.crown.records import bed_records
    >>> from phenocast.parameters import bed, films, soils
    >>> n = 48
    >>> forcing = BedForcing(
    ...     air_c=np.full(n, 20.0), vapour_pressure_kpa=np.full(n, 1.2), wind_m_s=np.full(n, 2.0),
    ...     solar_w_m2=np.full(n, 500.0), longwave_down_w_m2=np.full(n, 340.0),
    ...     deep_c=np.full(n, 20.0), longwave_estimated=np.zeros(n))
    >>> record = bed_records(films()["black"], bed(), soils()["sandy loam"])[0]
    >>> t = bed_temperatures(forcing, np.zeros(n), np.zeros(n), record)
    >>> bool(t.film_surface_c[-1] > t.soil_10cm_c[-1] > 20.0)
    True
    """
    _check(forcing, cover, sprinkling_mm_h)
    bed = BedRun(0, cover, sprinkling_mm_h, film_age_d, np.atleast_1d(record))
    ((_, _, out),) = run_beds(forcing, [bed], kept=range(balance.N_OUT), newton_steps=newton_steps)
    return BedTemperatures(*out)


def run_beds(
    forcing: BedForcing,
    beds: Sequence[BedRun],
    *,
    kept: Sequence[int] = (balance.CROWN, balance.SOIL_10CM),
    newton_steps: int = balance.NEWTON_STEPS,
) -> Iterator[tuple[int, int, FloatArray]]:
    """Run every draw of every bed under one course of weather, unchecked.

    Beds follow each other in any order; those that begin at about the same time go side by side.

    Parameters
    ----------
    forcing : BedForcing
        The weather of all beds, for the whole trace.
    beds : sequence of BedRun
    kept : sequence of int
        Which temperatures: `CROWN`, `SOIL_10CM`, `FILM_SURFACE`, `AIR_ABOVE_FILM`, `SOIL_5CM`.
    newton_steps : int
        Newton steps of the film balance in each hour.

    Yields
    ------
    bed, draw : int
        Places in ``beds`` and in its records, each pair once, in no order that is promised.
    temperatures : array of float64, shape [len(kept), n]
        In the order of ``kept``, over the hours of the bed; a view with strides. [degC]
    """
    draws = [(number, draw) for number, bed in enumerate(beds) for draw in range(len(bed.records))]
    of_draw = np.array([number for number, _ in draws])
    records = np.frombuffer(b"".join(bed.records.tobytes() for bed in beds), dtype=BED_DTYPE)
    begin = np.array([bed.first_hour for bed in beds])
    hours = np.array([len(bed.cover) for bed in beds])
    ends = np.cumsum(hours)
    spans = np.array([begin, ends - hours, ends], dtype=np.float64)[:, of_draw]
    age = np.array([bed.film_age_d for bed in beds])[of_draw]
    starts = [
        balance.starting_state(
            forcing.air_c[bed.first_hour :][: len(bed.cover)],
            forcing.deep_c[bed.first_hour] + bed.records["deep_above_air"],
        )
        for bed in beds
    ]
    state = np.concatenate(starts, axis=-1)
    cover = np.concatenate([bed.cover for bed in beds], dtype=np.float64)
    water = np.concatenate([bed.sprinkling_mm_h for bed in beds], dtype=np.float64)
    rows = np.full(balance.N_OUT, -1)
    rows[list(kept)] = range(len(kept))
    # A shoulder, evaporation or a late start of one lane costs all eight.
    order = np.lexsort((spans[0], records["surface_wetness"] > 0.0, records["striped"]))
    groups = order[in_groups(len(order))]
    for group, record in zip(groups, lane_records(records[order]), strict=True):
        first = begin[of_draw[group]].min()
        stop = (begin + hours)[of_draw[group]].max()
        own = spans.take(group, axis=1)
        own[0] -= first
        part = forcing.part(slice(first, stop))
        out = side_by_side(len(part), len(kept))
        balance.run_lanes(
            part.air_c,
            part.vapour_pressure_kpa,
            part.wind_m_s,
            part.solar_w_m2,
            part.longwave_down_w_m2,
            part.longwave_estimated,
            part.deep_c,
            cover,
            water,
            own,
            age.take(group),
            record,
            state.take(group, axis=2),
            rows,
            out,
            newton_steps,
        )
        for lane, place in enumerate(dict.fromkeys(group.tolist())):
            number, draw = draws[place]
            since = begin[number] - first
            yield number, draw, out[since : since + hours[number], :, lane].T


def _check(forcing: BedForcing, cover: FloatArray, sprinkling_mm_h: FloatArray) -> None:
    series = {
        "air": (forcing.air_c, -60.0, 60.0, "degC"),
        "vapour pressure": (forcing.vapour_pressure_kpa, 0.0, 10.0, "kPa"),
        "wind": (forcing.wind_m_s, 0.0, 75.0, "m s-1"),
        "solar radiation": (forcing.solar_w_m2, 0.0, 1600.0, "W m-2"),
        "longwave": (forcing.longwave_down_w_m2, 40.0, 700.0, "W m-2"),
        "deep soil": (forcing.deep_c, -40.0, 60.0, "degC"),
        "canopy cover": (cover, 0.0, 1.0, "of the bed top"),
        "sprinkling": (sprinkling_mm_h, 0.0, 50.0, "mm h-1"),
    }
    faults = []
    for name, (values, lower, upper, unit) in series.items():
        if len(values) != len(forcing):
            faults.append(
                Fault(
                    f"{name} has another length than air",
                    value=len(values),
                    allowed=str(len(forcing)),
                )
            )
            continue
        bad = np.flatnonzero(~((values >= lower) & (values <= upper)))
        if bad.size:
            what = "missing" if np.isnan(values[bad[0]]) else "out of range"
            faults.append(
                Fault(
                    f"{name} is {what}",
                    where=f"hour {bad[0]}",
                    value=float(values[bad[0]]),
                    allowed=f"{lower:g} to {upper:g} {unit}",
                )
            )
    if faults:
        raise InputError(faults)
