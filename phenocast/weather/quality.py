"""Checks of weather records: what cannot be, what jumps, what stands still.

Values outside the plausible range are taken out and filled like a gap. Jumps from hour to hour and
values that stand still are told as suspect; only a lone spike and a sensor that repeats one value
for a day are taken out. Nothing else is changed.

Sources of the limits: plausible ranges of the WMO guideline for automatic stations (Zahumensky
2004, WMO-No. 488; transcription read); hourly steps of WMO-No. 305 (1993; transcription read);
persistence of 3 h for air of an urban network after WMO-No. 488 (read), widened to half a day
because field loggers round to whole degrees.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast.errors import Fault
from phenocast.weather.records import WeatherRecords

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

# Steps that air and dew point do not pass in one hour [degC]; a spike passes the six-hour step and
# comes back within the next hour.
HOURLY_STEP_C = {"air_c": 4.0, "dew_point_c": 4.0}
SPIKE_C = {"air_c": 15.0, "dew_point_c": 12.0}
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

    Examples
    --------
    >>> table = pd.DataFrame({
    ...     "time_utc": pd.date_range("2026-10-01", periods=3, freq="h"), "row": [2, 3, 4],
    ...     "air_c": [18.0, 99.0, 17.5]})
    >>> result = checked(WeatherRecords(table, "hourly", "station.csv"))
    >>> print(result.faults[0])
    station.csv, row 3, air_c: outside the plausible range (value 99.0; allowed: -80 to 60)
    """
    table = records.table.copy()
    faults: list[Fault] = []
    removed: dict[str, int] = {}
    suspect: dict[str, int] = {}

    def tell(column: str, bad: NDArray[np.bool_], what: str, allowed: str, blank: bool) -> None:
        places = np.flatnonzero(bad)
        if len(places) == 0:
            return
        tally = removed if blank else suspect
        tally[column] = tally.get(column, 0) + len(places)
        for place in places[: max(0, MOST_LISTED - len(faults))]:
            row = int(table["row"].iloc[place])
            faults.append(
                Fault(what, where=f"{records.source}, row {row}, {column}",
                      value=round(float(table[column].iloc[place]), 3), allowed=allowed)
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
    if records.step == "hourly":
        for column, step in HOURLY_STEP_C.items():
            if column in records.columns:
                _steps_and_stills(table, column, step, tell)
    return Checked(table, tuple(faults), removed, suspect)


def _steps_and_stills(table: pd.DataFrame, column: str, step: float, tell: object) -> None:
    report = tell
    assert callable(report)
    values = table[column].to_numpy(dtype=np.float64)
    change = np.diff(values, prepend=np.nan)
    back = np.append(change[1:], np.nan)
    limit = SPIKE_C[column]
    spike = (np.abs(change) > limit) & (np.abs(back) > limit) & (change * back < 0.0)
    report(column, spike, "a lone spike", f"steps up to {limit:g} degC", True)
    jump = (np.abs(change) > step) & ~spike
    report(column, jump, "a step larger than usual in one hour", f"up to {step:g} degC", False)
    if column != "air_c":  # humid air keeps its dew point for days
        return
    run = still_run_lengths(table[column].to_numpy(dtype=np.float64))
    stuck = run > STILL_REMOVED_H
    report(column, stuck, "the sensor stands still", f"up to {STILL_REMOVED_H} h", True)
    slow = (run > STILL_SUSPECT_H) & ~stuck
    report(column, slow, "the sensor stands still", f"up to {STILL_SUSPECT_H} h", False)


def still_run_lengths(values: NDArray[np.float64]) -> NDArray[np.int64]:
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
