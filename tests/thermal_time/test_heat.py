from __future__ import annotations

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.thermal_time import (
    chill_hours,
    degree_days,
    degree_hours,
    degree_hours_above,
    heat_rate,
    hours_above,
)


@pytest.mark.parametrize(
    ("cutoff", "expected"),
    [
        ("horizontal", [0, 0, 10, 20, 20, 20, 20]),
        ("intermediate", [0, 0, 10, 20, 15, 0, 0]),
        ("vertical", [0, 0, 10, 20, 0, 0, 0]),
    ],
)
def test_heat_rate_around_both_thresholds(cutoff, expected):
    assert heat_rate([5, 10, 20, 30, 35, 50, 60], 10, 30, cutoff).tolist() == expected


def test_missing_hour_makes_the_sum_missing_not_smaller():
    hours = [12.0, np.nan, 35.0]
    assert np.isnan(degree_hours(hours, 10.0))
    assert np.isnan(degree_hours(hours, 10.0, 30.0, "vertical"))
    assert np.isnan(hours_above(hours, 30.0))
    assert np.isnan(degree_hours_above(hours, 30.0))
    assert np.isnan(chill_hours(hours))


def test_sums_run_over_the_last_axis():
    hours = np.array([[31.0, 33.0], [29.0, 30.0]])
    assert hours_above(hours, 30.0).tolist() == [2.0, 0.0]
    assert degree_hours_above(hours, 30.0, step_h=0.5).tolist() == [2.0, 0.0]
    assert degree_hours(hours, 10.0, 30.0, "horizontal").tolist() == [40.0, 39.0]


def test_stress_begins_above_the_cutoff_and_chill_counts_both_bounds():
    assert float(hours_above([30.0, 30.000001], 30.0)) == 1.0
    assert float(chill_hours([0.0, 7.2, -0.01, 7.21])) == 2.0


def test_flat_day_at_a_threshold_agrees_with_the_hourly_count():
    for temperature in (10.0, 30.0, 30.5, 50.0):
        for cutoff in ("horizontal", "intermediate", "vertical"):
            for method in ("single-sine", "single-triangle"):
                day = degree_days(
                    temperature, temperature, 10.0, 30.0, method=method, cutoff=cutoff
                )
                hour = heat_rate(temperature, 10.0, 30.0, cutoff)
                assert float(day) == float(hour), (temperature, cutoff, method)


def test_intermediate_cutoff_never_turns_negative():
    # the published A(L) - 2 A(U) would be -10 here
    assert float(degree_days(58.0, 62.0, 10.0, 30.0, cutoff="intermediate")) == 0.0


def test_missing_extreme_gives_a_missing_day():
    got = degree_days([np.nan, 5.0], [20.0, 25.0], 10.0, 30.0, cutoff="horizontal")
    assert np.isnan(got[0])
    assert got[1] > 0


def test_half_day_into_a_warmer_night_is_still_integrated():
    warm = degree_days(5, 15, 10, method="double-sine", next_tmin=18)
    evening = degree_days(15, 18, 10, method="single-sine")
    morning = degree_days(5, 15, 10, method="single-sine")
    assert float(warm) == pytest.approx(float(morning + evening) / 2)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: degree_days(20, 10, 5), "minimum above the maximum"),
        (lambda: degree_days(5, 10, 5, method="double-sine"), "following day"),
        (lambda: degree_days(5, 10, 5, next_tmin=4), "following day"),
        (lambda: degree_days(5, 10, 5, method="sine"), "unknown method"),
        (lambda: degree_days(5, 10, 5, 30, cutoff="flat"), "unknown cutoff"),
        (lambda: degree_days(5, 10, 5, cutoff="vertical"), "needs an upper threshold"),
        (lambda: degree_days(5, 10, 5, 30), "does not use it"),
        (lambda: degree_days(5, 10, 30, 10, cutoff="horizontal"), "not below"),
        (lambda: degree_days(5, 9, 3, 8, method="average-2", cutoff="vertical"), "not published"),
        (lambda: degree_hours([5.0], 3.0, step_h=0.0), "not above 0"),
        (lambda: chill_hours([5.0], 7.0, 3.0), "not below"),
    ],
)
def test_what_does_not_fit_is_refused(call, text):
    with pytest.raises(InputError, match=text):
        call()


def test_refusal_names_the_first_wrong_day():
    with pytest.raises(InputError) as caught:
        degree_days([1.0, 9.0, 9.0], [5.0, 8.0, 7.0], 0.0)
    assert "day 1" in str(caught.value)
    assert caught.value.faults[0].value == (9.0, 8.0)
