"""Checks of weather records: what cannot be, what jumps, what stands still.

Values outside the plausible range are taken out and filled like a gap. Jumps from hour to hour and
values that stand still are told as suspect; only a lone spike and a sensor that repeats one value
for a day are taken out. Nothing else is changed.

Sources of the limits: plausible ranges of the WMO guideline for automatic stations (Zahumensky
2004, WMO-No. 488; transcription read); steps over 1 to 12 hours of WMO-No. 305 (1993; transcription
read), of which the first that is passed is told; relative humidity up to 105 % as sensors drift
(mesonet practice, read); persistence of 3 h for air of an urban network after WMO-No. 488 (read),
widened to half a day because field loggers round to whole degrees.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast._typing import BoolArray, FloatArray, IntArray
from phenocast.errors import Fault, InputError
from phenocast.weather.records import WeatherRecords

Tell = Callable[[str, BoolArray, str, str, bool], None]

PLAUSIBLE: dict[str, tuple[float, float]] = {
    "air_c": (-80.0, 60.0),
    "air_max_c": (-80.0, 60.0),
    "air_min_c": (-80.0, 60.0),
    "dew_point_c": (-80.0, 35.0),
    "relative_humidity_pct": (0.0, 105.0),
    "vapour_pressure_kpa": (0.0, 8.0),
    "wind_m_s": (0.0, 75.0),
    "solar_w_m2": (-20.0, 1600.0),
    "longwave_down_w_m2": (50.0, 700.0),
    "rain_mm": (0.0, 2400.0),
    "pressure_kpa": (50.0, 110.0),
    "soil_5cm_c": (-50.0, 80.0),
    "soil_10cm_c": (-50.0, 60.0),
}
"""Plausible range of each column, in its unit."""

STEP_HOURS = (1, 2, 3, 6, 12)
LARGEST_STEPS: dict[str, tuple[float, ...]] = {
    "air_c": (4.0, 7.0, 9.0, 15.0, 25.0),
    "dew_point_c": (4.0, 6.0, 8.0, 12.0, 20.0),
    "pressure_kpa": (0.3, 0.6, 0.9, 1.8, 3.6),
}
"""Changes that are not passed over `STEP_HOURS` hours, in the unit of the column."""

# A spike passes the six-hour step within one hour and comes back within the next.
SPIKE = {"air_c": 15.0, "dew_point_c": 12.0, "pressure_kpa": 1.8}
# An interval's mean may pass its own extremes by the rounding of the file [degC].
ROUNDING_C = 0.15
# Hours of one and the same value that are told as suspect, and that are taken out.
STILL_SUSPECT_H = 12
STILL_REMOVED_H = 24
MOST_LISTED = 20


@dataclass(frozen=True)
class Checked:
    """Records after the checks: the table with bad values blanked, what was found, and how much.

    ``faults`` lists at most `MOST_LISTED` values, each with its row; ``removed`` and ``suspect``
    count all of them by column.
    """

    table: pd.DataFrame
    faults: tuple[Fault, ...]
    removed: dict[str, int]
    suspect: dict[str, int]


def checked(records: WeatherRecords) -> Checked:
    """Return the records with impossible values blanked, and every finding with its row.

    Parameters
    ----------
    records : WeatherRecords
        In order of time, one row an interval.

    Raises
    ------
    InputError
        When stamps come twice or run backwards.

    Examples
    --------
    >>> table = pd.DataFrame({
    ...     "time_utc": pd.date_range("2026-10-01", periods=3, freq="h"), "row": [2, 3, 4],
    ...     "air_c": [18.0, 99.0, 17.5]})
    >>> result = checked(WeatherRecords(table, "hourly", "station.csv"))
    >>> print(result.faults[0])
    station.csv, row 3, air_c: outside the plausible range (value 99.0; allowed: -80 to 60)
    """
    _check_stamps(records)
    table = records.table.copy()
    faults: list[Fault] = []
    removed: dict[str, int] = {}
    suspect: dict[str, int] = {}

    def tell(column: str, bad: BoolArray, what: str, allowed: str, blank: bool) -> None:
        places = np.flatnonzero(bad)
        if len(places) == 0:
            return
        tally = removed if blank else suspect
        tally[column] = tally.get(column, 0) + len(places)
        for place in places[: max(0, MOST_LISTED - len(faults))]:
            row = int(table["row"].iloc[place])
            faults.append(
                Fault(
                    what,
                    where=f"{records.source}, row {row}, {column}",
                    value=round(float(table[column].iloc[place]), 3),
                    allowed=allowed,
                )
            )
        if blank:
            table.loc[table.index[places], column] = np.nan

    for column in records.columns:
        low, high = PLAUSIBLE[column]
        values = table[column].to_numpy(dtype=np.float64)
        outside = (values < low) | (values > high)
        tell(column, outside, "outside the plausible range", f"{low:g} to {high:g}", True)
    if {"air_max_c", "air_min_c"} <= set(records.columns):
        turned = (table["air_min_c"] > table["air_max_c"]).to_numpy()
        tell("air_min_c", turned, "the minimum lies above the maximum", "at most air_max_c", True)
    if {"air_c", "dew_point_c"} <= set(records.columns):
        above = (table["dew_point_c"] > table["air_c"] + 0.5).to_numpy()
        tell("dew_point_c", above, "the dew point lies above the air", "at most air_c", True)
    if {"air_c", "air_max_c", "air_min_c"} <= set(records.columns):
        air = table["air_c"]
        beyond = (air > table["air_max_c"] + ROUNDING_C) | (air < table["air_min_c"] - ROUNDING_C)
        tell(
            "air_c",
            beyond.to_numpy(),
            "the mean lies outside its extremes",
            "air_min_c to air_max_c",
            False,
        )
    if records.step == "hourly":
        apart = _apart(table["time_utc"].to_numpy())
        for column in LARGEST_STEPS:
            if column in records.columns:
                _steps(table, column, apart, tell)
        if "air_c" in records.columns:  # humid air keeps its dew point for days
            _stills(table, "air_c", tell)
    return Checked(table, tuple(faults), removed, suspect)


def _check_stamps(records: WeatherRecords) -> None:
    """Refuse stamps that come twice or run backwards, with the rows of the first of them."""
    stamps = records.table["time_utc"].to_numpy()
    rows = records.table["row"].to_numpy()
    change = np.diff(stamps) / np.timedelta64(1, "s")
    if not np.isfinite(change).all():
        raise InputError(Fault("a row has no time stamp", where=records.source))
    faults = []
    for wrong, what in (
        (change == 0, "the stamp comes twice"),
        (change < 0, "the stamps run back"),
    ):
        places = np.flatnonzero(wrong)
        if len(places):
            place = places[0]
            faults.append(
                Fault(
                    what,
                    where=f"{records.source}, rows {rows[place]} and {rows[place + 1]}",
                    value=f"{stamps[place + 1].astype('datetime64[m]')} UTC",
                    allowed="each interval once, in order of time",
                    do=f"{len(places)} such rows in all; sort the file and drop repeats",
                )
            )
    if faults:
        raise InputError(faults)


def _apart(stamps: NDArray[np.datetime64]) -> dict[int, BoolArray]:
    """Return for each of `STEP_HOURS` which rows lie that far after the row that many before."""
    seconds = stamps.astype("datetime64[s]").astype(np.int64)
    return {hours: seconds[hours:] - seconds[:-hours] == 3600 * hours for hours in STEP_HOURS}


def _steps(table: pd.DataFrame, column: str, apart: dict[int, BoolArray], tell: Tell) -> None:
    values = table[column].to_numpy(dtype=np.float64)
    unit = "kPa" if column == "pressure_kpa" else "degC"
    change = _change(values, apart[1], 1)
    back = np.append(change[1:], np.nan)
    limit = SPIKE[column]
    spike = (np.abs(change) > limit) & (np.abs(back) > limit) & (change * back < 0.0)
    tell(column, spike, "a lone spike", f"steps up to {limit:g} {unit}", True)
    values = np.where(spike, np.nan, values)
    told = np.zeros(len(values), dtype=bool)
    for hours, largest in zip(STEP_HOURS, LARGEST_STEPS[column], strict=True):
        jump = (np.abs(_change(values, apart[hours], hours)) > largest) & ~told
        # one front passes the longer limits for hours: its first row is told
        first = jump & ~np.append(False, jump[:-1])
        tell(
            column,
            first,
            f"a step larger than usual over {hours} h",
            f"up to {largest:g} {unit}",
            False,
        )
        told |= jump


def _change(values: FloatArray, apart: BoolArray, hours: int) -> FloatArray:
    """Return the change over so many hours; NaN where the rows do not lie that far apart."""
    change = np.full(len(values), np.nan)
    if len(values) > hours:
        change[hours:] = np.where(apart, values[hours:] - values[:-hours], np.nan)
    return change


def _stills(table: pd.DataFrame, column: str, tell: Tell) -> None:
    run = still_run_lengths(table[column].to_numpy(dtype=np.float64))
    stuck = run > STILL_REMOVED_H
    tell(column, stuck, "the sensor stands still", f"up to {STILL_REMOVED_H} h", True)
    slow = (run > STILL_SUSPECT_H) & ~stuck
    tell(column, slow, "the sensor stands still", f"up to {STILL_SUSPECT_H} h", False)


def still_run_lengths(values: FloatArray) -> IntArray:
    """Return for each value the length of the run of equal values it stands in; 0 for NaN.

    Examples
    --------
    >>> still_run_lengths(np.array([1.0, 1.0, 2.0, np.nan])).tolist()
    [2, 2, 1, 0]
    """
    if len(values) == 0:
        return np.zeros(0, dtype=np.int64)
    starts = np.flatnonzero(np.append(True, values[1:] != values[:-1]))
    lengths = np.diff(np.append(starts, len(values)))
    run = np.repeat(lengths, lengths)
    return np.where(np.isnan(values), 0, run)
