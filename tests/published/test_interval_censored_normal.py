"""Interval-censored normal: six events in bins of three days.

Reference: scipy.stats.CensoredData and scipy.stats.norm.fit, run here; the four figures were also
computed once by independent code. Sheppard's correction (variance less width squared over 12) is
recalled from memory. Tolerance 1e-3: figures are given to that digit, and an optimiser stops there.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from phenocast.calibration.cultivar.likelihood import interval_log_likelihood

STARTS = np.array([40.0, 43.0, 43.0, 46.0, 46.0, 49.0])


def _fitted() -> tuple[float, float, float]:
    def cost(point: np.ndarray) -> float:
        spread = float(np.exp(point[1]))
        return -float(interval_log_likelihood(STARTS, STARTS + 3.0, point[0], spread).sum())

    best = optimize.minimize(
        cost, [44.0, 1.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12}
    )
    return float(best.x[0]), float(np.exp(best.x[1])), float(best.fun)


def test_against_the_figures():
    mean, spread, cost = _fitted()
    assert mean == pytest.approx(46.000, abs=1e-3)
    assert spread == pytest.approx(2.7337, abs=1e-3)
    assert cost == pytest.approx(8.25007, abs=1e-3)


def test_against_scipy():
    bins = np.column_stack([STARTS, STARTS + 3.0])
    mean, spread = stats.norm.fit(stats.CensoredData(interval=bins))
    assert _fitted()[:2] == pytest.approx((mean, spread), abs=1e-3)


def test_midpoints_widen_the_spread_as_sheppard_says():
    midpoint = (STARTS + 1.5).std()
    assert midpoint == pytest.approx(2.8723, abs=1e-3)
    corrected = np.sqrt(midpoint**2 - 9.0 / 12.0)
    assert corrected == pytest.approx(2.7386, abs=1e-3)
    # the correction comes within 0.01 d of the likelihood; the midpoints alone do not within 0.1
    assert abs(_fitted()[1] - corrected) < 0.01
    assert midpoint - _fitted()[1] > 0.1


def test_right_censoring_against_scipy():
    seen, never = np.array([40.0, 42.5, 44.0, 47.0]), np.array([48.0, 48.0])
    low, high = np.concatenate([seen, never]), np.concatenate([seen, [np.inf, np.inf]])
    mean, spread = stats.norm.fit(stats.CensoredData(uncensored=seen, right=never))
    here = interval_log_likelihood(low, high, mean, spread).sum()
    for step in (-0.05, 0.05):
        assert interval_log_likelihood(low, high, mean + step, spread).sum() < here
        assert interval_log_likelihood(low, high, mean, spread + step).sum() < here
