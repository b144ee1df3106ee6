"""Readings of sensors in a bed, hour by hour, and how far predicted temperatures are off."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, broken, raise_any, refuse, unknown_name
from phenocast.season.site import Site
from phenocast.tables import SENSOR_READINGS
from phenocast.weather.hourly import local_day_and_clock

Stamps = NDArray[np.datetime64]

SENSORS = ("film_surface_c", "air_above_film_c", "crown_c", "soil_5cm_c", "soil_10cm_c")
"""Columns of y, in the order in which the bed's kernel gives its temperatures. [degC]"""


@dataclass(frozen=True)
class SensorRows:
    """Readings by the hour.

    Parameters
    ----------
    hours : array of datetime64[h], shape [m, 1]
        Start of each hour, UTC: X of the fit.
    readings : DataFrame, shape [m, 5]
        Columns `SENSORS`, NaN where there is no reading: y of the fit. [degC]
    days : array of datetime64[D], shape [m]
        Local standard day of each row: the groups of a cross-validation by whole days.
    """

    hours: Stamps
    readings: pd.DataFrame
    days: Stamps


def sensor_rows(table: pd.DataFrame, site: Site, block: str | None = None) -> SensorRows:
    """Hourly means of a table of sensor readings.

    Parameters
    ----------
    table : DataFrame
        As the contract of sensor readings has it: ``block``, ``time_utc`` and any of `SENSORS`.
    site : Site
        Its clock decides what a day is.
    block : str, optional
        Take this block; needed where the table has several.

    Returns
    -------
    SensorRows

    Raises
    ------
    InputError
        When the block is not there, or none is named among several.

    Examples
    --------
    >>> table = pd.DataFrame({"block": "south", "crown_c": [20.0, 22.0, 24.0],
    ...     "time_utc": pd.to_datetime(["2026-10-01 10:00", "2026-10-01 10:30",
    ...                                 "2026-10-01 11:00"])})
    >>> rows = sensor_rows(table, Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary"))
    >>> rows.readings["crown_c"].tolist()
    [21.0, 24.0]
    """
    blocks = list(dict.fromkeys(table["block"]))
    refuse(
        (
            block is None and len(blocks) != 1,
            Fault(
                "the readings are of several blocks",
                "block",
                ", ".join(map(str, blocks)),
                do="name one",
            ),
        )
    )
    if block is not None and block not in blocks:
        raise InputError(unknown_name("block", block, blocks, "block"))
    own = table if block is None else table[table["block"] == block]
    stamps = own["time_utc"].to_numpy().astype("datetime64[h]")
    have = own.reindex(columns=list(SENSORS)).astype(np.float64)
    hourly = have.groupby(stamps).mean()
    hours = hourly.index.to_numpy().astype("datetime64[h]")
    days, _ = local_day_and_clock(hours, site.standard_offset_h)
    return SensorRows(hours[:, None], hourly.reset_index(drop=True), days)


def hour_places(X: ArrayLike, first: np.datetime64, n_hours: int) -> NDArray[np.int64]:
    """Place of each row of X in the weather.

    Raises
    ------
    InputError
        When X holds no stamps, a stamp twice, none at all, or one outside the weather.

    Examples
    --------
    >>> hour_places(np.array(["2026-10-01T05"], "datetime64[h]"),
    ...             np.datetime64("2026-10-01T00"), 24).tolist()
    [5]
    """
    given = np.asarray(X)
    if given.ndim == 2 and given.shape[1] == 1:
        given = given[:, 0]
    refuse(
        (
            given.ndim != 1 or given.size == 0 or not np.issubdtype(given.dtype, np.datetime64),
            Fault(
                "X is not one column of hours",
                "X",
                f"{given.dtype}, shape {given.shape}",
                "datetime64, start of each hour, UTC",
            ),
        )
    )
    stamps = given.astype("datetime64[h]")
    places = (stamps - first.astype("datetime64[h]")).astype(np.int64)
    last = first + np.timedelta64(n_hours - 1, "h")
    odd = np.flatnonzero(np.isnat(given) | (stamps != given))[:1]
    outside = np.flatnonzero((places < 0) | (places >= n_hours))
    refuse(
        *((True, Fault("a stamp is not a full hour", f"X[{at}]", str(given[at]))) for at in odd),
        *((not odd.size, Fault(f"{outside.size} readings have no weather", f"X[{at}]",
                               str(given[at]), f"{first} to {last}")) for at in outside[:1]),
        (np.unique(stamps).size != stamps.size,
         Fault("an hour comes twice", "X", do="give the mean of the hour")),
    )  # fmt: skip
    return np.asarray(places, dtype=np.int64)


def checked_readings(y: pd.DataFrame | ArrayLike, n_rows: int) -> FloatArray:
    """Readings as an array [m, 5] in the order of `SENSORS`, NaN where missing.

    Raises
    ------
    InputError
        When the columns are not those of sensors, the rows are not those of X, there is no
        reading at all, or one is not possible (limits of the contract of sensor readings).

    Examples
    --------
    >>> checked_readings(pd.DataFrame({"crown_c": [21.0]}), 1)[0, 2]
    np.float64(21.0)
    """
    if isinstance(y, pd.DataFrame):
        unknown = [str(name) for name in y.columns if name not in SENSORS]
        if unknown:
            raise InputError([unknown_name("sensor", name, SENSORS, "y") for name in unknown])
        values = y.reindex(columns=list(SENSORS)).to_numpy(dtype=np.float64)
    else:
        values = np.asarray(y, dtype=np.float64)
    refuse(
        (
            values.shape != (n_rows, len(SENSORS)),
            Fault(
                "y does not fit X",
                "y",
                values.shape,
                f"({n_rows}, {len(SENSORS)})",
                f"columns are {', '.join(SENSORS)}; NaN where there is no sensor",
            ),
        )
    )
    faults = broken(
        (
            not np.isfinite(values).any(),
            Fault("no reading at all", "y", allowed="one sensor or more"),
        )
    )
    for at, name in enumerate(SENSORS):
        limits = SENSOR_READINGS.column(name)
        bad = np.flatnonzero((values[:, at] < limits.lower) | (values[:, at] > limits.upper))
        faults += [
            Fault(f"{bad.size} readings cannot be", f"y[{row}], {name}", float(values[row, at]),
                  f"{limits.lower:g} to {limits.upper:g} degC", "take them out (NaN)")
            for row in bad[:1]
        ]  # fmt: skip
    raise_any(faults)
    return values


@dataclass(frozen=True)
class SensorScores:
    """Errors before and after a fit.

    Every table has the columns ``sensor``, ``n``, ``rmse_prior``, ``rmse_fitted``, ``bias_prior``,
    ``bias_fitted`` [degC]; bias is predicted less measured.

    Parameters
    ----------
    overall : DataFrame
        A row per sensor.
    by_hour : DataFrame
        A row per sensor and ``hour`` of local standard time.
    by_month : DataFrame
        A row per sensor and ``month``, 1 to 12.
    """

    overall: pd.DataFrame
    by_hour: pd.DataFrame
    by_month: pd.DataFrame


def sensor_scores(
    measured: FloatArray,
    prior: FloatArray,
    fitted: FloatArray,
    days: NDArray[np.datetime64],
    clock_h: FloatArray,
) -> SensorScores:
    """Return the errors of two predictions.

    Parameters
    ----------
    measured, prior, fitted : arrays of float64, shape [m, 5]
        Readings (NaN where missing) and predictions, columns `SENSORS`. [degC]
    days, clock_h : arrays, shape [m]
        Local standard day and clock at the start of each row's hour [h].

    Returns
    -------
    SensorScores

    Examples
    --------
    >>> y = np.array([[np.nan, np.nan, 20.0, np.nan, np.nan]])
    >>> got = sensor_scores(y, y + 2.0, y - 1.0, np.array(["2026-10-01"], "datetime64[D]"),
    ...                     np.array([12.0]))
    >>> got.overall[["sensor", "rmse_prior", "bias_fitted"]].values.tolist()
    [['crown_c', 2.0, -1.0]]
    """
    row, sensor = np.nonzero(np.isfinite(measured))
    errors = pd.DataFrame(
        {
            "sensor": np.asarray(sensor, dtype=np.int64),
            "hour": np.floor(clock_h[row]).astype(np.int64),
            "month": days[row].astype("datetime64[M]").astype(np.int64) % 12 + 1,
            "prior": prior[row, sensor] - measured[row, sensor],
            "fitted": fitted[row, sensor] - measured[row, sensor],
        }
    )
    return SensorScores(
        _table(errors, ["sensor"]), _table(errors, ["sensor", "hour"]),
        _table(errors, ["sensor", "month"]),
    )  # fmt: skip


def _table(errors: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    squared = errors.assign(prior2=errors["prior"] ** 2, fitted2=errors["fitted"] ** 2)
    means = squared.groupby(by, observed=True)[["prior", "fitted", "prior2", "fitted2"]].mean()
    counts = squared.groupby(by, observed=True)["prior"].count()
    table = pd.DataFrame(
        {
            "n": counts,
            "rmse_prior": np.sqrt(means["prior2"]),
            "rmse_fitted": np.sqrt(means["fitted2"]),
            "bias_prior": means["prior"],
            "bias_fitted": means["fitted"],
        }
    ).reset_index()
    table["sensor"] = [SENSORS[at] for at in table["sensor"]]
    return table
