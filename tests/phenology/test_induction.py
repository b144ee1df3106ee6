from __future__ import annotations

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.phenology.induction import (
    critical_photoperiod,
    long_day_dependence,
    photoperiod_response_long_day_promoted,
    photoperiod_response_short_day,
    share_induced,
)

KNOTS = (9.0, 15.0, 23.0, 28.0, 0.5)


def test_critical_photoperiod_stays_put_outside_the_chambers():
    got = critical_photoperiod([0.0, 9.0, 18.0, 24.0, 35.0], 13.25, 0.45)
    assert got == pytest.approx([17.3, 17.3, 13.25, 10.55, 10.55])


def test_short_days_induce_and_warmth_narrows_them():
    p = np.linspace(8.0, 24.0, 161)
    cool = photoperiod_response_short_day(p, 12.0, 13.25, 0.45, 0.4)
    warm = photoperiod_response_short_day(p, 22.0, 13.25, 0.45, 0.4)
    assert np.all(np.diff(cool) <= 0)
    assert np.all(warm <= cool)
    assert cool[0] > 0.999
    assert cool[-1] < 1e-6


def test_far_from_the_transition_nothing_overflows():
    with np.errstate(all="raise"):
        got = photoperiod_response_short_day([0.0, 24.0], 18.0, 12.0, 0.4, 0.001)
    assert got.tolist() == [1.0, 0.0]


def test_day_neutral_is_neutral_when_cool_and_needs_long_days_when_hot():
    # flowers in 8 h and 24 h at 20/15 and 25/20 degC, more in 24 h; none in 8 to 12 h at 30/25
    short = photoperiod_response_long_day_promoted(8.0, [8.0, 17.5, 22.5, 30.0], 13.5, 0.35, *KNOTS)
    long = photoperiod_response_long_day_promoted(24.0, [8.0, 17.5, 22.5, 30.0], 13.5, 0.35, *KNOTS)
    assert long == pytest.approx(1.0)
    assert short == pytest.approx([1.0, 0.5, 0.5, 0.0], abs=1e-6)


def test_dependence_is_continuous_and_rises():
    t = np.linspace(0.0, 40.0, 4001)
    k = long_day_dependence(t, *KNOTS)
    assert np.all(np.diff(k) >= 0)
    assert np.max(np.diff(k)) < 0.0011


def test_share_follows_the_normal_table():
    got = share_induced(16.0 + 0.3 * 16.0 * np.array([-1.959964, 0.0, 1.644854]), 16.0, 0.3)
    assert got == pytest.approx([0.025, 0.5, 0.95], abs=1e-6)


def test_missing_passes_through():
    assert np.isnan(photoperiod_response_short_day(np.nan, 18.0, 13.0, 0.4, 0.4))
    assert np.isnan(photoperiod_response_long_day_promoted(9.0, np.nan, 13.5, 0.35, *KNOTS))
    assert np.isnan(share_induced(np.nan, 16.0, 0.3))


@pytest.mark.parametrize(
    "call",
    [
        lambda: photoperiod_response_short_day(10.0, 18.0, 13.0, 0.4, 0.0),
        lambda: photoperiod_response_long_day_promoted(10.0, 18.0, 13.5, -1.0, *KNOTS),
        lambda: long_day_dependence(18.0, 15.0, 9.0, 23.0, 28.0, 0.5),
        lambda: long_day_dependence(18.0, 9.0, 15.0, 23.0, 28.0, 1.5),
        lambda: share_induced(1.0, 0.0, 0.3),
        lambda: share_induced(1.0, 16.0, 0.0),
    ],
)
def test_refusals(call):
    with pytest.raises(InputError):
        call()
