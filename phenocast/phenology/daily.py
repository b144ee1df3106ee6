"""The daily table of one block-season: what the weather and the bed did to the plant, day by day.

A daily table is a float64 array of shape ``[N_DAILY, n_days]``. Column 0 is the planting day; days
are local standard days. The rows are sums or means over the 24 hours of the day of responses that
do not depend on the state of the plant, so that one table serves every plant of a block.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError

(
    CROWN_DEVELOPMENT,
    AIR_DEVELOPMENT,
    INDUCTION_RESPONSE,
    CROWN_MEAN,
    CROWN_HEAT_30,
    CROWN_HEAT_33,
    LEAF_WARMTH,
    BRANCH_WARMTH,
    AIR_HEAT_27,
    AIR_MEAN,
    SOLAR,
    PHOTOPERIOD,
    COVER,
    CHILL,
    FLOWER_MIN,
    N_DAILY,
) = range(16)


class DailyRow(NamedTuple):
    """One row of the daily table: its name, unit, the range a value may have, and its meaning."""

    name: str
    unit: str
    lower: float
    upper: float
    meaning: str


DAILY_ROWS: tuple[DailyRow, ...] = (
    DailyRow("crown_development", "degC d", 0.0, 40.0, "development of buds at crown temperature"),
    DailyRow("air_development", "degC d", 0.0, 40.0, "development of flowers and fruit in the air"),
    DailyRow("induction_response", "1", 0.0, 1.0, "response of induction to crown temperature"),
    DailyRow("crown_mean", "degC", -40.0, 70.0, "mean crown temperature"),
    DailyRow("crown_heat_30", "degC h", 0.0, 1000.0, "crown degree-hours above 30 degC"),
    DailyRow("crown_heat_33", "degC h", 0.0, 1000.0, "crown degree-hours above 33 degC"),
    DailyRow("leaf_warmth", "degC d", 0.0, 40.0, "warmth for new leaves, crown and root zone"),
    DailyRow("branch_warmth", "degC d", 0.0, 40.0, "warmth for branch crowns"),
    DailyRow("air_heat_27", "degC h", 0.0, 1000.0, "air degree-hours above 27 degC"),
    DailyRow("air_mean", "degC", -60.0, 60.0, "mean air temperature"),
    DailyRow("solar", "MJ m-2 d-1", 0.0, 50.0, "global solar radiation"),
    DailyRow("photoperiod", "h", 0.0, 24.0, "hours of light that the plant feels"),
    DailyRow("cover", "1", 0.0, 1.0, "share of the bed under the canopy"),
    DailyRow("chill", "h", 0.0, 24.0, "hours of the crown in the chilling range"),
    DailyRow("flower_min", "degC", -60.0, 60.0, "lowest temperature at flower height"),
)


def check_daily(daily: FloatArray) -> None:
    """Refuse a table that the kernels would read wrongly.

    Parameters
    ----------
    daily : array ``[N_DAILY, n_days]``.

    Raises
    ------
    InputError
        A wrong shape, a type other than float64, or a row with a value that is missing or outside
        its range; every bad row is named.

    Examples
    --------
    >>> check_daily(np.zeros((3, 10)))
    Traceback (most recent call last):
    phenocast.errors.InputError: daily: a daily table has 15 rows and at least one day ...
    """
    if daily.ndim != 2 or daily.shape[0] != N_DAILY or daily.shape[1] < 1:
        raise InputError(
            Fault(
                "a daily table has 15 rows and at least one day",
                where="daily",
                value=daily.shape,
                allowed=f"({N_DAILY}, days)",
            )
        )
    if daily.dtype != np.float64:
        raise InputError(
            Fault(
                "a daily table holds float64",
                where="daily",
                value=str(daily.dtype),
                allowed="float64",
            )
        )
    faults = []
    for number, row in enumerate(DAILY_ROWS):
        bad = np.flatnonzero(~((daily[number] >= row.lower) & (daily[number] <= row.upper)))
        if bad.size:
            faults.append(
                Fault(
                    f"{row.name} is missing or outside its range on {bad.size} day(s)",
                    where=f"daily, day {bad[0]}",
                    value=float(daily[number, bad[0]]),
                    allowed=f"{row.lower:g} to {row.upper:g} {row.unit}",
                )
            )
    if faults:
        raise InputError(faults)
