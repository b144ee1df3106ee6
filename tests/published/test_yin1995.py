"""Beta response of Yin, Kropff, McLaren and Visperas (1995), Agric. For. Meteorol. 77:1-16.

The equation was read in a transcription, its form normalised to 1 at the optimum is recalled from
memory. The optimum of r = e^mu (T - Tb)^a (Tc - T)^b is (a Tc + b Tb)/(a + b) (recalled): the
normalised form is checked against that unnormalised one, which shares no code with it.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.thermal_time import yin_beta


@pytest.mark.parametrize(("alpha", "beta"), [(1.0, 1.0), (2.1, 0.7), (0.8, 1.3)])
def test_normalised_form_is_the_published_one_over_its_greatest_value(alpha, beta):
    base, ceiling = 8.0, 42.0
    optimum = (alpha * ceiling + beta * base) / (alpha + beta)
    t = np.linspace(base + 0.1, ceiling - 0.1, 200)
    rate = (t - base) ** alpha * (ceiling - t) ** beta
    greatest = (optimum - base) ** alpha * (ceiling - optimum) ** beta
    assert yin_beta(t, base, optimum, ceiling, alpha) == pytest.approx(rate / greatest, rel=1e-10)


def test_values_with_shape_one():
    # computed by code independent of this package, six decimals
    got = yin_beta([5, 10, 15, 18, 24, 30, 34], 5, 20, 35)
    expected = [0, 0.555556, 0.888889, 0.982222, 0.928889, 0.555556, 0.128889]
    assert got == pytest.approx(expected, abs=1e-6)
