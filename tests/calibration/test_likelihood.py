"""Likelihoods of records: against scipy's distributions, in the far tails, and refused input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy import integrate, stats

from phenocast.calibration.cultivar.likelihood import (
    interval_log_likelihood,
    plants_of_percentage,
    share_log_likelihood,
)
from phenocast.errors import InputError

days = st.floats(-60.0, 60.0)


@given(days, st.floats(0.01, 20.0), st.floats(0.3, 8.0), st.sampled_from([None, 1.5, 4.0, 30.0]))
def test_adjoining_intervals_and_the_censored_ends_hold_all_probability(cut, width, scale, df):
    edges = [-np.inf, cut, cut + width, np.inf]
    parts = interval_log_likelihood(edges[:-1], edges[1:], 3.0, scale, student_df=df)
    assert np.exp(parts).sum() == pytest.approx(1.0, abs=1e-12)


@given(days, st.floats(0.0, 20.0), st.floats(0.3, 8.0), st.sampled_from([None, 4.0]))
@example(low=0.0, width=1.1458992958068848e-05, scale=1.0, df=None)
def test_mirrored_dates_are_as_likely(low, width, scale, df):
    there = interval_log_likelihood(low, low + width, 0.0, scale, student_df=df)
    back = interval_log_likelihood(-(low + width), -low, 0.0, scale, student_df=df)
    # a narrow interval is a difference of two shares: the last digit of those counts in it
    last_digit = np.finfo(np.float64).eps / np.exp(there)
    assert there == pytest.approx(back, rel=1e-12, abs=1e-12 + last_digit)


@pytest.mark.parametrize(("low", "high"), [(30, 31), (-31, -30), (8, 8.0001), (-1e-7, 1e-7),
                                           (5, 5 + 1e-11), (37, np.inf)])  # fmt: skip
def test_far_and_narrow_intervals_against_quadrature_of_the_density(low, high):
    # the density is divided by its value at the near end, so that nothing underflows
    near = low if abs(low) < abs(high) else high
    width = min(high - low, 60.0)
    away = 1.0 if near == low else -1.0
    area, _ = integrate.quad(
        lambda x: np.exp(-(x * x) / 2 - near * away * x), 0.0, width, epsabs=0, epsrel=1e-12
    )
    expected = np.log(area) - near**2 / 2 - np.log(2 * np.pi) / 2
    assert interval_log_likelihood(low, high, 0.0, 1.0) == pytest.approx(expected, rel=1e-6)


def test_an_exact_date_is_a_density():
    assert interval_log_likelihood(5.0, 5.0, 3.0, 2.0) == pytest.approx(
        stats.norm.logpdf(5.0, 3.0, 2.0)
    )
    assert interval_log_likelihood(5.0, 5.0, 3.0, 2.0, student_df=4.0) == pytest.approx(
        stats.t.logpdf(5.0, 4.0, 3.0, 2.0)
    )


def test_student_t_minds_a_wrong_date_less():
    normal = interval_log_likelihood([0, 60], [3, 63], 1.0, 2.0)
    robust = interval_log_likelihood([0, 60], [3, 63], 1.0, 2.0, student_df=4.0)
    assert normal[1] < -400.0
    assert robust[1] > -20.0
    assert abs(robust[0] - normal[0]) < 0.2


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((5.0, 3.0, 4.0, 1.0), "not in order"),
        ((np.nan, 3.0, 4.0, 1.0), "missing"),
        ((np.inf, np.inf, 4.0, 1.0), "infinite"),
        ((1.0, 3.0, np.nan, 1.0), "location"),
        ((1.0, 3.0, 4.0, 0.0), "scale"),
    ],
)
def test_impossible_dates_are_refused(arguments, message):
    with pytest.raises(InputError, match=message):
        interval_log_likelihood(*arguments)
    with pytest.raises(InputError, match="student_df"):
        interval_log_likelihood(1.0, 2.0, 1.0, 1.0, student_df=0.0)


def test_shares_are_binomial():
    k = np.arange(13)
    assert share_log_likelihood(k, 12, 0.37) == pytest.approx(stats.binom.logpmf(k, 12, 0.37))
    assert share_log_likelihood([0, 12], 12, [0.0, 1.0]).tolist() == [0.0, 0.0]
    assert share_log_likelihood(1, 12, 0.0) == -np.inf


@pytest.mark.parametrize(
    "call",
    [
        lambda: share_log_likelihood(5, 4, 0.5),
        lambda: share_log_likelihood(3, 4, 1.5),
        lambda: plants_of_percentage(37.0, 4),
        lambda: plants_of_percentage(150.0, 4),
    ],
)
def test_impossible_records_are_refused(call):
    with pytest.raises(InputError):
        call()
