"""Nonlinear fits with certified answers: does the search end where it must?

NIST Statistical Reference Datasets, nonlinear regression (National Institute of Standards and
Technology, 1998). Data, certified values and starts recalled from memory; that they belong together
is borne out by the residual sums of squares, which these data give to all digits shown.

The search is `multistart`, which fits the events; it asks for 1e-4 of a tenth of the bounds, so
certified numbers are met to three digits and the sums of squares to six. Its bounds hold the answer
and the nearer start of NIST, one or two powers of ten wide; it is given no start.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from phenocast.calibration.events.search import multistart

BOXBOD = (
    [1, 2, 3, 5, 7, 10],
    [109, 149, 149, 191, 213, 224],
)
MISRA1A = (
    [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1,
     760.0],
    [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47,
     81.78],
)  # fmt: skip
DANWOOD = (
    [1.309, 1.471, 1.490, 1.565, 1.611, 1.680],
    [2.138, 3.421, 3.597, 4.340, 4.882, 5.660],
)
RAT42 = (
    [9, 14, 21, 28, 42, 57, 63, 70, 79],
    [8.930, 10.800, 18.590, 22.330, 39.350, 56.110, 61.730, 64.620, 67.080],
)
MGH09 = (
    [4.0, 2.0, 1.0, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625],
    [0.1957, 0.1947, 0.1735, 0.1600, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246],
)


def saturating(x, b):
    return b[0] * (1.0 - np.exp(-b[1] * x))


def power(x, b):
    return b[0] * x ** b[1]


def logistic(x, b):
    return b[0] / (1.0 + np.exp(b[1] - b[2] * x))


def rational(x, b):
    return b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3])


# name (NIST's level of difficulty), data, model, certified numbers, certified sum of squares, and
# the bounds of each number
SETS = [
    ("BoxBOD (higher)", BOXBOD, saturating, [2.1380940889e2, 5.4723748542e-1], 1.1680088766e3,
     [(1.0, 500.0), (0.1, 2.0)]),
    ("Misra1a (lower)", MISRA1A, saturating, [2.3894212918e2, 5.5015643181e-4], 1.2455138894e-1,
     [(50.0, 1000.0), (5e-5, 2e-3)]),
    ("DanWood (lower)", DANWOOD, power, [7.6886226176e-1, 3.8604055871], 4.3173084083e-3,
     [(0.1, 5.0), (1.0, 8.0)]),
    ("Rat42 (higher)", RAT42, logistic, [7.2462237576e1, 2.6180768402, 6.7359200066e-2],
     8.0565229338, [(50.0, 150.0), (0.5, 5.0), (0.01, 0.2)]),
    ("MGH09 (higher)", MGH09, rational,
     [1.9280693458e-1, 1.9128232873e-1, 1.2305650693e-1, 1.3606233068e-1], 3.0750560385e-4,
     [(0.01, 1.0)] * 4),
]  # fmt: skip
NAMED = pytest.mark.parametrize(
    ("name", "data", "model", "certified", "rss", "bounds"), SETS, ids=[one[0] for one in SETS]
)


def squares(data, model, b):
    x, y = (np.asarray(one, dtype=float) for one in data)
    return float(np.sum((y - model(x, b)) ** 2))


@NAMED
def test_the_recalled_data_give_the_certified_sum_of_squares(
    name, data, model, certified, rss, bounds
):
    x, y = (np.asarray(one, dtype=float) for one in data)
    found = least_squares(
        lambda b: model(x, b) - y, certified, x_scale=certified, xtol=1e-15, ftol=1e-15, gtol=1e-15
    )
    assert 2.0 * found.cost == pytest.approx(rss, rel=1e-9)
    assert found.x == pytest.approx(certified, rel=1e-7)


@NAMED
def test_the_search_ends_at_the_certified_numbers(name, data, model, certified, rss, bounds):
    low, high = np.transpose(bounds)

    def cost(z):
        """Log of the sum of squares, the bounds stretched to 0 and 10."""
        if np.any(z < 0.0) or np.any(z > 10.0):
            return 1e3 + float(np.abs(z - np.clip(z, 0.0, 10.0)).sum())
        return float(np.log(squares(data, model, low + z / 10.0 * (high - low))))

    ends = multistart(cost, [(0.0, 10.0)] * len(certified), (1, 2, 3), generations=150)
    for end in ends:
        found = low + end.point / 10.0 * (high - low)
        assert squares(data, model, found) == pytest.approx(rss, rel=1e-6)
        assert found == pytest.approx(certified, rel=1e-3)
