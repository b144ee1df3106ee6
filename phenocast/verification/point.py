"""Errors of single-valued forecasts.

A missing forecast or observation makes the score NaN: decide on the cases before scoring, and say
so.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from phenocast.verification._checks import FloatArray, floats, require


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


def _errors(observed: ArrayLike, forecast: ArrayLike) -> FloatArray:
    errors = np.asarray(floats(forecast) - floats(observed))
    require(errors.size > 0, "no case", where="observed", allowed="at least one")
    return errors
