from __future__ import annotations

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.verification import (
    coverage,
    crps_ensemble,
    wilson_interval,
)


def test_crps_of_one_member_is_the_absolute_error():
    assert crps_ensemble([3.0, 7.0], [[5.0], [5.0]]).tolist() == [2.0, 2.0]


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


def test_missing_values_are_not_dropped():
    assert np.isnan(crps_ensemble(100.0, [99.0, np.nan]))
    assert np.isnan(coverage([1.0, np.nan], 0.0, 2.0))


def test_coverage_counts_its_ends():
    assert coverage([95.0, 110.0, 110.1], 95.0, 110.0) == pytest.approx(2 / 3)


def test_wilson_interval_near_none_and_all():
    none, everyone = wilson_interval(0, 6), wilson_interval(6, 6)
    assert none.lower == 0.0
    assert everyone.upper == 1.0
    assert none.upper == pytest.approx(1 - everyone.lower)
    wide, narrow = wilson_interval(3, 6, 0.95), wilson_interval(3, 6, 0.8)
    assert wide.upper - wide.lower > narrow.upper - narrow.lower


@pytest.mark.parametrize(
    "call",
    [
        lambda: crps_ensemble(1.0, []),
        lambda: crps_ensemble(1.0, [2.0], estimator="fair"),
        lambda: crps_ensemble(1.0, [2.0, 3.0], estimator="pwm"),
        lambda: coverage(1.0, 2.0, 1.0),
        lambda: coverage([], 0.0, 1.0),
        lambda: wilson_interval(3, 2),
        lambda: wilson_interval(0, 0),
    ],
)
def test_what_cannot_be_scored_is_refused(call):
    with pytest.raises(InputError):
        call()
