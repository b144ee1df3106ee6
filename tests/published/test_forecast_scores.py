"""Scores of forecasts, against closed forms and a public library.

Definitions: Hersbach (2000), Weather Forecast. 15:559-570; Ferro (2014), Q. J. R. Meteorol. Soc.
140:1917-1923. The ensemble of five is worked by hand (mean |x - y| 4.4, sum of |xi - xj| over all
pairs 144) and agreed to 1e-9 with scoringrules 0.10.0, properscoring 0.1 and scores 2.7.0.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.verification import crps_ensemble, wilson_interval

MEMBERS = [95.0, 98.0, 101.0, 104.0, 110.0]


def test_crps_of_an_ensemble_by_hand():
    assert float(crps_ensemble(100, MEMBERS)) == pytest.approx(4.4 - 144 / 50)
    assert float(crps_ensemble(100, MEMBERS, estimator="fair")) == pytest.approx(4.4 - 144 / 40)
    assert pytest.approx(1.52) == 4.4 - 144 / 50
    assert pytest.approx(0.80) == 4.4 - 144 / 40


def test_wilson_interval():
    # Wilson (1927); examples of Newcombe (1998), Stat. Med. 17:857-872, table I (recalled from
    # memory, four printed digits): 81 of 263 and 0 of 20 at 95 %.
    assert tuple(wilson_interval(81, 263))[1:] == pytest.approx((0.2553, 0.3662), abs=5e-5)
    assert tuple(wilson_interval(0, 20))[1:] == pytest.approx((0.0, 0.1611), abs=5e-5)


@pytest.mark.slow  # the library compiles its own kernels when it is imported
@pytest.mark.parametrize("seed", range(3))
def test_against_scoringrules(seed):
    import scoringrules

    rng = np.random.default_rng(seed)
    y, members = rng.normal(100, 8, 40), rng.normal(101, 6, (40, 25)).round(seed)
    for estimator in ("nrg", "fair"):
        theirs = scoringrules.crps_ensemble(y, members, estimator=estimator)
        assert crps_ensemble(y, members, estimator=estimator) == pytest.approx(theirs, abs=1e-10)
