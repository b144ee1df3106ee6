"""Partial pooling: estimates of cultivars drawn to their common mean as far as they are unsure.

A cultivar with few records gets an estimate near the mean of all; one with many keeps its own. How
far cultivars truly differ is estimated from how much more they scatter than their errors explain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from phenocast.calibration._checks import FloatArray, finite
from phenocast.errors import Fault, InputError


@dataclass(frozen=True)
class Pooled:
    """Common mean, spread of the cultivars and their pooled estimates.

    Parameters
    ----------
    mean, mean_error : float
        Mean of the cultivars and its standard error. [unit of the estimates]
    between_variance : float
        Variance between cultivars; 0 where their scatter is no more than their errors explain.
        [unit squared]
    q, df : float
        Scatter over errors, and what it would be without differences between cultivars. [1]
    weight_on_mean : array ``[cultivar]``
        Share of the common mean in each pooled estimate, 0 to 1.
    estimates, errors : arrays ``[cultivar]``
        Pooled estimates and their standard errors, the uncertain mean included and the variance
        between cultivars taken as known.
    """

    mean: float
    mean_error: float
    between_variance: float
    q: float
    df: float
    weight_on_mean: FloatArray
    estimates: FloatArray
    errors: FloatArray


def partial_pooling(estimates: ArrayLike, errors: ArrayLike) -> Pooled:
    """Pool independent estimates of one quantity for several cultivars.

    Parameters
    ----------
    estimates : array ``[cultivar]``
    errors : array ``[cultivar]``
        Their standard errors, above 0, in the same unit.

    Returns
    -------
    Pooled

    Raises
    ------
    InputError : fewer than two cultivars, a value missing, an error that is not above 0, arrays
        that differ in length.

    Notes
    -----
    Variance between cultivars by moments: DerSimonian and Laird (1986), Control. Clin. Trials
    7:177-188 (formula recalled from memory, checked against another library). With few cultivars it
    is itself unsure; 0 means "not shown", not "none".

    Examples
    --------
    >>> found = partial_pooling([2.0, 6.0, 10.0], [1.0, 1.0, 4.0])
    >>> found.estimates.round(2).tolist(), found.weight_on_mean.round(2).tolist()
    ([2.34, 5.87, 6.54], [0.12, 0.12, 0.68])
    """
    y = finite(estimates, "estimates", dimensions=1, shortest=(2,))
    se = finite(errors, "errors", dimensions=1, shortest=(2,))
    if y.shape != se.shape:
        raise InputError(Fault("not one error for each estimate", value=(y.size, se.size)))
    if np.any(se <= 0.0):
        at = int(np.argmin(se))
        raise InputError(Fault("not a standard error", f"errors[{at}]", float(se[at]), "above 0"))
    weight = 1.0 / se**2
    q = float(weight @ (y - weight @ y / weight.sum()) ** 2)
    df = y.size - 1.0
    between = max(0.0, (q - df) / float(weight.sum() - weight @ weight / weight.sum()))
    total = 1.0 / (se**2 + between)
    mean, mean_error = float(total @ y / total.sum()), float(total.sum() ** -0.5)
    share = se**2 / (se**2 + between)
    return Pooled(
        mean=mean,
        mean_error=mean_error,
        between_variance=between,
        q=q,
        df=df,
        weight_on_mean=share,
        estimates=share * mean + (1.0 - share) * y,
        errors=np.sqrt((1.0 - share) * se**2 + share**2 * mean_error**2),
    )


def stein_shrinkage(estimates: ArrayLike, error: float) -> tuple[float, FloatArray]:
    """Draw estimates of equal error to their mean, by as much as makes all together best.

    Parameters
    ----------
    estimates : array ``[cultivar]``, four or more.
    error : float
        Standard error of each, above 0 and the same for all, in the same unit.

    Returns
    -------
    factor : float
        Share of each deviation from the mean that is kept, 0 to 1. [1]
    estimates : array ``[cultivar]``

    Raises
    ------
    InputError : fewer than four estimates, a value missing, an error that is not above 0.

    Notes
    -----
    ``1 - (k - 3) error^2 / sum (y - mean)^2``, not below 0: James and Stein (1961), Proc. 4th
    Berkeley Symp. 1:361-379, toward the mean as Efron and Morris (1975), J. Amer. Stat. Assoc.
    70:311-319. With errors that differ, and for standard errors of the result, `partial_pooling`
    is used; it draws a little harder, for it takes the spread between cultivars as known.

    Examples
    --------
    >>> factor, drawn = stein_shrinkage([1.0, 2.0, 3.0, 6.0], 1.0)
    >>> round(factor, 3), drawn.round(2).tolist()
    (0.929, [1.14, 2.07, 3.0, 5.79])
    """
    y = finite(estimates, "estimates", dimensions=1, shortest=(4,))
    if not (np.isfinite(error) and error > 0.0):
        raise InputError(Fault("not a standard error", "error", error, "above 0"))
    mean = float(y.mean())
    scatter = float(np.sum((y - mean) ** 2))
    factor = max(0.0, 1.0 - (y.size - 3) * error**2 / scatter) if scatter > 0.0 else 0.0
    return factor, np.asarray(mean + factor * (y - mean))
