"""Rate of heat accumulation above a base temperature, with the published upper cut-offs.

none
    The rate rises without end.
horizontal
    The rate keeps its value above the upper threshold.
intermediate
    Above the upper threshold the rate falls at the slope at which it rose, to 0 and no further.
vertical
    No development while the temperature is above the upper threshold.

Closed-form degree-days from daily maximum and minimum temperature.

The day's temperature is taken as a sine or a triangle between the two, or as their average. Where
hourly temperatures exist, `degree_hours` of them is better than any of these.

Degree-hours of an hourly (or finer) series.

Heat stress of a series: how long, and by how much, a temperature stood above a cut-off.
"""

from collections.abc import Callable
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, refuse
from phenocast.thermal_time.responses import (
    floats,
    require_choice,
    require_positive,
    require_rising,
)

Cutoff = Literal["none", "horizontal", "intermediate", "vertical"]

CUTOFFS: tuple[str, ...] = get_args(Cutoff)


def heat_rate(
    t: ArrayLike, base: ArrayLike, upper: ArrayLike | None = None, cutoff: Cutoff = "none"
) -> FloatArray:
    """Degrees above the base that count at a temperature.

    Parameters
    ----------
    t : temperature, any shape. [degC]
    base : lower threshold. [degC]
    upper : upper threshold; needed by every cut-off but "none". [degC]
    cutoff : "none", "horizontal", "intermediate" or "vertical".

    Returns
    -------
    Rate, never negative, broadcast shape; NaN where `t` is NaN. [degC]

    Raises
    ------
    InputError : an unknown cut-off, an upper threshold missing, unused or not above the base.

    Notes
    -----
    Definitions of the University of California extension glossary of degree-day terms, read in
    transcription. A temperature of exactly `upper` still develops under the vertical cut-off.

    Examples
    --------
    >>> [float(heat_rate(35.0, 10.0, 30.0, c)) for c in ("horizontal", "intermediate", "vertical")]
    [20.0, 15.0, 0.0]
    """
    upper = check_thresholds(base, upper, cutoff)
    t, base = floats(t), floats(base)
    rate = np.maximum(t - base, 0.0)
    if upper is None:
        return rate
    if cutoff == "horizontal":
        return np.minimum(rate, upper - base)
    if cutoff == "intermediate":
        return np.maximum(np.minimum(rate, 2.0 * upper - base - t), 0.0)
    return np.where(t > upper, 0.0, rate)


def check_thresholds(base: ArrayLike, upper: ArrayLike | None, cutoff: str) -> FloatArray | None:
    """Upper threshold as an array, or None under the cut-off "none"; refuses what does not fit.

    Raises
    ------
    InputError : as `heat_rate`.

    Examples
    --------
    >>> check_thresholds(10.0, None, "none") is None
    True
    """
    require_choice("cutoff", cutoff, CUTOFFS)
    if cutoff == "none":
        refuse(
            (
                upper is not None,
                Fault(
                    what="an upper threshold was given, but the cut-off 'none' does not use it",
                    where="upper",
                    value=None if upper is None else floats(upper).tolist(),
                    do="name the cut-off (horizontal, intermediate, vertical) or leave upper out",
                ),
            )
        )
        return None
    if upper is None:
        raise InputError(
            Fault(
                what=f"the {cutoff} cut-off needs an upper threshold",
                where="upper",
                allowed="a temperature above the base [degC]",
                do="give upper, or use the cut-off 'none'",
            )
        )
    require_rising(("base", "upper"), (base, upper), "degree-days")
    return floats(upper)


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
    wrong = low > high
    if bool(np.any(wrong)):
        number = int(np.flatnonzero(np.ravel(wrong))[0])
        pair = [float(np.ravel(a)[number]) for a in np.broadcast_arrays(low, high)]
        raise InputError(
            Fault(
                what="daily minimum above the maximum",
                where=f"day {number} (counted from 0)",
                value=tuple(pair),
                allowed="minimum <= maximum",
                do="check the columns and the station's day",
            )
        )
    double = method.startswith("double")
    refuse(
        (
            double != (next_tmin is not None),
            Fault(
                what=(
                    f"{method} needs the minimum of the following day"
                    if double
                    else f"{method} does not use the minimum of the following day"
                ),
                where="next_tmin",
                do="give next_tmin with the double methods, and only with them",
            ),
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
    refuse(
        (
            cutoff not in {"none", "horizontal"},
            Fault(
                what=f"average-2 is not published with the {cutoff} cut-off",
                where="cutoff",
                value=cutoff,
                allowed="none, horizontal",
                do="use a sine or triangle method with this cut-off",
            ),
        )
    )
    top = np.inf if upper is None else upper
    return (np.clip(low, base, top) + np.clip(high, base, top)) / 2.0 - base


def degree_hours(
    t: ArrayLike,
    base: ArrayLike,
    upper: ArrayLike | None = None,
    cutoff: Cutoff = "none",
    *,
    step_h: float = 1.0,
) -> FloatArray:
    """Degree-hours of a series, summed over the last axis (time).

    Parameters
    ----------
    t : temperature of each step, shape ``[..., n]``. [degC]
    base, upper : lower and upper thresholds, broadcast against `t`. [degC]
    cutoff : "none", "horizontal", "intermediate" or "vertical" (see `heat_rate`).
    step_h : length of a step, more than 0. [h]

    Returns
    -------
    Degree-hours, shape ``[...]``. A missing temperature makes the sum NaN: it is never taken as 0.
    [degC h]

    Raises
    ------
    InputError : as `heat_rate`; a step that is not above 0.

    Examples
    --------
    >>> float(degree_hours([8.0, 12.0, 32.0], base=10.0, upper=30.0, cutoff="horizontal"))
    22.0
    """
    step = require_positive("step_h", step_h)
    return np.asarray(np.sum(heat_rate(t, base, upper, cutoff), axis=-1) * step)


def hours_above(t: ArrayLike, cutoff_c: ArrayLike, *, step_h: float = 1.0) -> FloatArray:
    """Hours above a cut-off (strictly), summed over the last axis (time).

    Parameters
    ----------
    t : temperature of each step, shape ``[..., n]``. [degC]
    cutoff_c : cut-off, broadcast against `t`. [degC]
    step_h : length of a step, more than 0. [h]

    Returns
    -------
    Hours, shape ``[...]``; NaN where a temperature is missing. [h]

    Raises
    ------
    InputError : a step that is not above 0.

    Examples
    --------
    >>> float(hours_above([29.0, 30.0, 30.5, 33.0], 30.0))
    2.0
    """
    step = require_positive("step_h", step_h)
    t = floats(t)
    above = np.where(np.isnan(t), np.nan, t > floats(cutoff_c))
    return np.asarray(np.sum(above, axis=-1) * step)


def degree_hours_above(t: ArrayLike, cutoff_c: ArrayLike, *, step_h: float = 1.0) -> FloatArray:
    """Degree-hours above a cut-off, summed over the last axis (time).

    Parameters
    ----------
    t : temperature of each step, shape ``[..., n]``. [degC]
    cutoff_c : cut-off, broadcast against `t`. [degC]
    step_h : length of a step, more than 0. [h]

    Returns
    -------
    Degree-hours, shape ``[...]``; NaN where a temperature is missing. [degC h]

    Raises
    ------
    InputError : a step that is not above 0.

    Examples
    --------
    >>> float(degree_hours_above([29.0, 30.0, 30.5, 33.0], 30.0))
    3.5
    """
    step = require_positive("step_h", step_h)
    excess = np.maximum(floats(t) - floats(cutoff_c), 0.0)
    return np.asarray(np.sum(excess, axis=-1) * step)
