"""Ranking cultivars by draws of what heat costs them: intervals, ranks and what cannot be told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast.calibration._checks import FloatArray, finite
from phenocast.calibration.best import AgainstBest, against_best
from phenocast.errors import Fault, InputError

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
    if len(names) != draws.shape[0]:
        raise InputError(Fault("not one name a cultivar", "names", len(names), str(len(draws))))
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
