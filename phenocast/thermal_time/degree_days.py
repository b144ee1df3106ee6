"""Closed-form degree-days from daily maximum and minimum temperature.

The day's temperature is taken as a sine or a triangle between the two, or as their average. Where
hourly temperatures exist, `degree_hours` of them is better than any of these.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError
from phenocast.thermal_time._checks import floats, require_choice
from phenocast.thermal_time.heat_rate import Cutoff, check_thresholds, heat_rate

Method = Literal[
    "average-1",
    "average-2",
    "single-sine",
    "double-sine",
    "single-triangle",
    "double-triangle",
]
METHODS: tuple[str, ...] = get_args(Method)

_Above = Callable[[FloatArray, FloatArray, FloatArray], tuple[FloatArray, FloatArray]]


def degree_days(
    tmin: ArrayLike,
    tmax: ArrayLike,
    base: ArrayLike,
    upper: ArrayLike | None = None,
    *,
    method: Method = "single-sine",
    cutoff: Cutoff = "none",
    next_tmin: ArrayLike | None = None,
) -> FloatArray:
    """Degree-days of each day.

    Parameters
    ----------
    tmin, tmax : daily minimum and maximum temperature, shapes that broadcast. [degC]
    base : lower threshold. [degC]
    upper : upper threshold; needed by every cut-off but "none". [degC]
    method : "average-1" (rate at the day's average), "average-2" (both extremes first brought
        between the thresholds), "single-sine", "double-sine", "single-triangle", "double-triangle".
    cutoff : "none", "horizontal", "intermediate" or "vertical" (see `heat_rate`). "average-2" is
        published with none or the horizontal cut-off only.
    next_tmin : minimum of the following day, for the double methods. [degC]

    Returns
    -------
    Degree-days, never negative, broadcast shape; NaN where an input is NaN. [degC d]

    Raises
    ------
    InputError : a minimum above its maximum, `next_tmin` missing or unused, an unknown method or
        cut-off, a cut-off that the method is not published with, thresholds that do not rise.

    Notes
    -----
    Sine: Baskerville and Emin (1969), Ecology 50:514-517; double sine: Allen (1976), Environ.
    Entomol. 5:388-396; triangle: Lindsey and Newman (1956), Ecology 37:812-823; averages: McMaster
    and Wilhelm (1997), Agric. For. Meteorol. 87:291-300. The second half-day of a double method
    runs between the maximum and the next minimum, whichever is warmer. The intermediate cut-off is
    the published A(base) - 2 A(upper) plus A(2 upper - base), the area that keeps the rate from
    turning negative; A(h) is the area above h.

    Examples
    --------
    >>> degree_days([5.0, 15.0], [35.0, 35.0], 10.0, 30.0, cutoff="horizontal").round(3).tolist()
    [10.0, 13.91]
    """
    require_choice("method", method, METHODS)
    limit = check_thresholds(base, upper, cutoff)
    low, high, base = floats(tmin), floats(tmax), floats(base)
    _require_minimum_below_maximum(low, high)
    double = method.startswith("double")
    if double != (next_tmin is not None):
        raise InputError(
            Fault(
                what=(
                    f"{method} needs the minimum of the following day"
                    if double
                    else f"{method} does not use the minimum of the following day"
                ),
                where="next_tmin",
                do="give next_tmin with the double methods, and only with them",
            )
        )
    if method == "average-1":
        return heat_rate((low + high) / 2.0, base, limit, cutoff)
    if method == "average-2":
        return _average_of_clipped(low, high, base, limit, cutoff)
    above = _above_sine if method.endswith("sine") else _above_triangle
    first = _area(low, high, base, limit, cutoff, above)
    if next_tmin is None:
        return first
    following = floats(next_tmin)
    return (
        first
        + _area(
            np.minimum(high, following), np.maximum(high, following), base, limit, cutoff, above
        )
    ) / 2.0


def _area(
    low: FloatArray,
    high: FloatArray,
    base: FloatArray,
    upper: FloatArray | None,
    cutoff: str,
    above: _Above,
) -> FloatArray:
    over_base, _ = above(low, high, base)
    if upper is None:
        return over_base
    over_upper, share_over_upper = above(low, high, upper)
    if cutoff == "horizontal":
        area = over_base - over_upper
    elif cutoff == "intermediate":
        area = over_base - 2.0 * over_upper + above(low, high, 2.0 * upper - base)[0]
    else:
        area = over_base - over_upper - (upper - base) * share_over_upper
    return np.maximum(area, 0.0)  # rounding of areas that cancel


def _above_sine(
    low: FloatArray, high: FloatArray, threshold: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean excess over a threshold [degC d] and share of the day above it [1], sine day."""
    mean, half = (low + high) / 2.0, (high - low) / 2.0
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        level = np.clip((threshold - mean) / half, -1.0, 1.0)
    angle = np.arcsin(level)
    share = (np.pi / 2.0 - angle) / np.pi
    excess = (mean - threshold) * share + half * np.cos(angle) / np.pi
    return _outside_the_crossing(low, high, threshold, excess, share)


def _above_triangle(
    low: FloatArray, high: FloatArray, threshold: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean excess over a threshold [degC d] and share of the day above it [1], triangle day."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        share = (high - threshold) / (high - low)
    return _outside_the_crossing(low, high, threshold, share * (high - threshold) / 2.0, share)


def _outside_the_crossing(
    low: FloatArray,
    high: FloatArray,
    threshold: FloatArray,
    excess: FloatArray,
    share: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Replace the crossing formula on days wholly below or above the threshold (flat ones too)."""
    below, over = high <= threshold, (low >= threshold) & (high > threshold)
    excess = np.where(below, 0.0, np.where(over, (low + high) / 2.0 - threshold, excess))
    return excess, np.where(below, 0.0, np.where(over, 1.0, share))


def _average_of_clipped(
    low: FloatArray, high: FloatArray, base: FloatArray, upper: FloatArray | None, cutoff: str
) -> FloatArray:
    if cutoff not in {"none", "horizontal"}:
        raise InputError(
            Fault(
                what=f"average-2 is not published with the {cutoff} cut-off",
                where="cutoff",
                value=cutoff,
                allowed="none, horizontal",
                do="use a sine or triangle method with this cut-off",
            )
        )
    top = np.inf if upper is None else upper
    return (np.clip(low, base, top) + np.clip(high, base, top)) / 2.0 - base


def _require_minimum_below_maximum(low: FloatArray, high: FloatArray) -> None:
    wrong = low > high
    if bool(np.any(wrong)):
        first = int(np.flatnonzero(np.ravel(wrong))[0])
        pair = [float(np.ravel(a)[first]) for a in np.broadcast_arrays(low, high)]
        raise InputError(
            Fault(
                what="daily minimum above the maximum",
                where=f"day {first} (counted from 0)",
                value=tuple(pair),
                allowed="minimum <= maximum",
                do="check the columns and the station's day",
            )
        )
