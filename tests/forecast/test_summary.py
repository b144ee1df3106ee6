"""The words and numbers of a forecast: weeks, quantiles with seasons that never reach."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from phenocast.forecast.summary import (
    date_distribution,
    ordered_quantiles,
    quantile_with_never,
    quantiles,
    stage_dates,
    stage_rows,
)
from phenocast.harvest import iso_week

PLANTED = date(2026, 10, 1)


def test_iso_weeks_follow_iso_8601_across_new_year() -> None:
    # 2026 has 53 ISO weeks; 1 January 2027 is a Friday of 2026-W53.
    assert iso_week(date(2027, 1, 1)) == "2026-W53"
    assert iso_week(date(2024, 12, 30)) == "2025-W01"


def test_a_season_that_never_reaches_is_counted_not_dropped() -> None:
    days = np.array([60.2, 62.0, 70.9, np.inf, np.nan])
    told = date_distribution(PLANTED, days)
    assert told["not_reached_probability"] == pytest.approx(0.4)
    assert told["median"] == "2026-12-10"  # the third of five, not the second of three
    assert told["p90"] is None
    assert sum(w["probability"] for w in told["week_probabilities"]) == pytest.approx(0.6)


def test_all_never() -> None:
    told = date_distribution(PLANTED, np.full(4, np.inf))
    assert told["median"] is None
    assert told["mean"] is None
    assert told["week_probabilities"] == []
    assert told["not_reached_probability"] == 1.0


@given(st.lists(st.one_of(st.floats(0.0, 299.0), st.just(float("inf"))), min_size=1, max_size=60))
def test_probabilities_sum_to_one_and_quantiles_are_ordered(values: list[float]) -> None:
    days = np.array(values)
    told = date_distribution(PLANTED, days)
    total = sum(w["probability"] for w in told["week_probabilities"])
    assert total + told["not_reached_probability"] == pytest.approx(1.0, abs=0.01)
    levels = [quantile_with_never(days, p) for p in (0.1, 0.5, 0.9)]
    assert levels == sorted(levels)
    weeks = [w["week"] for w in told["week_probabilities"]]
    assert weeks == sorted(weeks)
    assert len(set(weeks)) == len(weeks)


CASES = st.tuples(st.integers(1, 5), st.integers(1, 40))


@given(arrays(np.float64, CASES, elements=st.floats(-1e9, 1e9)))
def test_quantiles_of_values_in_order_are_those_of_numpy_to_the_last_bit(table: np.ndarray) -> None:
    wanted = np.quantile(table, [0.1, 0.5, 0.9], axis=-1).T
    assert np.array_equal(ordered_quantiles(np.sort(table, axis=-1)), wanted)
    told = quantiles(table[0], 2)
    assert list(told.values()) == [round(float(value), 2) for value in wanted[0]]


def test_a_case_that_is_missing_leaves_no_quantile() -> None:
    assert all(np.isnan(value) for value in quantiles(np.array([1.0, np.nan, 2.0])).values())


@given(arrays(np.float64, CASES, elements=st.floats(0.0, 299.0) | st.sampled_from(
    [float("inf"), float("nan")]
)))  # fmt: skip
def test_stages_of_many_rows_are_the_dates_of_each(days: np.ndarray) -> None:
    rows = stage_rows([PLANTED] * len(days), days)
    for row, told in zip(days, rows, strict=True):
        whole = date_distribution(PLANTED, row)
        assert told == {name: whole[name] for name in told}
        assert told == stage_dates(PLANTED, row)
