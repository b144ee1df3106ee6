"""What packing, cooling and loading can take."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, refuse
from phenocast.parameters import labour


def packing_hours(kg: ArrayLike, rate_kg_h: float | None = None) -> FloatArray:
    """Return the hours of packing in a shed; field-packed fruit has none [h].

    Examples
    --------
    >>> packing_hours(470.0)
    array(100.)
    """
    rate = labour()["packing"].value("shed_rate") if rate_kg_h is None else rate_kg_h
    return np.asarray(
        np.asarray(kg, dtype=np.float64) / _above_zero("packing rate", rate, "kg h-1")
    )


def loading_hours(trays: ArrayLike, trays_h: float | None = None) -> FloatArray:
    """Return the hours of loading [h].

    Examples
    --------
    >>> loading_hours(120.0)
    array(2.)
    """
    rate = labour()["packing"].value("load_rate") if trays_h is None else trays_h
    return np.asarray(
        np.asarray(trays, dtype=np.float64) / _above_zero("loading rate", rate, "h-1")
    )


def cooler_trays_per_day(
    positions: int, hours: float = 10.0, *, cooling_min: float | None = None
) -> float:
    """Return the trays that forced-air positions cool in a day; only whole loads count.

    Parameters
    ----------
    positions : int
        Pallets cooled at once.
    hours : float
        Hours of the day in which loads can start and end [h].
    cooling_min : float, optional
        Seven-eighths cooling time [min]; the shipped one for two-pound boxes where not given.

    Examples
    --------
    >>> cooler_trays_per_day(2)
    864.0
    """
    numbers = labour()["cooling"]
    cooling = numbers.value("cooling_time") if cooling_min is None else cooling_min
    turn = cooling + numbers.value("handling_time")
    loads = int(hours * 60.0 / _above_zero("cooling time", turn, "min"))
    return float(positions * loads * numbers.value("trays_a_pallet"))


def _above_zero(what: str, value: float, unit: str) -> float:
    refuse(
        (
            not value > 0.0,
            Fault(f"the {what} is not above zero", value=value, allowed=f"above 0 {unit}"),
        )
    )
    return value
