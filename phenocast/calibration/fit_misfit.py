"""How far fitted numbers may be led astray by curves that are not quite right.

Laplace's method says how sure numbers are if the model's curves are right. Here curves may bend
(`phenocast.calibration.fit_bends`), each as far as the records themselves show: where they stray
from the model no more than by chance, nothing bends and the intervals stay as they were. Where
they do, numbers move with the bends, and that movement is added to what is not known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phenocast.calibration.fit_bends import bends_of
from phenocast.calibration.fit_search import Point, Problem, part_terms

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

STRENGTHS = (0.0, 0.02, 0.04, 0.08, 0.15, 0.3, 0.6, 1.0)
"""Spreads of the bends of one curve that are tried, as shares: 1 is a curve doubled or gone."""
_ROUNDS = 4
SHIFT_COUNTS = 3.0
"""How often the square of the movement that bends show counts in the variance of a number. A bend
is shrunk and part of what is wrong hides in the numbers, so that more is astray than is seen; few
bends speak, as if a normal had its spread from two degrees of freedom (3.1 at 90 %)."""
TOLD = 5.0
"""Gain of log-likelihood from which bends are told: the right model gave up to 4.1 in 52 fits."""


@dataclass(frozen=True)
class Misfit:
    """What bends of the curves make of a fit.

    Parameters
    ----------
    gain : float
        Evidence for curves that bend against curves that do not. [log-likelihood]
    gains : dict of str to float
        The same for each curve that bends alone.
    strength : dict of str to float
        Spread of the bends of each curve, as a share.
    shift : array ``[entries]``
        How far the numbers would move were the bends let in.
    covariance : array ``[entries, entries]``
        To be added to that of the fit.
    """

    gain: float
    gains: dict[str, float]
    strength: dict[str, float]
    shift: FloatArray
    covariance: FloatArray


def misfit(problem: Problem, point: Point, free: IntArray) -> Misfit:
    """Return what bends of the curves make of a fit.

    Parameters
    ----------
    problem : records, runs and priors.
    point : where its search ended.
    free : entries that were free.

    Notes
    -----
    Records are taken as a normal around the likeliest numbers, as in Laplace's method, with the
    bends as further numbers whose prior is 0 with the strength of their curve; strengths are the
    likeliest of a grid (restricted likelihood: the numbers integrated out). A chamber trial counts
    as before: curves bend for blocks alone.
    """
    parts = problem.runs.parts
    bends = bends_of(parts, point.vector)
    moving = np.zeros(len(point.vector), dtype=bool)
    moving[free] = True
    n = len(bends.group)
    across, square, pull = np.zeros((len(point.vector), n)), np.zeros((n, n)), np.zeros(n)
    expected, slopes = problem.runs.slopes(point.vector, moving)
    for part, jacobian, bent in zip(parts, slopes, bends.slopes, strict=True):
        terms = part_terms(problem, part, expected[part.rows][None, :])
        weight = problem.weight[part.rows]
        curve = (weight * terms.information)[:, None]
        across[part.entries] += np.nan_to_num(jacobian).T @ (curve * bent)
        square += bent.T @ (curve * bent)
        pull += bent.T @ (weight * terms.slope)
    own = across[free]
    tied = np.linalg.solve((point.information + problem.prior)[np.ix_(free, free)], own)
    left = (point.gradient - problem.prior @ point.vector)[free]
    square -= own.T @ tied
    pull -= tied.T @ left
    names = tuple(dict.fromkeys(bends.group))
    at = np.array([names.index(name) for name in bends.group], dtype=np.int64)
    strength, gain = strengths(square, pull, at)
    gains: dict[str, float] = {}
    for one, name in enumerate(names):
        of = np.flatnonzero(at == one)
        gains[name] = strengths(square[np.ix_(of, of)], pull[of], np.zeros_like(of))[1]
    spread = strength[at]
    inner = np.eye(n) + spread[:, None] * square * spread[None, :]
    variance = spread[:, None] * np.linalg.solve(inner, np.diag(spread))
    bend = variance @ pull
    shift, covariance = np.zeros(len(moving)), np.zeros((len(moving), len(moving)))
    shift[free] = -tied @ bend
    covariance[np.ix_(free, free)] = tied @ variance @ tied.T
    covariance += SHIFT_COUNTS * np.outer(shift, shift)
    told = dict(zip(names, strength.tolist(), strict=True))
    return Misfit(gain, gains, told, shift, covariance)


def strengths(square: FloatArray, pull: FloatArray, group: IntArray) -> tuple[FloatArray, float]:
    """Return the likeliest strength of each group of bends, and the evidence it gains over 0.

    Parameters
    ----------
    square : information on the bends with everything else integrated out, ``[n, n]``.
    pull : slope of the log-likelihood on them, ``[n]``.
    group : group of each, ``[n]``, from 0.

    Examples
    --------
    >>> group = np.array([0, 0, 1, 1])
    >>> strong, gain = strengths(100.0 * np.eye(4), np.array([30.0, -30.0, 3.0, -3.0]), group)
    >>> strong.tolist(), gain > 5.0
    ([0.3, 0.0], True)
    """
    count = int(group.max(initial=-1)) + 1
    found = np.zeros(count)

    def evidence(strength: FloatArray) -> float:
        spread = strength[group]
        inner = np.eye(len(group)) + spread[:, None] * square * spread[None, :]
        _, log_inner = np.linalg.slogdet(inner)
        own = spread * pull
        return float(0.5 * (own @ np.linalg.solve(inner, own) - log_inner))

    for _ in range(_ROUNDS):
        before = found
        for one in range(count):
            tried = np.tile(found, (len(STRENGTHS), 1))
            tried[:, one] = STRENGTHS
            found = tried[int(np.argmax([evidence(strength) for strength in tried]))]
        if np.array_equal(found, before):
            break
    return found, evidence(found)
