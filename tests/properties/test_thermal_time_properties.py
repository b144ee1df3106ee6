from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from phenocast.thermal_time import (
    crossing_time,
    degree_days,
    degree_hours,
    felt_photoperiod_h,
    heat_rate,
    photoperiod_h,
    prefix_sums,
    trapezoid,
    wang_engel,
    yan_hunt,
    yin_beta,
)

temperature = st.floats(-30, 60)
cardinals = st.tuples(st.floats(-5, 12), st.floats(0.5, 25), st.floats(0.5, 25)).map(
    lambda x: (x[0], x[0] + x[1], x[0] + x[1] + x[2])
)
day = st.tuples(temperature, st.floats(0, 30)).map(lambda x: (x[0], x[0] + x[1]))
thresholds = st.tuples(st.floats(-5, 20), st.floats(1, 30)).map(lambda x: (x[0], x[0] + x[1]))
hours_of_day = st.floats(0, 24)


@given(cardinals, st.lists(temperature, min_size=1, max_size=20), st.floats(0.2, 4))
def test_responses_keep_to_their_range(points, t, shape):
    base, optimum, ceiling = points
    t = np.array(t)
    curves = [
        wang_engel(t, base, optimum, ceiling),
        yin_beta(t, base, optimum, ceiling, shape),
        trapezoid(t, base, optimum, (optimum + ceiling) / 2, ceiling),
    ]
    outside = (t <= base) | (t >= ceiling)
    for curve in curves:
        assert np.all((curve >= 0) & (curve <= 1))
        assert np.all(curve[outside] == 0)
    span = optimum - base
    assert np.all(yan_hunt(t, span, ceiling - base)[(t <= 0) | (t >= ceiling - base)] == 0)


@given(cardinals, temperature, st.floats(-20, 20))
@example((0.0, 0.5, 13.5), 2.220446049250313e-16, 2.0)
def test_wang_engel_moves_with_its_cardinals(points, t, shift):
    base, optimum, ceiling = points
    there = wang_engel(t + shift, base + shift, optimum + shift, ceiling + shift)
    # steep at the base where the optimum is low: what the shift leaves of a trace above it counts
    here = wang_engel(base + ((t + shift) - (base + shift)), base, optimum, ceiling)
    assert float(here) == pytest.approx(float(there), abs=1e-3)


@given(cardinals, st.lists(temperature, min_size=1, max_size=48), st.floats(0, 5))
def test_warming_hours_that_stay_below_the_optimum_never_delays(points, t, warming):
    base, optimum, ceiling = points
    t = np.array(t)
    warmer = np.where(t + warming <= optimum, t + warming, t)
    before = prefix_sums(wang_engel(t, base, optimum, ceiling))
    after = prefix_sums(wang_engel(warmer, base, optimum, ceiling))
    assert np.all(after >= before - 1e-9)
    need = before[-1] / 2
    assert float(crossing_time(after + 0, need)) <= float(crossing_time(before, need)) + 1e-6


@given(day, thresholds, st.sampled_from(["single-sine", "single-triangle"]))
def test_cutoffs_are_ordered(extremes, limits, method):
    low, high = extremes
    base, upper = limits
    none = degree_days(low, high, base, method=method)
    by = {
        cutoff: degree_days(low, high, base, upper, method=method, cutoff=cutoff)
        for cutoff in ("horizontal", "intermediate", "vertical")
    }
    assert 0 <= by["intermediate"] <= by["horizontal"] + 1e-9
    assert by["horizontal"] <= none + 1e-9
    assert 0 <= by["vertical"] <= by["horizontal"] + 1e-9
    assert by["horizontal"] <= upper - base + 1e-9


@given(
    day,
    thresholds,
    st.floats(-20, 20),
    st.sampled_from(["horizontal", "intermediate"]),
    st.sampled_from(["single-sine", "single-triangle", "average-1"]),
)
def test_degree_days_know_no_zero_and_no_scale(extremes, limits, shift, cutoff, method):
    # the vertical cut-off is left out: it jumps, and rounding decides on which side a day stands
    low, high = extremes
    base, upper = limits
    here = degree_days(low, high, base, upper, method=method, cutoff=cutoff)
    moved = degree_days(
        low + shift, high + shift, base + shift, upper + shift, method=method, cutoff=cutoff
    )
    fahrenheit = degree_days(
        *(1.8 * x + 32 for x in (low, high, base, upper)), method=method, cutoff=cutoff
    )
    assert float(moved) == pytest.approx(float(here), abs=1e-6)
    assert float(fahrenheit) == pytest.approx(1.8 * float(here), abs=1e-6)


@given(day, thresholds, st.sampled_from(["none", "horizontal", "intermediate"]))
def test_degree_hours_of_the_sine_are_24_degree_days(extremes, limits, cutoff):
    low, high = extremes
    base, upper = limits
    limit = None if cutoff == "none" else upper
    share = (np.arange(4800) + 0.5) / 4800
    curve = (low + high) / 2 - (high - low) / 2 * np.cos(2 * np.pi * share)
    hours = degree_hours(curve, base, limit, cutoff, step_h=24 / 4800)
    days = degree_days(low, high, base, limit, cutoff=cutoff)
    assert float(hours) == pytest.approx(24 * float(days), abs=1e-3)


@given(st.lists(temperature, min_size=2, max_size=60), thresholds, st.data())
def test_degree_hours_add_over_splits(t, limits, data):
    base, upper = limits
    cut = data.draw(st.integers(0, len(t)))
    for cutoff in ("horizontal", "intermediate", "vertical"):
        whole = degree_hours(t, base, upper, cutoff)
        parts = degree_hours(t[:cut], base, upper, cutoff) + degree_hours(
            t[cut:], base, upper, cutoff
        )
        assert float(whole) == pytest.approx(float(parts), abs=1e-9)


@given(temperature, thresholds)
def test_flat_day_is_the_rate_of_its_temperature(t, limits):
    base, upper = limits
    for cutoff in ("horizontal", "intermediate", "vertical"):
        rate = heat_rate(t, base, upper, cutoff)
        flat = degree_days(t, t, base, upper, cutoff=cutoff)
        assert float(flat) == pytest.approx(float(rate), abs=1e-9)


@given(
    st.lists(st.floats(0, 10), min_size=1, max_size=40),
    st.lists(st.floats(0, 200), min_size=2, max_size=6),
)
def test_later_requirement_is_met_later_and_the_sum_is_there(rate, needs):
    sums = prefix_sums(rate)
    needs = np.sort(needs)
    times = crossing_time(sums, needs)
    reached = ~np.isnan(times)
    assert np.all(np.diff(times[reached]) >= 0)
    assert np.all(reached == (needs <= sums[-1]))
    at = np.interp(times[reached], np.arange(sums.size), sums)
    assert at == pytest.approx(needs[reached], abs=1e-6)


@given(st.lists(st.floats(0.1, 10), min_size=3, max_size=40), st.floats(0.05, 0.9))
def test_crossing_time_is_continuous_in_the_requirement(rate, share):
    sums = prefix_sums(rate)
    need = share * sums[-1]
    step = crossing_time(sums, need + 1e-6) - crossing_time(sums, need)
    assert 0 <= float(step) <= 1e-6 / 0.1 + 1e-9


@given(st.floats(-65, 65), st.integers(0, 20000), st.floats(0, 12))
def test_day_and_night_share_24_hours(latitude, number, angle):
    date = np.datetime64("1990-01-01") + number
    length = float(photoperiod_h(date, latitude, angle))
    assert 0 <= length <= 24
    # the night in one hemisphere is the day in the other, but for the sun's move within the day
    other = float(photoperiod_h(date, -latitude, -min(angle, 5.0)))
    assume(angle <= 5 and 0.5 < length < 23.5 and abs(latitude) < 60)
    assert length + other == pytest.approx(24.0, abs=0.01)


@given(
    hours_of_day,
    hours_of_day,
    st.lists(st.tuples(hours_of_day, hours_of_day), max_size=3),
    st.lists(st.tuples(hours_of_day, hours_of_day), max_size=2),
    st.floats(0, 3),
)
@example(0.0, 3.134804148882113, [], [(0.05611655149301599, 0.0)], 1.0)  # dark all day
def test_lamps_never_shorten_and_cloth_never_lengthens(rise, sunset, lamps, cloths, shortest):
    rise, sunset = min(rise, sunset), max(rise, sunset)
    assume(sunset - rise >= 3)  # a day shorter than a night break does not count as one

    def felt(lamps, cloths):
        return float(
            felt_photoperiod_h(
                rise, sunset, lamps=lamps, blackouts=cloths, shortest_break_h=shortest
            )
        )

    natural, both = felt([], []), felt(lamps, cloths)
    assert natural == pytest.approx(sunset - rise)
    assert 0 <= both <= 24
    assert felt(lamps, []) >= natural - 1e-9
    assert felt([], cloths) <= natural + 1e-9
    assert felt([], cloths) - 1e-9 <= both <= felt(lamps, []) + 1e-9
