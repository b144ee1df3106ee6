"""Hours from daily extremes: published single values, and vectors of the published equations.

Published value (read in a public implementation's manual): Cesaraccio et al. (2001), 8 h, sunrise
6 h, sunset 18 h, 30/10 degC and 12 degC next morning: 17.65367 degC; tolerance its last digit.

Vectors: computed from the equations, by code independent of this package, for equal days of 10
and 30 degC with sunrise at 6 and sunset at 18 h. Equations of Parton and Logan (1981, with 1.86,
2.20, -0.17, form with D + 2a), Linvill (1990) and Cesaraccio et al. (2001) as read in public code;
of Goudriaan and van Laar (1994) and de Wit et al. (1978) recalled from memory. Four decimals.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.weather import CURVES, hours_from_extremes

VECTORS = {
    "parton-logan": [
        14.3368,
        13.6103,
        13.0056,
        12.5021,
        12.0830,
        11.7341,
        10.6793,
        14.6339,
        18.4040,
        21.8396,
        24.8039,
        27.1789,
        28.8701,
        29.8102,
        29.9616,
        29.3185,
        27.9064,
        25.7815,
        23.0284,
        20.8460,
        19.0292,
        17.5167,
        16.2576,
        15.2094,
    ],
    "linvill": [
        13.9448,
        13.0675,
        12.3076,
        11.6373,
        11.0376,
        10.4952,
        10.0000,
        13.9018,
        17.6537,
        21.1114,
        24.1421,
        26.6294,
        28.4776,
        29.6157,
        30.0000,
        29.6157,
        28.4776,
        26.6294,
        24.1421,
        24.1421,
        20.1973,
        17.8897,
        16.2524,
        14.9825,
    ],
    "goudriaan-van-laar": [
        12.1445,
        11.5339,
        11.0584,
        10.6880,
        10.3996,
        10.1749,
        10.0000,
        14.1582,
        18.1347,
        21.7557,
        24.8629,
        27.3205,
        29.0211,
        29.8904,
        29.8904,
        29.0211,
        27.3205,
        24.8629,
        21.7557,
        19.0191,
        16.8878,
        15.2280,
        13.9353,
        12.9286,
    ],
    "cosine": [
        16.1732,
        14.4443,
        12.9289,
        11.6853,
        10.7612,
        10.1921,
        10.0000,
        10.7612,
        12.9289,
        16.1732,
        20.0000,
        23.8268,
        27.0711,
        29.2388,
        30.0000,
        29.8079,
        29.2388,
        28.3147,
        27.0711,
        25.5557,
        23.8268,
        21.9509,
        20.0000,
        18.0491,
    ],
    "cesaraccio-tm": [
        13.5733,
        12.8821,
        12.2387,
        11.6345,
        11.0630,
        10.5194,
        10.0000,
        13.9018,
        17.6537,
        21.1114,
        24.1421,
        26.6294,
        28.4776,
        29.6157,
        30.0000,
        29.4063,
        27.7154,
        25.1849,
        22.2000,
        18.6782,
        17.2194,
        16.1000,
        15.1563,
        14.3249,
    ],
}


@pytest.mark.parametrize("curve", VECTORS)
def test_equal_days(curve):
    made = hours_from_extremes(
        [10.0] * 3, [30.0] * 3, 6.0, 18.0, curve=curve, clock_h=np.arange(24)
    )
    for day in made:
        assert day == pytest.approx(VECTORS[curve], abs=6e-5)


def test_cesaraccio_single_value():
    made = hours_from_extremes(
        [10.0, 12.0], [30.0, 30.0], 6.0, 18.0, curve="cesaraccio-tm", clock_h=[8.0]
    )
    assert made[0, 0] == pytest.approx(17.65367, abs=5e-6)


def test_the_curve_of_five_carolina_sites_has_its_maximum_where_the_paper_puts_it():
    # Wann, Yen and Gold (1985): a = 2.59 h after solar noon, minimum c = 1.55 h after sunrise
    clock = np.arange(0.0, 24.0, 0.01)
    made = hours_from_extremes(
        [10.0] * 3, [30.0] * 3, 6.0, 18.0, curve="wann-yen-gold", clock_h=clock
    )[1]
    assert clock[np.argmax(made)] == pytest.approx(12.0 + 2.59, abs=0.011)
    assert clock[np.argmin(made)] == pytest.approx(6.0 + 1.55, abs=0.011)


def test_degree_days_of_one_day_differ_by_an_eighth_between_curves():
    # mean of a day and degree-days (base 10, cap 25), computed as the vectors with fine steps;
    # three decimals printed, 0.005 for the size of the steps
    printed = {
        "parton-logan": (19.956, 8.960),
        "linvill": (19.854, 8.840),
        "goudriaan-van-laar": (18.849, 7.899),
        "cosine": (20.000, 8.910),
        "cesaraccio-tm": (19.138, 8.217),
    }
    assert set(printed) < set(CURVES)
    for curve, (mean, heat) in printed.items():
        fine = hours_from_extremes(
            [10.0] * 3, [30.0] * 3, 6.0, 18.0, curve=curve, clock_h=np.arange(0.005, 24.0, 0.01)
        )[1]
        assert fine.mean() == pytest.approx(mean, abs=0.005)
        assert (np.clip(fine, 10.0, 25.0) - 10.0).mean() == pytest.approx(heat, abs=0.005)
