"""The lowest point of a cost over a few bounded numbers, from several starts with fixed seeds.

Dates that a sum of warmth foretells make costs with many hollows, so that a search which only goes
downhill ends in the wrong one. Each start looks all over the bounds and is then polished; starts
that end alike are the sign that the lowest point was found.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize

FloatArray = NDArray[np.float64]
Cost = Callable[[FloatArray], float]
Bounds = Sequence[tuple[float, float]]

# Edges of the simplex of the first and of the second polish, in the unit of the numbers.
SIMPLEX = (0.5, 0.1)


@dataclass(frozen=True)
class Found:
    """Where one start ended: its seed, ``point`` ``[numbers]`` and cost."""

    seed: int
    point: FloatArray
    cost: float


def multistart(
    cost: Callable[[FloatArray], float],
    bounds: Bounds,
    seeds: Sequence[int],
    generations: int = 60,
) -> tuple[Found, ...]:
    """Search from several starts and polish each.

    Parameters
    ----------
    cost : callable
        Array ``[numbers]`` to a cost; finite everywhere, and high outside the bounds.
    bounds : pairs of lower and upper bound; numbers scaled so that a step of 0.1 to 0.5 is small.
    seeds : a seed per start, one or more.
    generations : most generations of a start.

    Returns
    -------
    tuple of Found, in the order of the seeds

    Notes
    -----
    Storn and Price (1997), J. Global Optim. 11:341-359; Nelder and Mead (1965), Comput. J.
    7:308-313, both as in scipy.

    Examples
    --------
    >>> ends = multistart(lambda x: float((x[0] - 1.0) ** 2), [(-5.0, 5.0)], (1, 2))
    >>> [round(float(end.point[0]), 3) for end in ends]
    [1.0, 1.0]
    """
    ends = []
    for seed in seeds:
        rough = optimize.differential_evolution(
            cost,
            optimize.Bounds(*np.transpose(bounds)),
            seed=seed,
            popsize=12,
            maxiter=generations,
            tol=1e-4,
            polish=False,
        )
        ends.append(Found(seed, *polish(cost, rough.x, bounds)))
    return tuple(ends)


def polish(cost: Cost, point: ArrayLike, bounds: Bounds) -> tuple[FloatArray, float]:
    """Nelder-Mead from a point, started again once because a flat simplex stops early.

    Parameters
    ----------
    cost, bounds : as for `multistart`.
    point : array ``[numbers]`` inside the bounds.

    Returns
    -------
    array ``[numbers]`` and its cost

    Examples
    --------
    >>> best, left = polish(lambda x: float(np.sum((x - 2.0) ** 2)), [0.0, 0.0], [(-5, 5)] * 2)
    >>> best.round(3).tolist(), round(left, 6)
    ([2.0, 2.0], 0.0)
    """
    best = np.asarray(point, float)
    for size in SIMPLEX:
        simplex = np.vstack([best, best + size * np.eye(best.size)])
        for row, (_, high) in zip(range(best.size), bounds, strict=True):
            if simplex[row + 1, row] > high:
                simplex[row + 1, row] -= 2.0 * size
        done = optimize.minimize(
            cost,
            best,
            method="Nelder-Mead",
            options={"initial_simplex": simplex, "xatol": 1e-4, "fatol": 1e-8, "maxiter": 400},
        )
        best = np.asarray(done.x, float)
    return best, float(cost(best))
