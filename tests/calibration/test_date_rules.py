"""Plain rules for the day of first pick: which one the dates earn, from dates of known making."""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.calibration.cultivar.baselines import BASE_C, date_rules, first_pick_intervals
from phenocast.calibration.cultivar.model import FIRST_PICKED, MARKETABLE
from phenocast.errors import InputError
from tests.benchmarks import synthetic_truth as case_of

REQUIREMENT = {"S01": 900.0, "S02": 1020.0, "S03": 1100.0}


@pytest.fixture(scope="module")
def blocks():
    return case_of.trial_of(3, years=(2019, 2020, 2021, 2022)).blocks


def made(blocks, cut, slope=0.0, scatter=0.6):
    """Intervals of first picks that follow a heat sum with a cut-off and a slope on early heat."""
    rng = np.random.default_rng(3)
    middle = np.mean([one.heat(60) for one in blocks])
    found = {}
    for number, one in enumerate(blocks):
        crown = one.crown[one.first_hour : one.first_hour + 24 * one.n_days]
        total = np.cumsum(np.clip(crown, BASE_C, cut).reshape(-1, 24).mean(axis=1) - BASE_C)
        day = float(np.searchsorted(total, REQUIREMENT[one.cultivar])) + 1.0
        late = {"S01": 2.0, "S02": 0.3, "S03": 0.6}[one.cultivar] * slope
        day += late * (one.heat(60) - middle) + scatter * rng.standard_normal()
        found[number] = (np.floor(day / 3.0) * 3.0, np.floor(day / 3.0) * 3.0 + 3.0)
    return found


def kept(rules):
    return [rule.name for rule in rules if rule.kept]


def test_a_heat_sum_beats_the_calendar_where_it_made_the_dates(blocks):
    rules = date_rules(blocks, made(blocks, np.inf))
    assert "one heat sum for each cultivar" in kept(rules)
    assert "a heat slope for each cultivar" not in kept(rules)
    assert rules[1].left_out_d < rules[0].left_out_d


def test_a_cut_off_is_earned_where_it_made_the_dates(blocks):
    assert "a common cut-off" in kept(date_rules(blocks, made(blocks, 24.0)))


def test_a_heat_slope_is_earned_where_it_made_the_dates(blocks):
    names = kept(date_rules(blocks, made(blocks, 24.0, slope=0.012)))
    assert "a heat slope for each cultivar" in names


def test_random_dates_earn_nothing(blocks):
    rng = np.random.default_rng(8)
    dates = {i: (float(d), float(d) + 3.0) for i, d in
             enumerate(rng.integers(60, 90, size=len(blocks)))}  # fmt: skip
    assert kept(date_rules(blocks, dates)) == ["calendar mean of each cultivar"]


def test_too_few_dates_are_refused(blocks):
    with pytest.raises(InputError, match="too few first picks"):
        date_rules(blocks, {0: (50.0, 53.0)})


def test_first_picks_are_read_off_weights_or_dates(blocks):
    found = first_pick_intervals(
        blocks[:2], np.array([0, 0, 0, 1]),
        np.array([MARKETABLE, MARKETABLE, MARKETABLE, FIRST_PICKED]),
        np.array([0.0, 50.5, 57.5, 60.0]), np.array([50.5, 57.5, 64.5, 67.0]),
        np.array([1.0, 1.5, 9.0, 67.0]),
    )  # fmt: skip
    assert found == {0: (57.5, 64.5), 1: (60.0, 67.0)}
