"""Ranking cultivars by draws of what heat costs them: intervals, ranks, and what is not
distinguishable from the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import ndtr
from scipy.stats import chi

from phenocast._typing import FloatArray
from phenocast.calibration._checks import finite
from phenocast.errors import Fault, InputError, refuse

_NORMAL_NODES, _CHI_NODES = 96, 160
_TAIL = 1e-13  # probability left outside the range of integration at each end


@dataclass(frozen=True)
class AgainstBest:
    """Each cultivar against the best of the others.

    Parameters
    ----------
    differences : array ``[cultivar]``
        Advantage over the best of the others, below 0 for all but the first. [unit of the means]
    lower, upper : arrays ``[cultivar]``
        Simultaneous interval of it, with 0 as its inner bound.
    may_be_best : array of bool ``[cultivar]``
        Whether the cultivar is not distinguishable from the best (its upper limit is above 0).
    critical_value : float
        One-sided value of Dunnett that was used. [1]
    """

    differences: FloatArray
    lower: FloatArray
    upper: FloatArray
    may_be_best: NDArray[np.bool_]
    critical_value: float


@lru_cache(maxsize=256)
def dunnett_one_sided(comparisons: int, df: float, level: float = 0.95) -> float:
    """Critical value of the largest of several differences from one standard, equal replication.

    Parameters
    ----------
    comparisons : int
        Number of treatments compared with the standard.
    df : float
        Degrees of freedom of the error, 1 or more; infinity for a known error.
    level : float
        Coverage of all comparisons together.

    Returns
    -------
    float [1]

    Raises
    ------
    InputError : no comparison, df below 1, a level outside 0.5 to 1.

    Notes
    -----
    Dunnett (1955), J. Amer. Stat. Assoc. 50:1096-1121: the differences share the standard, so they
    correlate by 0.5; given the standard's deviation and the error they are independent. A double
    integral is left, which is solved by quadrature and not by chance numbers.

    Examples
    --------
    >>> round(dunnett_one_sided(2, 10), 2)
    2.15
    """
    refuse(
        (comparisons < 1, Fault("nothing to compare", "comparisons", comparisons, "1 or more")),
        (not df >= 1.0, Fault("too few degrees of freedom", "df", df, "1 or more")),
        (not 0.5 < level < 1.0, Fault("level out of range", "level", level, "above 0.5, below 1")),
    )
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NORMAL_NODES)
    weights = weights / np.sqrt(2.0 * np.pi)
    if np.isinf(df):
        scale, mass = np.ones(1), np.ones(1)
    else:
        low, high = chi.ppf([_TAIL, 1.0 - _TAIL], df) / np.sqrt(df)
        place, width = np.polynomial.legendre.leggauss(_CHI_NODES)
        scale = low + (high - low) * (place + 1.0) / 2.0
        mass = width * (high - low) / 2.0 * chi.pdf(scale * np.sqrt(df), df) * np.sqrt(df)

    def shortfall(value: float) -> float:
        # correlation 0.5: (d s - z sqrt 0.5) / sqrt 0.5
        inside = ndtr(np.sqrt(2.0) * value * scale[:, np.newaxis] - nodes) ** comparisons
        return float(mass @ (inside @ weights)) - level

    high_value = 4.0
    while shortfall(high_value) < 0.0:
        high_value *= 2.0
    return float(brentq(shortfall, 0.0, high_value, xtol=1e-10))


def against_best(
    means: ArrayLike,
    difference_error: ArrayLike,
    df: float,
    *,
    level: float = 0.95,
    larger_is_better: bool = True,
) -> AgainstBest:
    """Compare each cultivar with the best of the others.

    Parameters
    ----------
    means : array ``[cultivar]``
    difference_error : float or array ``[cultivar, cultivar]``
        Standard error of the difference of two means: one for all pairs, or one a pair.
        [unit of the means]
    df : float
        Its degrees of freedom; infinity where it is known.
    level : float
        Coverage of all intervals together.
    larger_is_better : bool
        False for a loss or a delay; differences are then advantages all the same.

    Returns
    -------
    AgainstBest

    Raises
    ------
    InputError : fewer than two cultivars, a value missing, a standard error not above 0; as
        `dunnett_one_sided`.

    Notes
    -----
    Hsu (1981), Ann. Stat. 9:1026-1034, and (1996), Multiple Comparisons, ch. 4: multiple
    comparison with the best. With probability ``level`` at least, every cultivar left out is not
    the best. With an error for each pair, each cultivar is held against every rival with the error
    of that pair; the critical value stays that of equal replication, close for unequal ones.

    Examples
    --------
    >>> found = against_best([560.0, 548.0, 470.0], difference_error=12.0, df=20)
    >>> found.may_be_best.tolist()
    [True, True, False]
    """
    y = finite(means, "means", dimensions=1, shortest=(2,))
    error = _checked_errors(difference_error, y.size)
    y = y if larger_is_better else -y
    critical = dunnett_one_sided(y.size - 1, float(df), float(level))
    ahead = y[:, np.newaxis] - y
    np.fill_diagonal(ahead, np.inf)  # no cultivar is its own rival
    upper = np.maximum(0.0, np.min(ahead + critical * error, axis=1))
    lower = np.minimum(0.0, np.min(ahead - critical * error, axis=1))
    return AgainstBest(
        differences=ahead.min(axis=1),
        lower=lower,
        upper=upper,
        may_be_best=upper > 0.0,
        critical_value=critical,
    )


def _checked_errors(errors: ArrayLike, n: int) -> FloatArray:
    """Standard error of each pair ``[n, n]``, 0 on the diagonal, refused where one is none."""
    table = np.array(np.broadcast_to(np.asarray(errors, dtype=np.float64), (n, n)))
    np.fill_diagonal(table, 0.0)
    apart = table[~np.eye(n, dtype=bool)]
    if not (np.all(np.isfinite(apart)) and np.all(apart > 0.0) and np.allclose(table, table.T)):
        raise InputError(
            Fault("not a standard error of each pair", "difference_error",
                  float(apart[np.argmin(apart)]), "above 0, the same both ways")
        )  # fmt: skip
    return table


INTERVALS = (0.80, 0.95)
BEST_OF = 3
FEWEST_DRAWS = 100


@dataclass(frozen=True)
class Ranking:
    """Cultivars in their order, the best first.

    Parameters
    ----------
    cultivars : tuple of str
        In the order of their estimates, the best first; every array has this order.
    estimate : array ``[cultivar]``
        Median of the draws. [unit of the values]
    lower, upper : mapping of level to array ``[cultivar]``
        Central intervals of 80 and 95 %.
    expected_rank : array ``[cultivar]``
        Mean rank over the draws, 1 the best. [1]
    best, among_best : arrays ``[cultivar]``
        Probability of being the best, and of being among the best three. [1]
    against : AgainstBest
        What cannot be told from the best.
    rank_probability : array ``[cultivar, rank]``
        Probability of each rank. [1]
    """

    cultivars: tuple[str, ...]
    estimate: FloatArray
    lower: dict[float, FloatArray]
    upper: dict[float, FloatArray]
    expected_rank: FloatArray
    best: FloatArray
    among_best: FloatArray
    against: AgainstBest
    rank_probability: FloatArray


def rank_draws(
    names: Sequence[str],
    values: ArrayLike,
    *,
    smaller_is_better: bool = True,
    level: float = 0.95,
    best_of: int = BEST_OF,
) -> Ranking:
    """Rank cultivars from draws that all of them share.

    Parameters
    ----------
    names : names of the cultivars, two or more.
    values : array ``[cultivar, draw]``
        One draw of everything is one column, so that what cultivars share cancels in differences.
    smaller_is_better : bool
        True for a loss or a delay.
    level : float
        Joint coverage of the comparison with the best.
    best_of : int
        How many count as the best few.

    Returns
    -------
    Ranking

    Raises
    ------
    InputError : fewer than two cultivars or 100 draws, a value missing, names that do not fit, two
        cultivars that are the same in every draw.

    Notes
    -----
    Ranks and their probabilities are those of the draws. The comparison with the best is that of
    Hsu (see `against_best`) with the draws' own standard error for each pair and no other error.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> loss = np.array([[0.30], [0.10], [0.11]]) + rng.normal(0.0, 0.02, (3, 400))
    >>> found = rank_draws(["Basalt", "Gneiss", "Schist"], loss)
    >>> found.cultivars[-1], found.against.may_be_best.tolist()
    ('Basalt', [True, True, False])
    """
    draws = finite(values, "values", dimensions=2, shortest=(2, FEWEST_DRAWS))
    refuse(
        (
            len(names) != draws.shape[0],
            Fault("not one name a cultivar", "names", len(names), str(len(draws))),
        )
    )
    order = np.argsort(np.median(draws if smaller_is_better else -draws, axis=1), kind="stable")
    kept = draws[order]
    scored = kept if smaller_is_better else -kept
    chance = _rank_probability(scored)
    ranks = np.arange(1, len(kept) + 1)
    return Ranking(
        cultivars=tuple(names[i] for i in order),
        estimate=np.median(kept, axis=1),
        lower={one: np.quantile(kept, (1.0 - one) / 2.0, axis=1) for one in INTERVALS},
        upper={one: np.quantile(kept, (1.0 + one) / 2.0, axis=1) for one in INTERVALS},
        expected_rank=np.asarray(chance @ ranks),
        best=chance[:, 0],
        among_best=chance[:, :best_of].sum(axis=1),
        against=against_best(
            scored.mean(axis=1), _pair_errors(kept), np.inf, level=level, larger_is_better=False
        ),
        rank_probability=chance,
    )


def _rank_probability(scored: FloatArray) -> FloatArray:
    """Share of the draws in which each cultivar has each rank; equal values share their ranks."""
    n, draws = scored.shape
    below = (scored[np.newaxis] < scored[:, np.newaxis]).sum(axis=1)
    alike = (scored[np.newaxis] == scored[:, np.newaxis]).sum(axis=1)
    chance = np.zeros((n, n))
    for rank in range(n):
        holds = (below <= rank) & (rank < below + alike)
        chance[:, rank] = np.where(holds, 1.0 / alike, 0.0).sum(axis=1) / draws
    return chance


def _pair_errors(kept: FloatArray) -> NDArray[np.float64]:
    covariance = np.cov(kept)
    spread = np.diag(covariance)
    return np.sqrt(np.maximum(spread[:, np.newaxis] + spread - 2.0 * covariance, 0.0))
