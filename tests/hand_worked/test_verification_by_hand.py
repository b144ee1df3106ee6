"""Scores of small forecasts, worked out by hand; more stand in `tests/published/`."""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.verification import (
    bias,
    brier_parts,
    brier_score,
    coverage,
    crps_ensemble,
    crps_normal,
    hits,
    interval_score,
    mean_absolute_error,
    pinball_loss,
    pit_categories,
    pit_normal,
    rank_histogram,
    ranked_probability_score,
    ranks,
    root_mean_square_error,
    skill,
    wilson_interval,
)


def test_crps_of_three_members():
    # 4 against 1, 3 and 8: (3 + 1 + 4) / 3 = 8/3; pairs 2 + 7 + 5 = 14, twice: 28 / (2 x 9) = 14/9,
    # fair 28 / (2 x 6) = 7/3
    assert float(crps_ensemble(4.0, [8.0, 1.0, 3.0])) == pytest.approx(10.0 / 9.0)
    fair = crps_ensemble(4.0, [8.0, 1.0, 3.0], estimator="fair")
    assert float(fair) == pytest.approx(1.0 / 3.0)
    # two members 1 and 3 about 2: 1 less 4 / (2 x 2)
    assert float(crps_ensemble(2.0, [1.0, 3.0], estimator="fair")) == pytest.approx(0.0)


def test_crps_of_a_normal_two_sd_away():
    # z 2, share 0.977 250, height 0.053 991: 3 x (2 x 0.954 500 + 0.107 982 - 0.564 190)
    assert float(crps_normal(16.0, 10.0, 3.0)) == pytest.approx(4.3583754650, rel=1e-8)
    assert float(pit_normal(16.0, 10.0, 3.0)) == pytest.approx(0.9772498681)


def test_wilson_interval_of_8_in_10():
    # z 1.959 964, z^2 / n 0.384 146: centre (0.8 + 0.192 073) / 1.384 146 = 0.716 740; half
    # 1.959 964 / 1.384 146 x sqrt(0.016 + 0.009 604) = 0.226 576
    found = wilson_interval(8, 10)
    assert tuple(found) == pytest.approx((0.8, 0.4901624715, 0.9433178485), abs=1e-8)
    # z 1.281 552 at 80 %, z^2 / n 0.410 594: 1.281 552 / 1.410 594 x sqrt(0.0625 + 0.025 662)
    assert tuple(wilson_interval(2, 4, 0.8)) == pytest.approx((0.5, 0.2302415, 0.7697585), abs=1e-7)


def test_intervals_and_quantiles():
    # 10 to 20 at 0.9: 4 below costs 2 / 0.1 x 4 beside the width, 1 above 20
    assert interval_score([6.0, 21.0], 10.0, 20.0, 0.9) == pytest.approx([90.0, 30.0])
    assert coverage([6.0, 10.0, 15.0, 20.0, 21.0], 10.0, 20.0) == 0.6
    assert pinball_loss([5.0, 1.0], 3.0, 0.75) == pytest.approx([1.5, 0.5])


def test_pit_of_a_week_and_ranks():
    # the second week of 0.2, 0.5, 0.3 is between 0.2 and 0.7
    rng, same = np.random.default_rng(5), np.random.default_rng(5)
    found = pit_categories([[0.2, 0.5, 0.3]] * 3, [0, 1, 2], rng)
    place = same.random(3)
    expected = [0.2 - 0.2 * place[0], 0.7 - 0.5 * place[1], 1.0 - 0.3 * place[2]]
    assert found == pytest.approx(expected)
    assert ranks([2.0, 9.0, 0.0], [[1.0, 3.0]] * 3, rng).tolist() == [2, 3, 1]
    # one below, two equal: 2, 3 or 4 by chance
    tied = ranks(np.full(60, 2.0), np.tile([2.0, 1.0, 2.0], (60, 1)), rng)
    assert set(tied.tolist()) == {2, 3, 4}
    assert rank_histogram([2, 3, 1, 3], 2).tolist() == [1, 1, 2]


def test_brier_parts_of_bins():
    # 0.1 and 0.3 (none, one) in one bin, 0.8 (one) in the other: score (0.01 + 0.49 + 0.04) / 3 =
    # 0.18. Stated 0.2 and 0.8, happened 0.5 and 1, base rate 2/3: reliability 2/3 x 0.09 + 1/3 x
    # 0.04 = 0.073 333, resolution 2/3 x 1/36 + 1/3 x 1/9 = 1/18, uncertainty 2/9; what the first
    # bin hides 0.18 - 0.24
    parts = brier_parts([0.1, 0.3, 0.8], [0, 1, 1], edges=[0.5])
    assert tuple(parts) == pytest.approx((0.18, 0.0733333333, 1 / 18, 2 / 9, -0.06))
    assert parts.skill == pytest.approx(0.19)


def test_single_values():
    # errors 2, -1, 5
    observed, forecast = [10.0, 20.0, 30.0], [12.0, 19.0, 35.0]
    assert bias(observed, forecast) == pytest.approx(2.0)
    assert mean_absolute_error(observed, forecast) == pytest.approx(8.0 / 3.0)
    assert root_mean_square_error(observed, forecast) == pytest.approx(10.0**0.5)
    assert hits(observed, forecast, 2.0) == 2
    assert skill([3.0, 5.0, 1.0], [4.0, 4.0, 0.0]).tolist() == pytest.approx(
        [0.25, -0.25, np.nan], nan_ok=True
    )


def test_probabilities():
    assert brier_score([0.2, 0.7], [0, 1]) == pytest.approx([0.04, 0.09])
    # second of three weeks: 0.2^2 + (0.7 - 1)^2; halved where it runs to 1
    week = ranked_probability_score([0.2, 0.5, 0.3], 1)
    assert float(week) == pytest.approx(0.13)
    halved = ranked_probability_score([0.2, 0.5, 0.3], 1, normalised=True)
    assert float(halved) == pytest.approx(0.065)
