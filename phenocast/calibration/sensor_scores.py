"""How far predicted temperatures of a bed are off, by sensor, by hour of the day and by month."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast.calibration.sensor_rows import SENSORS

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class SensorScores:
    """Errors before and after a fit.

    Every table has the columns ``sensor``, ``n``, ``rmse_before``, ``rmse_after``, ``bias_before``,
    ``bias_after`` [degC]; bias is predicted less measured.

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
    before: FloatArray,
    after: FloatArray,
    days: NDArray[np.datetime64],
    clock_h: FloatArray,
) -> SensorScores:
    """Return the errors of two predictions.

    Parameters
    ----------
    measured, before, after : arrays of float64, shape [m, 5]
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
    >>> got.overall[["sensor", "rmse_before", "bias_after"]].values.tolist()
    [['crown_c', 2.0, -1.0]]
    """
    row, sensor = np.nonzero(np.isfinite(measured))
    errors = pd.DataFrame(
        {
            "sensor": np.asarray(sensor, dtype=np.int64),
            "hour": np.floor(clock_h[row]).astype(np.int64),
            "month": days[row].astype("datetime64[M]").astype(np.int64) % 12 + 1,
            "before": before[row, sensor] - measured[row, sensor],
            "after": after[row, sensor] - measured[row, sensor],
        }
    )
    return SensorScores(
        _table(errors, ["sensor"]), _table(errors, ["sensor", "hour"]),
        _table(errors, ["sensor", "month"]),
    )  # fmt: skip


def _table(errors: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    squared = errors.assign(before2=errors["before"] ** 2, after2=errors["after"] ** 2)
    means = squared.groupby(by, observed=True)[["before", "after", "before2", "after2"]].mean()
    counts = squared.groupby(by, observed=True)["before"].count()
    table = pd.DataFrame(
        {
            "n": counts,
            "rmse_before": np.sqrt(means["before2"]),
            "rmse_after": np.sqrt(means["after2"]),
            "bias_before": means["before"],
            "bias_after": means["after"],
        }
    ).reset_index()
    table["sensor"] = [SENSORS[at] for at in table["sensor"]]
    return table
