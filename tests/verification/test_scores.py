from __future__ import annotations

import numpy as np
import pytest

from phenocast.errors import InputError
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


def test_crps_of_one_member_is_the_absolute_error():
    assert crps_ensemble([3.0, 7.0], [[5.0], [5.0]]).tolist() == [2.0, 2.0]


def test_crps_is_twice_the_integral_of_the_pinball_loss():
    members = np.array([95.0, 98.0, 101.0, 104.0, 110.0])
    levels = (np.arange(50000) + 0.5) / 50000
    quantiles = np.sort(members)[(levels * 5).astype(int)]
    twice = 2 * np.mean(pinball_loss(100.0, quantiles, levels))
    assert float(crps_ensemble(100.0, members)) == pytest.approx(twice, abs=1e-4)


def test_large_ensemble_comes_to_the_normal_score():
    members = np.random.default_rng(3).normal(103.0, 6.0, 200_000)
    got = float(crps_ensemble(110.0, members, estimator="fair"))
    assert got == pytest.approx(float(crps_normal(110.0, 103.0, 6.0)), abs=0.05)


def test_fair_score_does_not_depend_on_the_size_of_the_ensemble():
    rng = np.random.default_rng(4)
    y = rng.normal(size=20000)
    means = {
        m: {e: np.mean(crps_ensemble(y, rng.normal(size=(20000, m)), estimator=e))
            for e in ("nrg", "fair")}
        for m in (2, 20)
    }  # fmt: skip
    assert means[2]["fair"] == pytest.approx(means[20]["fair"], abs=0.02)
    assert means[2]["nrg"] > means[20]["nrg"] + 0.1


@pytest.mark.parametrize("sd", [0.5, 1.0, 2.0])
def test_proper_scores_are_least_for_the_truth(sd):
    y = np.random.default_rng(5).normal(0.0, 1.0, 40000)
    truth = np.mean(crps_normal(y, 0.0, 1.0))
    other = np.mean(crps_normal(y, 0.3, sd))
    assert truth < other


def test_missing_values_are_not_dropped():
    assert np.isnan(crps_ensemble(100.0, [99.0, np.nan]))
    assert np.isnan(crps_normal(np.nan, 0.0, 1.0))
    assert np.isnan(bias([1.0, np.nan], [1.0, 1.0]))
    assert np.isnan(coverage([1.0, np.nan], 0.0, 2.0))
    assert np.isnan(brier_score(np.nan, 1.0))
    assert np.isnan(ranked_probability_score([np.nan, 0.5], 0))


def test_brier_parts_in_bins_keep_their_sum():
    rng = np.random.default_rng(6)
    p = rng.random(500)
    o = rng.random(500) < p
    parts = brier_parts(p, o, edges=[0.2, 0.4, 0.6, 0.8])
    total = parts.reliability - parts.resolution + parts.uncertainty + parts.within_bins
    assert parts.score == pytest.approx(total)
    assert parts.score == pytest.approx(float(np.mean(brier_score(p, o))))
    assert abs(parts.within_bins) < 0.01
    assert parts.reliability < 0.01
    assert np.isnan(brier_parts([0.5, 0.5], [1, 1]).skill)


def test_ranked_score_prefers_a_near_miss():
    near, far = ranked_probability_score([[0, 1, 0, 0], [0, 0, 0, 1.0]], [0, 0])
    assert near == 1.0
    assert far == 3.0


def test_interval_and_coverage_count_their_ends():
    assert coverage([95.0, 110.0, 110.1], 95.0, 110.0) == pytest.approx(2 / 3)
    assert interval_score(110.0, 95.0, 110.0, 0.9) == pytest.approx(15.0)


def test_wilson_interval_near_none_and_all():
    none, everyone = wilson_interval(0, 6), wilson_interval(6, 6)
    assert none.lower == 0.0
    assert everyone.upper == 1.0
    assert none.upper == pytest.approx(1 - everyone.lower)
    wide, narrow = wilson_interval(3, 6, 0.95), wilson_interval(3, 6, 0.8)
    assert wide.upper - wide.lower > narrow.upper - narrow.lower


def test_pit_of_a_true_forecast_is_uniform():
    rng = np.random.default_rng(7)
    p = np.array([0.05, 0.1, 0.5, 0.3, 0.05])
    weeks = rng.choice(5, size=20000, p=p)
    counts = np.histogram(pit_categories(p, weeks, rng), bins=10, range=(0, 1))[0]
    assert np.all(np.abs(counts - 2000) < 5 * np.sqrt(2000))
    over_sure = pit_normal(rng.normal(0, 2, 20000), 0.0, 1.0)
    ends = np.mean((over_sure < 0.1) | (over_sure > 0.9))
    assert ends > 0.4  # 0.2 if calibrated


def test_ranks_spread_over_ties():
    rng = np.random.default_rng(8)
    tied = ranks(np.zeros(3000), np.zeros((3000, 2)), rng)
    counts = rank_histogram(tied, 2)
    assert counts.sum() == 3000
    assert np.all(np.abs(counts - 1000) < 150)
    assert ranks([-1.0, 1.0], [[0.0, 0.5], [0.0, 0.5]], rng).tolist() == [1, 3]


def test_same_seed_gives_the_same_ranks():
    members = np.zeros((50, 4))
    one = ranks(np.zeros(50), members, np.random.default_rng(9))
    other = ranks(np.zeros(50), members, np.random.default_rng(9))
    assert one.tolist() == other.tolist()


def test_errors_of_single_values():
    observed, forecast = [100.0, 110.0, 120.0], [103.0, 106.0, 120.0]
    assert bias(observed, forecast) == pytest.approx(-1 / 3)
    assert mean_absolute_error(observed, forecast) == pytest.approx(7 / 3)
    assert root_mean_square_error(observed, forecast) == pytest.approx(5 / np.sqrt(3))
    assert hits(observed, forecast, 3.0) == 2
    assert skill([1.0, 3.0], [2.0, 2.0]).tolist() == [0.5, -0.5]
    assert np.isnan(skill(1.0, 0.0))


@pytest.mark.parametrize(
    "call",
    [
        lambda: crps_normal(1.0, 0.0, 0.0),
        lambda: crps_ensemble(1.0, []),
        lambda: crps_ensemble(1.0, [2.0], estimator="fair"),
        lambda: crps_ensemble(1.0, [2.0, 3.0], estimator="pwm"),
        lambda: brier_score(1.2, 1),
        lambda: brier_score(0.2, 2),
        lambda: brier_parts([], []),
        lambda: brier_parts([0.5, np.nan], [1, 0]),
        lambda: brier_parts([0.5], [1], edges=[0.5, 0.5]),
        lambda: ranked_probability_score([0.5, 0.6], 0),
        lambda: ranked_probability_score([0.5, 0.5], 2),
        lambda: ranked_probability_score([0.5, 0.5], 0.5),
        lambda: ranked_probability_score([1.0], 0, normalised=True),
        lambda: pinball_loss(1.0, 1.0, 1.0),
        lambda: interval_score(1.0, 2.0, 1.0, 0.8),
        lambda: coverage([], 0.0, 1.0),
        lambda: wilson_interval(3, 2),
        lambda: wilson_interval(0, 0),
        lambda: pit_normal(1.0, 0.0, -1.0),
        lambda: pit_categories([0.5, 0.5], 3, np.random.default_rng(0)),
        lambda: ranks(np.nan, [1.0], np.random.default_rng(0)),
        lambda: rank_histogram([4], 2),
        lambda: bias([], []),
        lambda: hits([1.0], [np.nan], 1.0),
        lambda: hits([1.0], [1.0], -1.0),
    ],
)
def test_what_cannot_be_scored_is_refused(call):
    with pytest.raises(InputError):
        call()
