"""Scores of single-valued forecasts, and skill against a reference.

A missing forecast or observation makes the score NaN: decide on the cases before scoring, and say
so.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from phenocast.verification._checks import FloatArray, floats, require


def bias(observed: ArrayLike, forecast: ArrayLike) -> float:
    """Mean of forecast less observed, in the unit of the forecast.

    Parameters
    ----------
    observed, forecast : arrays that broadcast, at least one case.

    Raises
    ------
    InputError : no case.

    Examples
    --------
    >>> bias([10.0, 20.0], [12.0, 20.0])
    1.0
    """
    return float(np.mean(_errors(observed, forecast)))


def mean_absolute_error(observed: ArrayLike, forecast: ArrayLike) -> float:
    """Mean absolute error, in the unit of the forecast.

    Parameters
    ----------
    observed, forecast : arrays that broadcast, at least one case.

    Raises
    ------
    InputError : no case.

    Examples
    --------
    >>> mean_absolute_error([10.0, 20.0], [12.0, 19.0])
    1.5
    """
    return float(np.mean(np.abs(_errors(observed, forecast))))


def root_mean_square_error(observed: ArrayLike, forecast: ArrayLike) -> float:
    """Root mean square error, in the unit of the forecast.

    Parameters
    ----------
    observed, forecast : arrays that broadcast, at least one case.

    Raises
    ------
    InputError : no case.

    Examples
    --------
    >>> root_mean_square_error([10.0, 20.0], [13.0, 16.0]).__round__(4)
    3.5355
    """
    return float(np.sqrt(np.mean(_errors(observed, forecast) ** 2)))


def hits(observed: ArrayLike, forecast: ArrayLike, tolerance: float) -> int:
    """Count of cases within a tolerance (included), such as one week of the first pick.

    Parameters
    ----------
    observed, forecast : arrays that broadcast, at least one case, nothing missing.
    tolerance : largest difference that is a hit, 0 or more, in the unit of the forecast.

    Raises
    ------
    InputError : no case; a missing value; a negative tolerance.

    Examples
    --------
    >>> hits([10.0, 20.0, 30.0], [11.0, 20.0, 37.0], tolerance=1.0)
    2
    """
    require(tolerance >= 0.0, "negative tolerance", where="tolerance", allowed="0 or more")
    errors = _errors(observed, forecast)
    require(
        ~np.isnan(errors), "a missing case", where="observed, forecast", allowed="complete cases"
    )
    return int(np.count_nonzero(np.abs(errors) <= tolerance))


def skill(score: ArrayLike, reference: ArrayLike) -> FloatArray:
    """Skill of a score whose best value is 0: 1 is perfect, 0 no better than the reference.

    Parameters
    ----------
    score, reference : mean scores of forecast and reference on the same cases, arrays that
        broadcast.

    Returns
    -------
    ``1 - score / reference``; NaN where the reference is perfect. [1]

    Examples
    --------
    >>> float(skill(3.0, 4.0))
    0.25
    """
    achieved, basis = np.broadcast_arrays(floats(score), floats(reference))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(basis == 0.0, np.nan, 1.0 - achieved / basis))


def _errors(observed: ArrayLike, forecast: ArrayLike) -> FloatArray:
    errors = np.asarray(floats(forecast) - floats(observed))
    require(errors.size > 0, "no case", where="observed", allowed="at least one")
    return errors
