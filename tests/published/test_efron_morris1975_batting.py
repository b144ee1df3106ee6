"""Eighteen early batting averages, drawn to their mean: check 17.

Efron and Morris (1975), Data analysis using Stein's estimator and its generalizations, J. Amer.
Stat. Assoc. 70:311-319, and (1977), Sci. Amer. 236(5):119-127: hits of 18 players in their first 45
times at bat, and what they hit for the rest of the season. Data and the shrinking factor .212
recalled from memory; the factor was computed by code independent of this package. Tolerance: half
of the last digit printed.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.calibration import partial_pooling, stein_shrinkage
from phenocast.errors import InputError

HITS = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7]
AT_BAT = 45
# batting average of the rest of the season, in the same order
LATER = [0.346, 0.298, 0.276, 0.222, 0.273, 0.270, 0.263, 0.210, 0.269, 0.230, 0.264, 0.256, 0.303,
         0.264, 0.226, 0.285, 0.316, 0.200]  # fmt: skip


@pytest.fixture
def early():
    return np.array(HITS) / AT_BAT


@pytest.fixture
def error(early):
    """Binomial standard error at the mean of all players, as in the article."""
    mean = early.mean()
    return float(np.sqrt(mean * (1.0 - mean) / AT_BAT))


def test_shrinking_factor_and_the_best_start(early, error):
    factor, drawn = stein_shrinkage(early, error)
    assert factor == pytest.approx(0.212, abs=5e-4)
    assert early.mean() == pytest.approx(0.265, abs=5e-4)
    assert early[0] == pytest.approx(0.400)
    assert drawn[0] == pytest.approx(0.294, abs=5e-4)


def test_the_drawn_averages_foretell_the_season_better(early, error):
    """The article: the sum of squared errors falls to about 29 % of that of the early averages."""
    _, drawn = stein_shrinkage(early, error)
    ratio = np.sum((drawn - LATER) ** 2) / np.sum((early - LATER) ** 2)
    assert ratio == pytest.approx(0.286, abs=0.01)


def test_pooling_by_moments_draws_harder(early, error):
    """Same data: its factor is 1 - (k - 1) / Q where Stein's is 1 - (k - 3) / Q."""
    factor, _ = stein_shrinkage(early, error)
    found = partial_pooling(early, np.full(18, error))
    kept = 1.0 - found.weight_on_mean
    assert kept == pytest.approx(np.full(18, 1.0 - (1.0 - factor) * 17.0 / 15.0), abs=1e-6)


def test_players_that_do_not_differ_are_all_the_mean():
    factor, drawn = stein_shrinkage([0.26, 0.27, 0.26, 0.27], 0.07)
    assert factor == 0.0
    assert drawn == pytest.approx(np.full(4, 0.265))


@pytest.mark.parametrize(
    ("values", "error"), [([1.0, 2.0, 3.0], 1.0), ([1.0, 2.0, 3.0, 4.0], 0.0)]
)
def test_too_few_or_no_error_is_refused(values, error):
    with pytest.raises(InputError):
        stein_shrinkage(values, error)
