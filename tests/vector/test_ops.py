"""Numbers side by side: compiled, the operations are those on NumPy arrays."""

import math

import numpy as np
import pytest
from numba import njit

from phenocast.parameters import cultivars, transplants
from phenocast.phenology import plant_records
from phenocast.phenology.steps import (
    first_day,
    flush,
    normal_share,
    open_window,
    put,
    put_in_order,
    reach,
)
from phenocast.vector import (
    LANES,
    any_lane,
    clip,
    everywhere,
    everywhere_int,
    exp,
    lane_of,
    lane_records,
    load,
    maximum,
    minimum,
    row_of,
    scatter,
    series,
    side_by_side,
    sqrt,
    store,
    take,
    trunc,
    where,
    with_lane,
)

RNG = np.random.default_rng(7)


def everything(rows, shared, days):
    """Use every operation, in loops and with plain numbers beside lanes."""
    first, second, third = row_of(rows, 0), row_of(rows, 1), row_of(rows, 2)
    level, table = row_of(shared, 1), series(days)
    total = everywhere(0.5)
    day = everywhere_int(1)
    for place in range(30):
        value = load(first, place)
        high = (value > 0.5) & ~(value == 0.75) | (value <= 0.1)
        if any_lane(high):
            total += where(high, value * 2, 0.0) - clip(value, 0.2, 0.4) / 3
        day = where((value < 0.9) & (day < 28), day + 1, minimum(day, 3))
        day = maximum(day - 0, 1)
        total = total + sqrt(take(second, day)) + take(level, day) * (place - day) + -total * 0.125
        scatter(third, trunc(take(second, day) * 29.0), total)
        total = with_lane(total, LANES - 1, lane_of(total, LANES - 1) + level[place])
        store(first, place, total + take(table, day))


def test_compiled_operations_are_those_on_arrays():
    rows = side_by_side(3, 30)
    rows[:] = RNG.random(rows.shape)
    # products of few binary digits round nowhere, so it does not matter that a compiled product may
    # go into its sum unrounded: all must be the same to the last digit
    shared = RNG.integers(0, 2**20, (2, 30)) / 2.0**20
    days = RNG.integers(0, 9, 30)
    compiled = rows.copy()
    njit(everything)(compiled, shared, days)
    everything(rows, shared, days)
    np.testing.assert_array_equal(compiled, rows)


@njit
def put_all(rows, moments, amounts):
    window = open_window()
    for i in range(moments.shape[1]):
        moment, amount = load(row_of(moments, 0), i), load(row_of(amounts, 0), i)
        put(row_of(rows, 0), moment, amount)
        window = put_in_order(row_of(rows, 1), moment, amount, window)
    flush(row_of(rows, 1), window)


def test_the_exponential_is_that_of_the_library():
    values = np.linspace(-10.0, 10.0, 4001)
    assert np.array([exp(value) for value in values]) == pytest.approx(np.exp(values), rel=1e-13)
    assert exp(values) == pytest.approx(np.exp(values), rel=1e-13)


def test_amounts_put_in_order_are_those_put_at_random():
    moments = side_by_side(1, 60)
    moments[0] = np.sort(1.0 + RNG.random((60, LANES)) ** 2 * 40.0, axis=0)
    amounts = side_by_side(1, 60)
    amounts[0] = RNG.random((60, LANES))
    rows = side_by_side(2, 50)
    put_all(rows, moments, amounts)
    np.testing.assert_array_equal(rows[0], rows[1])
    assert rows[1].sum(axis=0) == pytest.approx(amounts[0].sum(axis=0), rel=1e-12)
    mean = np.arange(50.0) @ rows[1, :, 0] + 0.5 * rows[1, :, 0].sum()
    assert mean == pytest.approx(moments[0, :, 0] @ amounts[0, :, 0], rel=1e-12)


@njit
def reach_all(prefix, targets, n_days, out):
    found = first_day(row_of(prefix, 0))
    for i in range(targets.shape[1]):
        target = load(row_of(targets, 0), i)
        found, time = reach(row_of(prefix, 0), target, found, n_days)
        store(row_of(out, 0), i, time)


def test_a_search_finds_what_interpolation_does():
    n_days = 80
    prefix = side_by_side(1, n_days + 2)
    prefix[0, 1:-1] = np.cumsum(RNG.random((n_days, LANES)) ** 3 + 1e-3, axis=0)
    targets = side_by_side(1, 50)
    targets[0] = np.sort(RNG.random((50, LANES)), axis=0) * prefix[0, -2] * 1.1
    out = side_by_side(1, 50)
    reach_all(prefix, targets, n_days, out)
    for lane in range(LANES):
        expected = np.interp(targets[0, :, lane], prefix[0, :-1, lane], np.arange(n_days + 1.0))
        assert out[0, :, lane] == pytest.approx(expected, abs=1e-9)


def test_share_of_a_normal_is_that_of_the_library():
    z = np.linspace(-6.0, 6.0, 4001)
    exact = np.array([0.5 * math.erfc(-one / math.sqrt(2.0)) for one in z])
    inside = slice(1, -1)
    ours = np.array([normal_share(one) for one in z])
    assert ours[inside] == pytest.approx(exact[inside], abs=2e-15)
    assert (normal_share(-6.1), normal_share(6.1)) == (0.0, 1.0)


def test_plants_go_side_by_side_and_the_last_fills_up():
    plants = plant_records(cultivars()["Basalt"], transplants()["bare-root"], n_draws=9, seed=4)
    groups = lane_records(plants)
    assert groups.shape == (2,)
    for name in ("phyllochron", "frost_width"):
        assert groups[name].ravel()[:9].tolist() == plants[name].tolist()
        assert set(groups[name][1]) == {plants[name][8]}
