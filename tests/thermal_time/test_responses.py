from __future__ import annotations

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.thermal_time import trapezoid, wang_engel, yan_hunt, yin_beta

RESPONSES = {
    "wang_engel": lambda t: wang_engel(t, 2.0, 20.0, 33.0),
    "yin_beta": lambda t: yin_beta(t, 2.0, 20.0, 33.0, 1.7),
    "yan_hunt": lambda t: yan_hunt(t, 20.0, 33.0),
    "trapezoid": lambda t: trapezoid(t, 2.0, 18.0, 22.0, 33.0),
}


@pytest.mark.parametrize("response", RESPONSES.values(), ids=RESPONSES)
def test_ends_optimum_and_missing(response):
    got = response([-40.0, 0.0, 20.0, 33.0, 60.0, np.nan, np.inf])
    assert got[[0, 1, 3, 4, 6]].tolist() == [0.0] * 5
    assert got[2] == pytest.approx(1.0, abs=1e-12)
    assert np.isnan(got[5])


@pytest.mark.parametrize("response", RESPONSES.values(), ids=RESPONSES)
def test_rises_to_the_optimum_and_falls_from_it(response):
    t = np.linspace(0.0, 33.0, 661)
    got = response(t)
    assert np.all(np.diff(got[t <= 20.0]) >= -1e-15)
    assert np.all(np.diff(got[t >= 20.0]) <= 1e-15)


def test_trapezoid_is_linear_between_its_corners():
    got = trapezoid([7.5, 26.0, 32.0], 3.0, 12.0, 24.0, 34.0)
    assert got == pytest.approx([0.5, 0.8, 0.2])
    assert trapezoid([10.0, 15.0, 20.0], 5.0, 15.0, 15.0, 25.0) == pytest.approx([0.5, 1.0, 0.5])


def test_cardinals_broadcast():
    optimum = np.array([[16.0], [20.0]])
    got = wang_engel([16.0, 20.0, 24.0], 0.0, optimum, 30.0)
    assert got.shape == (2, 3)
    assert got[0, 0] == got[1, 1] == 1.0


def test_mean_response_is_not_the_response_of_the_mean():
    # a 10/30 degC day and a steady 20 degC have the same mean; the swing costs two thirds
    swing = np.mean(wang_engel([10.0, 30.0], 5.0, 20.0, 35.0))
    assert swing == pytest.approx(5 / 9)
    assert float(wang_engel(20.0, 5.0, 20.0, 35.0)) == 1.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: wang_engel(15.0, 20.0, 10.0, 30.0),
        lambda: wang_engel(15.0, 5.0, 30.0, 30.0),
        lambda: wang_engel(15.0, np.nan, 20.0, 30.0),
        lambda: wang_engel(15.0, [0.0, 25.0], 20.0, 30.0),
        lambda: yin_beta(15.0, 5.0, 40.0, 30.0),
        lambda: yin_beta(15.0, 5.0, 20.0, 30.0, 0.0),
        lambda: yan_hunt(15.0, 0.0, 30.0),
        lambda: yan_hunt(15.0, 31.0, 30.0),
        lambda: trapezoid(15.0, 5.0, 24.0, 20.0, 30.0),
        lambda: trapezoid(15.0, 5.0, 5.0, 20.0, 30.0),
    ],
)
def test_bad_order_of_cardinals_is_refused(call):
    with pytest.raises(InputError, match=r"not below|not above 0"):
        call()
