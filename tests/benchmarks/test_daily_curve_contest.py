"""The default daily curve is the one with the lowest error on real hourly records."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from phenocast.weather import CURVES, DEFAULT_CURVE
from tests.benchmarks.daily_curve_contest import best, contest, stations


@pytest.fixture(scope="module")
def years():
    found = stations([])
    assert len(found) == 3
    return found


@pytest.mark.parametrize("reading_at_h", [1.0, 0.5])
def test_the_default_has_the_lowest_mean_error(years, reading_at_h):
    assert best(contest(years, reading_at_h)) == DEFAULT_CURVE


def test_the_kept_table_is_what_the_contest_gives(years):
    kept = Path(__file__).with_name("daily_curve_contest.md").read_text(encoding="utf-8")
    for score in contest(years, 1.0):
        assert f"| {score.station} | {score.curve} | {score.rmse_c:.2f} |" in kept


def test_the_default_beats_a_flat_day_and_a_straight_line_between_extremes(years):
    # what one would do without a curve: the mean all day, and lines between 6 h and 14 h
    for station in years:
        low, high = station.air_c.min(axis=1), station.air_c.max(axis=1)
        flat = np.repeat((low + high)[:, None] / 2.0, 24, axis=1)
        lines = np.interp(np.arange(1, 25), [0, 6, 14, 24], [0.5, 0.0, 1.0, 0.5])
        lines = low[:, None] + (high - low)[:, None] * lines
        (mine,) = [s.rmse_c for s in contest([station], 1.0) if s.curve == DEFAULT_CURVE]
        for other in (flat, lines):
            assert mine < np.sqrt(((other - station.air_c)[1:-1] ** 2).mean())


def test_every_curve_errs_as_published_for_such_methods(years):
    # Cesaraccio et al. (2001, abstract read): under 2.0 degC in most years of five Californian
    # stations; Reicosky et al. (1989, read): mean absolute errors of 0.5 to 9.3 degC by day
    for score in contest(years, 1.0):
        assert score.curve in CURVES
        assert 0.5 < score.rmse_c < 2.5, score
