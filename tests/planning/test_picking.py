"""Picks, hours and trays behave as a grower would expect, and tallies give back what made them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.errors import InputError, NoAnswerError
from phenocast.forecast.packout import packout_of, tray
from phenocast.planning.picking import (
    cooler_trays_per_day,
    experience,
    fit_tallies,
    hours_per_pick,
    interval_d,
    loading_hours,
    packing_hours,
    picks_and_hours,
    shipped_rates,
)

RATES = shipped_rates()


def test_once_a_week_early_and_every_two_to_three_days_at_peak():
    # 5 g per plant and week early, 60 at peak, 43000 plants per ha
    early, peak = interval_d(RATES, np.array([5.0, 60.0]) * 43000 / 1e6 / 7)
    assert early == 7.0
    assert 2.0 <= peak <= 3.0


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_faster_ripening_never_means_rarer_picks(one, other):
    slow, fast = sorted((one, other))
    assert interval_d(RATES, fast) <= interval_d(RATES, slow)


@given(st.lists(st.floats(0.0, 400.0), min_size=1, max_size=30))
def test_fruit_is_picked_or_left_and_none_appears(grams):
    ripe = np.array([grams])
    carried = packout_of(None, draws=1, seed=0).picked_g(ripe, 50_000.0)
    picks, hours = picks_and_hours(RATES, ripe, carried, 50_000.0)
    assert np.all((carried >= 0.0) & (carried <= ripe))
    assert np.all(hours >= 0.0)
    assert np.all((picks == 0.0) == (carried == 0.0))


def test_small_fruit_takes_longer_and_more_fruit_is_picked_faster():
    assert hours_per_pick(RATES, 1.0, 12.0) > hours_per_pick(RATES, 1.0, 24.0)
    assert np.all(np.diff(RATES.rate_kg_h([0.2, 0.5, 1.0, 2.0])) > 0.0)


def test_a_block_without_plants_is_refused():
    with pytest.raises(InputError, match="plants_per_ha"):
        picks_and_hours(RATES, np.ones(3), np.ones(3), 0.0)


def test_learning_rises_to_full_rate():
    curve = experience(np.arange(6.0))
    assert curve[0] == pytest.approx(0.6)
    assert np.all(np.diff(curve) > 0.0)
    assert 0.99 < curve[-1] < 1.0


def test_trays_of_the_users_own_and_a_weight_of_zero():
    assert tray("6 x 300 g", 1.8, 0.0).trays(18.0) == pytest.approx(10.0)
    with pytest.raises(InputError, match="no such mass"):
        tray("6 x 300 g", 0.0)
    with pytest.raises(InputError, match="did you mean '8 x 1 lb'"):
        tray("8 x 1lb")


def test_packing_and_loading_need_a_rate():
    assert loading_hours(120.0, 60.0) == 2.0
    with pytest.raises(InputError, match="packing rate"):
        packing_hours(100.0, 0.0)


def test_only_whole_loads_are_cooled():
    # 116 + 20 min a load: four loads in 10 h, none in 2 h
    assert cooler_trays_per_day(1, 10.0) == 4 * 108
    assert cooler_trays_per_day(1, 2.0) == 0.0


def picks(rng, n=60, walk=18.0, reach=22.0, noise=2.0):
    yields = rng.uniform(0.2, 2.0, n)
    area = rng.uniform(0.5, 3.0, n)
    hours = (walk + reach * yields + rng.normal(0.0, noise, n)) * area
    return hours, 1000.0 * yields * area, area


def test_intervals_of_tallies_hold_the_truth_about_nine_times_in_ten():
    rng = np.random.default_rng(4)
    fits = [fit_tallies(*picks(rng)) for _ in range(300)]
    for key, truth in (("walk_interval", 18.0), ("reach_interval", 22.0)):
        held = np.mean([getattr(f, key)[0] <= truth <= getattr(f, key)[1] for f in fits])
        assert 0.85 < held < 0.95
    assert np.mean([f.reach for f in fits]) == pytest.approx(22.0, abs=0.2)


def test_fitted_rates_give_the_tallied_hours():
    hours, kg, area = picks(np.random.default_rng(1), noise=0.0)
    rates = fit_tallies(hours, kg, area).applied_to(RATES)
    assert hours_per_pick(rates, kg / 1000.0 / area) * area == pytest.approx(hours)


@pytest.mark.parametrize(
    ("change", "words"),
    [(lambda h, k, a: (h[:4], k[:4], a[:4]), "too few picks"),
     (lambda h, k, a: (h, 1000.0 * a, a), "nearly the same fruit"),
     (lambda h, k, a: (50.0 * a - 0.01 * k, k, a), "cannot be")],
)  # fmt: skip
def test_tallies_that_make_no_line(change, words):
    with pytest.raises(NoAnswerError, match=words):
        fit_tallies(*change(*picks(np.random.default_rng(2))))


def test_tallies_without_hours_or_area_tell_the_row():
    hours, kg, area = picks(np.random.default_rng(3), n=8)
    hours[2], area[5] = 0.0, np.nan
    with pytest.raises(InputError) as told:
        fit_tallies(hours, kg, area)
    assert len(told.value.faults) == 2
    assert "row 3" in str(told.value)
    assert "row 6" in str(told.value)
