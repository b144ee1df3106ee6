"""Scores of forecasts, against closed forms and three public libraries.

Definitions: Gneiting and Raftery (2007), J. Amer. Stat. Assoc. 102:359-378; Hersbach (2000),
Weather Forecast. 15:559-570; Ferro (2014), Q. J. R. Meteorol. Soc. 140:1917-1923; Murphy (1973), J.
Appl. Meteorol. 12:595-600. The numbers were computed by scoringrules 0.10.0, properscoring 0.1 and
scores 2.7.0, which agreed to 1e-9; the ensemble of five is also worked by hand (mean |x - y| 4.4,
sum of |xi - xj| over all pairs 144). Tolerance 1e-9: half of the last digit given.
"""

from __future__ import annotations

import numpy as np
import pytest
import scoringrules

from phenocast.verification import (
    brier_parts,
    brier_score,
    crps_ensemble,
    crps_normal,
    interval_score,
    pinball_loss,
    pit_normal,
    ranked_probability_score,
    ranks,
    wilson_interval,
)

MEMBERS = [95.0, 98.0, 101.0, 104.0, 110.0]


def test_crps_of_a_normal_forecast():
    expected = [0.2336949773, 0.6024413576, 1.4527918217, 0.9944240040]
    assert crps_normal([0, 1, 2, -1.5], 0, 1) == pytest.approx(expected, abs=1e-9)
    dates = crps_normal([110, 103], 103, 6)
    assert dates == pytest.approx([4.3354316613, 1.4021698635], abs=1e-9)


def test_crps_of_an_ensemble_by_hand():
    assert float(crps_ensemble(100, MEMBERS)) == pytest.approx(4.4 - 144 / 50)
    assert float(crps_ensemble(100, MEMBERS, estimator="fair")) == pytest.approx(4.4 - 144 / 40)
    assert pytest.approx(1.52) == 4.4 - 144 / 50
    assert pytest.approx(0.80) == 4.4 - 144 / 40


def test_ranked_probability_score():
    p = [0.1, 0.3, 0.4, 0.2]
    expected = np.array([1.21, 0.41, 0.21, 0.81])
    assert ranked_probability_score(p, range(4)) == pytest.approx(expected, abs=1e-12)
    normalised = ranked_probability_score(p, range(4), normalised=True)
    assert normalised == pytest.approx(expected / 3, abs=1e-12)


def test_pinball_loss():
    tau = [0.1, 0.5, 0.9, 0.9, 0.1]
    quantile = [95, 103, 110, 110, 95]
    observed = [100, 100, 100, 115, 90]
    expected = [0.5, 1.5, 1.0, 4.5, 4.5]
    assert pinball_loss(observed, quantile, tau) == pytest.approx(expected, abs=1e-12)


def test_interval_score():
    got = interval_score([100, 90, 115], 95, 110, 0.8)
    assert got == pytest.approx([15, 65, 65], abs=1e-12)


def test_brier_score_and_its_parts():
    p = [0.1, 0.1, 0.3, 0.3, 0.3, 0.7, 0.7, 0.9, 0.9, 0.9]
    o = [0, 0, 0, 1, 0, 1, 0, 1, 1, 1]
    parts = brier_parts(p, o)
    assert float(np.mean(brier_score(p, o))) == pytest.approx(0.13)
    assert parts.score == pytest.approx(0.13)
    assert parts.reliability == pytest.approx(0.013333, abs=5e-7)
    assert parts.resolution == pytest.approx(0.133333, abs=5e-7)
    assert parts.uncertainty == pytest.approx(0.25)
    assert parts.skill == pytest.approx(0.48)


def test_pit_and_rank():
    expected = [0.3085375, 0.8783275, 0.1586553]
    assert pit_normal([100, 110, 97], 103, 6) == pytest.approx(expected, abs=5e-8)
    assert int(ranks(100, MEMBERS, np.random.default_rng(0))) == 3


def test_wilson_interval():
    # Wilson (1927); examples of Newcombe (1998), Stat. Med. 17:857-872, table I (recalled from
    # memory, four printed digits): 81 of 263 and 0 of 20 at 95 %.
    assert tuple(wilson_interval(81, 263))[1:] == pytest.approx((0.2553, 0.3662), abs=5e-5)
    assert tuple(wilson_interval(0, 20))[1:] == pytest.approx((0.0, 0.1611), abs=5e-5)


@pytest.mark.parametrize("seed", range(3))
def test_against_scoringrules(seed):
    rng = np.random.default_rng(seed)
    y, members = rng.normal(100, 8, 40), rng.normal(101, 6, (40, 25)).round(seed)
    for estimator in ("nrg", "fair"):
        theirs = scoringrules.crps_ensemble(y, members, estimator=estimator)
        assert crps_ensemble(y, members, estimator=estimator) == pytest.approx(theirs, abs=1e-10)
    mean, sd = members.mean(axis=1), members.std(axis=1)
    assert crps_normal(y, mean, sd) == pytest.approx(scoringrules.crps_normal(y, mean, sd))
    low, high = np.quantile(members, [0.1, 0.9], axis=1)
    assert interval_score(y, low, high, 0.8) == pytest.approx(
        scoringrules.interval_score(y, low, high, 0.2)
    )
    assert pinball_loss(y, high, 0.9) == pytest.approx(scoringrules.quantile_score(y, high, 0.9))
    p = rng.dirichlet(np.ones(7), 40)
    week = rng.integers(0, 7, 40)
    assert ranked_probability_score(p, week) == pytest.approx(scoringrules.rps_score(week + 1, p))
    event = (week > 3).astype(float)
    assert brier_score(p[:, 0], event) == pytest.approx(scoringrules.brier_score(event, p[:, 0]))
