"""How cultivars respond to environments: slopes, stability variances and axes of interaction.

All take a complete table ``[cultivar, environment]`` of means, in any unit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.calibration._checks import finite
from phenocast.errors import Fault, refuse


@dataclass(frozen=True)
class Slopes:
    """Response of each cultivar to an index of the environments.

    Parameters
    ----------
    slopes, slope_errors : arrays ``[cultivar]``
        Change of the response for one unit of the index, and its standard error from the scatter of
        that cultivar alone, on ``environments - 2`` degrees of freedom.
    means : array ``[cultivar]``
        Response at the mean of the index.
    deviations : array ``[cultivar]``
        Mean square of the deviations from the line.
    heterogeneity_ss, heterogeneity_df : float
        Part of the interaction that the slopes account for.
    interaction_ss, interaction_df : float
        Interaction of cultivars and environments.
    """

    slopes: FloatArray
    slope_errors: FloatArray
    means: FloatArray
    deviations: FloatArray
    heterogeneity_ss: float
    heterogeneity_df: float
    interaction_ss: float
    interaction_df: float


@dataclass(frozen=True)
class Axes:
    """Axes of the interaction, the largest first.

    Parameters
    ----------
    shares : array ``[axis]``
        Share of the sum of squares of the interaction; sums to 1.
    ss, df : arrays ``[axis]``
        Sum of squares and degrees of freedom by Gollob's rule.
    cultivar_scores : array ``[cultivar, axis]``
    environment_scores : array ``[environment, axis]``
        Their products add up to the interaction; unit: square root of that of the response. The
        largest score of a cultivar on each axis is positive.
    """

    shares: FloatArray
    ss: FloatArray
    df: FloatArray
    cultivar_scores: FloatArray
    environment_scores: FloatArray


def interaction(table: ArrayLike) -> FloatArray:
    """Part of a table that the means of cultivars and environments do not explain.

    Parameters
    ----------
    table : array ``[cultivar, environment]``

    Returns
    -------
    array ``[cultivar, environment]``, in the unit of the table; rows and columns sum to 0.

    Raises
    ------
    InputError : a value missing, or fewer than two cultivars or environments.

    Examples
    --------
    >>> interaction([[1.0, 2.0], [1.0, 4.0]]).tolist()
    [[0.5, -0.5], [-0.5, 0.5]]
    """
    y = finite(table, "table", dimensions=2, shortest=(2, 2))
    return np.asarray(y - y.mean(axis=1, keepdims=True) - y.mean(axis=0, keepdims=True) + y.mean())


def finlay_wilkinson(table: ArrayLike, index: ArrayLike | None = None) -> Slopes:
    """Slope of each cultivar on an index of the environments.

    Parameters
    ----------
    table : array ``[cultivar, environment]``
    index : array ``[environment]``, optional
        Any measure of the environments, such as stress degree-hours [degC h]; without it the mean
        of the environment, by which the slopes average 1.

    Returns
    -------
    Slopes

    Raises
    ------
    InputError : a value missing, fewer than two cultivars or three environments, an index that does
        not fit or does not vary.

    Notes
    -----
    Finlay and Wilkinson (1963), Aust. J. Agric. Res. 14:742-754, on the scale of the data (they
    took logarithms). The mean of the environments holds the cultivars themselves; an index from
    outside, such as heat, does not, and its slopes can be used in other environments.

    Examples
    --------
    >>> finlay_wilkinson([[1.0, 2.0, 3.0], [1.0, 3.0, 5.0]]).slopes.round(3).tolist()
    [0.667, 1.333]
    """
    y = finite(table, "table", dimensions=2, shortest=(2, 3))
    k, n = y.shape
    x = y.mean(axis=0) if index is None else finite(index, "index", dimensions=1, shortest=(3,))
    refuse(
        (
            x.shape != (n,) or float(np.ptp(x)) == 0.0,
            Fault(
                "the index does not fit the table", "index", x.size, f"{n} values, not all alike"
            ),
        )
    )
    centred = x - x.mean()
    spread = float(centred @ centred)
    slopes = y @ centred / spread
    means = y.mean(axis=1)
    scatter = y - means[:, np.newaxis] - slopes[:, np.newaxis] * centred
    deviations = np.sum(scatter**2, axis=1) / (n - 2)
    return Slopes(
        slopes=np.asarray(slopes),
        slope_errors=np.sqrt(deviations / spread),
        means=means,
        deviations=deviations,
        heterogeneity_ss=spread * float(np.sum((slopes - slopes.mean()) ** 2)),
        heterogeneity_df=float(k - 1),
        interaction_ss=float(np.sum(interaction(y) ** 2)),
        interaction_df=float((k - 1) * (n - 1)),
    )


def stability_variance(table: ArrayLike) -> FloatArray:
    """Variance of each cultivar over environments beyond what all cultivars share.

    Parameters
    ----------
    table : array ``[cultivar, environment]``

    Returns
    -------
    array ``[cultivar]``, unit of the table squared. Low is stable; an estimate below 0 is small.

    Raises
    ------
    InputError : a value missing, fewer than three cultivars or two environments.

    Notes
    -----
    Shukla (1972), Heredity 29:237-245.

    Examples
    --------
    >>> stability_variance([[1.0, 2.0], [1.0, 2.5], [1.0, 6.0]]).round(3).tolist()
    [1.0, -0.875, 7.0]
    """
    y = finite(table, "table", dimensions=2, shortest=(3, 2))
    t, s = y.shape
    own = np.sum(interaction(y) ** 2, axis=1)
    return np.asarray((t * (t - 1) * own - own.sum()) / ((s - 1) * (t - 1) * (t - 2)))


def interaction_axes(table: ArrayLike) -> Axes:
    """Axes along which cultivars and environments interact (additive main effects, multiplicative
    interaction).

    Parameters
    ----------
    table : array ``[cultivar, environment]``

    Returns
    -------
    Axes, ``min(cultivars, environments) - 1`` of them.

    Raises
    ------
    InputError : a value missing, fewer than two cultivars or environments, no interaction at all.

    Notes
    -----
    Gollob (1968), Psychometrika 33:73-115; Gauch (1988), Biometrics 44:705-715.

    Examples
    --------
    >>> table = [[4.0, 1.0, 1.0], [1.0, 3.0, 2.0], [1.0, 2.0, 3.0]]  # rows and columns sum alike
    >>> interaction_axes(table).shares.round(3).tolist()
    [0.9, 0.1]
    """
    rest = interaction(table)
    k, n = rest.shape
    left, size, right = np.linalg.svd(rest, full_matrices=False)
    axes = min(k, n) - 1  # centring both ways takes one dimension away
    left, size, right = left[:, :axes], size[:axes], right[:axes].T
    ss = size**2
    refuse(
        (
            float(ss.sum()) <= 1e-20 * float(np.sum(np.asarray(table, dtype=np.float64) ** 2)),
            Fault("cultivars and environments do not interact", where="table"),
        )
    )
    largest = np.argmax(np.abs(left), axis=0)
    signs = np.sign(left[largest, np.arange(axes)])
    return Axes(
        shares=ss / ss.sum(),
        ss=ss,
        df=k + n - 1.0 - 2.0 * np.arange(1, axes + 1),
        cultivar_scores=left * signs * np.sqrt(size),
        environment_scores=right * signs * np.sqrt(size),
    )
