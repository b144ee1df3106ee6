from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from phenocast.weather.gap_filling import bridged, from_like_hours, gap_lengths

holes = st.lists(st.tuples(st.integers(0, 700), st.integers(1, 40)), max_size=6)


def holed(gaps):
    values = 10.0 + 5.0 * np.sin(np.arange(720) / 24.0 * 2.0 * np.pi) + np.arange(720) * 0.01
    for first, length in gaps:
        values[first : first + length] = np.nan
    return values


@given(gaps=holes)
def test_filling_never_changes_what_was_measured(gaps):
    values = holed(gaps)
    known = ~np.isnan(values)
    for fill in (bridged, from_like_hours):
        before = values.copy()
        out, mask = fill(values)
        assert np.array_equal(values, before, equal_nan=True)
        assert np.array_equal(out[known], values[known])
        assert not mask[known].any()
        assert np.array_equal(mask, np.isnan(values) & ~np.isnan(out))


@given(gaps=holes)
def test_only_short_inner_gaps_are_bridged_and_stay_between_their_neighbours(gaps):
    values = holed(gaps)
    out, mask = bridged(values)
    lengths = gap_lengths(np.isnan(values))
    assert (lengths[mask] <= 3).all()
    inner = np.flatnonzero((lengths > 0) & (lengths <= 3))
    known = np.flatnonzero(~np.isnan(values))
    for place in inner:
        if len(known) and known[0] < place < known[-1]:
            before, after = values[known[known < place][-1]], values[known[known > place][0]]
            assert min(before, after) - 1e-12 <= out[place] <= max(before, after) + 1e-12
        else:
            assert np.isnan(out[place])


def test_gaps_at_the_ends_are_left_to_other_rules():
    values = np.array([np.nan, 1.0, 2.0, np.nan])
    out, mask = bridged(values)
    assert np.isnan(out[[0, 3]]).all()
    assert not mask.any()


def test_like_hours_are_of_the_same_hour_of_the_day():
    day = np.arange(24.0)
    values = np.tile(day, 30)
    values[240:300] = np.nan
    out, mask = from_like_hours(values)
    assert np.array_equal(out, np.tile(day, 30))
    assert mask.sum() == 60


def test_a_long_gap_with_no_other_year_is_left_missing():
    values = np.tile(np.arange(24.0), 60)
    values[480:960] = np.nan
    out, _ = from_like_hours(values)
    assert np.isnan(out).any()


def test_other_years_fill_a_season_across_a_leap_day():
    hours = 24 * (365 + 366 + 365)
    at = np.arange(hours)
    values = 10.0 + 8.0 * np.sin(2 * np.pi * at / 8766.0) + 4.0 * np.sin(2 * np.pi * at / 24.0)
    truth = values.copy()
    values[9000:11000] = np.nan
    out, _ = from_like_hours(values)
    # at the edges of the gap five near days of one side stand in: 3 days off, 0.14 degC a day
    assert np.abs(out - truth).max() < 0.75
    assert np.abs(out - truth)[9200:10800].max() < 0.2
