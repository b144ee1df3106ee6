"""Penalties of AICc and BIC, and the drop that bounds a profile-likelihood interval.

Hurvich and Tsai (1989), Biometrika 76:297-307; Schwarz (1978), Ann. Stat. 6:461-464: formulas
recalled from memory; chi-squared quantile of the standard tables. Tolerance: half the last digit.
"""

from __future__ import annotations

import pytest
from scipy import stats

from phenocast.calibration.events.criteria import PROFILE_DROP, information_criteria


def test_correction_for_few_units():
    found = information_criteria(-31.0, 4, 20)
    assert found.aic == 70.0
    assert found.aicc - found.aic == pytest.approx(2.6667, abs=5e-5)


def test_price_of_a_parameter_in_bic():
    four, five = information_criteria(-31.0, 4, 20), information_criteria(-31.0, 5, 20)
    assert five.bic - four.bic == pytest.approx(2.9957, abs=5e-5)


def test_drop_of_a_95_percent_profile_interval():
    assert pytest.approx(3.8415, abs=5e-5) == PROFILE_DROP
    assert pytest.approx(stats.chi2.ppf(0.95, 1)) == PROFILE_DROP


def test_against_the_criteria_of_a_linear_regression_in_statsmodels():
    statsmodels = pytest.importorskip("statsmodels.api")
    x = [[1.0, 0.0], [1.0, 1.0], [1.0, 2.0], [1.0, 3.0], [1.0, 4.0]]
    fit = statsmodels.OLS([1.0, 2.1, 2.9, 4.2, 4.8], x).fit()
    # its count of parameters leaves the residual variance out; so does this comparison
    found = information_criteria(float(fit.llf), 2, 5)
    assert (found.aic, found.bic) == pytest.approx((fit.aic, fit.bic), rel=1e-12)
