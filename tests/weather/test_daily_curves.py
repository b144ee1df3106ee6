"""What must be true of every curve from daily extremes to hours."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from phenocast.errors import InputError
from phenocast.weather import CURVES, DEFAULT_CURVE, hours_from_extremes

FINE = np.arange(0.0, 24.0, 1.0 / 120.0)
# Curves of Parton and Logan decay toward the next minimum and jump to it when the day begins.
DECAYING = ("parton-logan", "wann-yen-gold")

lows = arrays(np.float64, 6, elements=st.floats(-15.0, 25.0))
spans = arrays(np.float64, 6, elements=st.floats(0.0, 25.0))
day_lengths = st.floats(8.0, 18.0)
noons = st.floats(11.0, 13.5)


def fine(low, high, length, noon, curve):
    return hours_from_extremes(
        low, high, noon - length / 2.0, noon + length / 2.0, curve=curve, clock_h=FINE
    )


@pytest.mark.parametrize("curve", CURVES)
@given(low=lows, span=spans, length=day_lengths, noon=noons)
def test_no_overshoot(curve, low, span, length, noon):
    made = fine(low, low + span, length, noon, curve)
    assert made.min() >= low.min() - 1e-9
    assert made.max() <= (low + span).max() + 1e-9
    # a day stays within its own extremes and the mornings around it
    for day in range(1, 5):
        around = np.append(
            low[day - 1 : day + 2], [low[day] + span[day], low[day - 1] + span[day - 1]]
        )
        assert made[day].min() >= around.min() - 1e-9
        assert made[day].max() <= around.max() + 1e-9


@pytest.mark.parametrize("curve", CURVES)
@given(low=st.floats(-15.0, 25.0), span=st.floats(0.5, 25.0), length=day_lengths, noon=noons)
def test_equal_days_reach_both_extremes_and_their_mean_lies_between(curve, low, span, length, noon):
    made = fine(np.full(3, low), np.full(3, low + span), length, noon, curve)[1]
    step = 0.01 * span  # how far the curve may move between two points of the grid
    assert made.max() == pytest.approx(low + span, abs=step)
    assert made.min() == pytest.approx(low, abs=step)
    assert low + 0.2 * span < made.mean() < low + 0.8 * span


@pytest.mark.parametrize("curve", CURVES)
@given(low=lows, span=spans, length=day_lengths, noon=noons)
def test_continuous_over_sunset_and_midnight(curve, low, span, length, noon):
    made = fine(low, low + span, length, noon, curve).reshape(-1)
    jump = np.abs(np.diff(made))
    clock = np.tile(FINE, 6)[1:]
    begins = noon - length / 2.0 + CURVES[curve].minimum_after_sunrise_h
    if curve in DECAYING:
        jump = jump[np.abs(clock - begins) > 0.02]
    # 30 s at the steepest place: the square root after sunset, the logarithm an hour later
    assert jump.max() <= 0.1 * max(float((low + span).max() - low.min()), 1e-9)


def test_the_default_jumps_at_dawn_by_a_ninth_of_the_night_as_published():
    made = fine(np.full(3, 10.0), np.full(3, 30.0), 12.0, 12.0, "parton-logan").reshape(-1)
    at_sunset = 10.0 + 20.0 * np.sin(np.pi * 12.17 / 15.72)
    assert np.abs(np.diff(made)).max() == pytest.approx(
        (at_sunset - 10.0) * np.exp(-2.2 * 11.83 / 12.0), abs=0.02
    )


@pytest.mark.parametrize("curve", CURVES)
def test_a_flat_day_is_flat(curve):
    made = fine(np.full(4, 12.0), np.full(4, 12.0), 13.0, 12.0, curve)
    assert np.all(np.abs(made - 12.0) < 1e-12)


@pytest.mark.parametrize("curve", CURVES)
@pytest.mark.parametrize("length", [0.0, 1.0, 3.9, 4.0, 22.0, 23.5, 24.0])
def test_polar_days_and_nights_stay_within_the_extremes(curve, length):
    made = fine(np.full(5, -3.0), np.full(5, 4.0), length, 12.0, curve)
    assert np.isfinite(made).all()
    assert made.min() >= -3.0 - 1e-9
    assert made.max() == pytest.approx(4.0, abs=0.05)


@pytest.mark.parametrize("curve", CURVES)
def test_years_on_leading_axes_are_each_made_alone(curve):
    rng = np.random.default_rng(3)
    low = rng.uniform(0.0, 10.0, (3, 2, 20))
    high = low + rng.uniform(2.0, 15.0, low.shape)
    rise, fall = np.linspace(6.5, 6.0, 20), np.linspace(17.5, 18.0, 20)
    together = hours_from_extremes(low, high, rise, fall, curve=curve)
    assert together.shape == (3, 2, 20, 24)
    alone = hours_from_extremes(low[1, 1], high[1, 1], rise, fall, curve=curve)
    assert np.array_equal(together[1, 1], alone)


@pytest.mark.parametrize("curve", CURVES)
def test_warmer_extremes_shift_the_hours_by_as_much(curve):
    low, high = np.array([5.0, 8.0, 3.0]), np.array([15.0, 21.0, 9.0])
    one = hours_from_extremes(low, high, 6.0, 18.0, curve=curve)
    assert hours_from_extremes(low + 4.0, high + 4.0, 6.0, 18.0, curve=curve) == pytest.approx(
        one + 4.0
    )


def test_a_missing_day_is_missing_alone():
    low = np.array([5.0, 6.0, np.nan, 7.0, 5.0])
    made = hours_from_extremes(low, low + 10.0, 6.0, 18.0)
    assert np.isnan(made[2]).any()
    assert np.isfinite(made[[0, 4]]).all()


def test_a_minimum_above_the_maximum_is_refused_with_its_day():
    with pytest.raises(InputError, match=r"day 1: .*25\.0 above 20\.0"):
        hours_from_extremes([5.0, 25.0], [20.0, 20.0], 6.0, 18.0)


def test_an_unknown_curve_is_refused_with_the_nearest():
    with pytest.raises(InputError, match="did you mean 'linvill'"):
        hours_from_extremes([5.0], [20.0], 6.0, 18.0, curve="linvil")
    assert DEFAULT_CURVE in CURVES
