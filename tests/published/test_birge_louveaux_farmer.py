"""Birge, J.R. and Louveaux, F. Introduction to Stochastic Programming, section 1.1: the farmer.

Areas, expected profit 108,390 and the three profits were read; wait-and-see 115,405.56, and so the
values of information 7,015.56 and of the stochastic solution 1,150, are recalled (textbook 7,016
and 1,150) and agree with an independent computation. Tolerance 0.5: the book's rounding.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.planning.labour.milp import Program
from phenocast.planning.labour.solve import solve_two_stage
from tests.planning.duality import dual_bound

YIELDS = np.array([[3.0, 3.6, 24.0], [2.5, 3.0, 20.0], [2.0, 2.4, 16.0]])  # wheat, corn, beets
NEED = np.array([200.0, 240.0])  # wheat and corn for the cattle [t]


def farm(seasons, shares, fixed):
    p = Program()
    acres = p.variables(3, cost=[150.0, 230.0, 260.0])
    n = len(seasons)
    bought = p.variables((n, 2), cost=np.outer(shares, [238.0, 210.0]))
    sold = p.variables((n, 2), cost=-np.outer(shares, [170.0, 150.0]))
    quota = p.variables(n, cost=-36.0 * shares, upper=6000.0)
    surplus = p.variables(n, cost=-10.0 * shares)
    p.total("land", [(acres, 1.0)], upper=500.0)
    p.rows("feed", [(acres[None, :2], seasons[:, :2]), (bought, 1.0), (sold, -1.0)], lower=NEED)
    p.rows("beets", [(acres[2], seasons[:, 2]), (quota, -1.0), (surplus, -1.0)], lower=0.0)
    if fixed is not None:
        p.rows("decided", [(acres, 1.0)], lower=fixed, upper=fixed)
    return p, acres


@pytest.fixture(scope="module")
def found():
    return solve_two_stage(farm, YIELDS, np.full(3, 1.0 / 3.0), gap=1e-9)


def test_areas_and_expected_profit(found):
    assert found.first == pytest.approx([170.0, 80.0, 250.0], abs=0.01)
    assert -found.recourse == pytest.approx(108_390.0, abs=0.5)


def test_what_knowing_and_what_hedging_are_worth(found):
    assert -found.wait_and_see == pytest.approx(115_405.56, abs=0.5)
    assert found.perfect_information == pytest.approx(7_015.56, abs=0.5)
    assert -found.mean_season == pytest.approx(107_240.0, abs=0.5)
    assert found.stochastic_solution == pytest.approx(1_150.0, abs=0.5)


@pytest.mark.parametrize(("season", "profit"), [(0, 167_667.0), (1, 118_600.0), (2, 59_950.0)])
def test_profit_if_each_season_were_known(season, profit):
    program, _ = farm(YIELDS[season][None], np.ones(1), None)
    assert -program.solve(gap=1e-9).objective == pytest.approx(profit, abs=0.5)


def test_the_dual_of_the_farm_has_the_same_value():
    program, _ = farm(YIELDS, np.full(3, 1.0 / 3.0), None)
    primal, dual = dual_bound(program)
    assert primal == pytest.approx(-108_390.0, abs=0.5)
    assert dual == pytest.approx(primal, rel=1e-9)
