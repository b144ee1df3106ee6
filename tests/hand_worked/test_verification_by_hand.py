"""Scores of small forecasts, worked out by hand; more stand in `tests/published/`."""

from __future__ import annotations

import pytest

from phenocast.verification import coverage, crps_ensemble, wilson_interval


def test_crps_of_three_members():
    # 4 against 1, 3 and 8: (3 + 1 + 4) / 3 = 8/3; pairs 2 + 7 + 5 = 14, twice: 28 / (2 x 9) = 14/9,
    # fair 28 / (2 x 6) = 7/3
    assert float(crps_ensemble(4.0, [8.0, 1.0, 3.0])) == pytest.approx(10.0 / 9.0)
    fair = crps_ensemble(4.0, [8.0, 1.0, 3.0], estimator="fair")
    assert float(fair) == pytest.approx(1.0 / 3.0)
    # two members 1 and 3 about 2: 1 less 4 / (2 x 2)
    assert float(crps_ensemble(2.0, [1.0, 3.0], estimator="fair")) == pytest.approx(0.0)


def test_wilson_interval_of_8_in_10():
    # z 1.959 964, z^2 / n 0.384 146: centre (0.8 + 0.192 073) / 1.384 146 = 0.716 740; half
    # 1.959 964 / 1.384 146 x sqrt(0.016 + 0.009 604) = 0.226 576
    found = wilson_interval(8, 10)
    assert tuple(found) == pytest.approx((0.8, 0.4901624715, 0.9433178485), abs=1e-8)
    # z 1.281 552 at 80 %, z^2 / n 0.410 594: 1.281 552 / 1.410 594 x sqrt(0.0625 + 0.025 662)
    assert tuple(wilson_interval(2, 4, 0.8)) == pytest.approx((0.5, 0.2302415, 0.7697585), abs=1e-7)


def test_coverage_counts_the_ends():
    assert coverage([6.0, 10.0, 15.0, 20.0, 21.0], 10.0, 20.0) == 0.6
