"""Temperature response of Wang and Engel (1998), Agric. Syst. 58:1-24.

The equation was read in a transcription; the values were computed from it by code independent of
this package, to six decimals, for arbitrary cardinal temperatures (0, 24, 35) and (5, 20, 35).
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.thermal_time import wang_engel, yin_beta

TEMPERATURES = [5, 10, 15, 18, 20, 24, 26, 28, 30, 32, 34]
FIRST = [
    0.108929, 0.360342, 0.665566, 0.831473, 0.918987, 1, 0.974905, 0.892830, 0.743214, 0.515009,
    0.196687,
]  # fmt: skip
SECOND = [
    0, 0.555556, 0.888889, 0.982222, 1, 0.928889, 0.840000, 0.715556, 0.555556, 0.360000, 0.128889,
]  # fmt: skip


def test_values():
    assert wang_engel(TEMPERATURES, 0, 24, 35) == pytest.approx(FIRST, abs=1e-6)
    assert wang_engel(TEMPERATURES, 5, 20, 35) == pytest.approx(SECOND, abs=1e-6)


def test_is_a_parabola_where_the_optimum_is_in_the_middle():
    # there the exponent is 1, and the beta function of Yin et al. with shape 1 is the same curve
    t = np.linspace(-5, 45, 501)
    assert wang_engel(t, 5, 20, 35) == pytest.approx(yin_beta(t, 5, 20, 35), abs=1e-12)
    inside = (t > 5) & (t < 35)
    assert wang_engel(t, 5, 20, 35)[inside] == pytest.approx(1 - ((t[inside] - 20) / 15) ** 2)
