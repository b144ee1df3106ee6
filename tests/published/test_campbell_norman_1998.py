"""Campbell, G.S. and Norman, J.M. (1998). An Introduction to Environmental Biophysics. Springer.

The equations were seen as quoted in public code, not in the book; the numbers are computed from
them by hand, so these tests guard constants and units.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.crown.atmosphere import clear_sky_emissivity, leaf_conductance, sky_longwave
from phenocast.crown.soil import soil_heat_capacity


def test_heat_conductance_of_a_leaf_in_the_field():
    # eq. 7.30 with 1.4 for outdoor turbulence (section 7.13): u 1 m/s, d 0.75 m gives
    # 0.2182 mol m-2 s-1; times 29.3 J mol-1 K-1. Tolerance: the digits given.
    assert leaf_conductance(np.array(1.0), 0.75) == pytest.approx(6.39, rel=1e-3)


def test_cloud_brings_the_sky_toward_a_black_body():
    # section 10.2: eps = eps_clear (1 - 0.84 c) + 0.84 c. Half the clear-sky sun is c = 0.5:
    # 0.7855 x 0.58 + 0.42 = 0.8756; under full cloud 0.9657. Tolerance: the digits of 0.7855.
    air, vapour, clear = np.array([20.0]), np.array([1.2]), np.array([800.0])
    black = 5.670374e-8 * 293.15**4
    assert clear_sky_emissivity(air, vapour) == pytest.approx([0.7855], abs=1e-4)
    half = sky_longwave(air, vapour, 0.5 * clear, clear)
    full = sky_longwave(air, vapour, 0.0 * clear, clear)
    assert half / black == pytest.approx([0.8756], abs=2e-4)
    assert full / black == pytest.approx([0.9657], abs=2e-4)


@pytest.mark.parametrize(
    ("density", "water", "capacity"),
    [
        (1.55, 0.05, 1.56),
        (1.55, 0.20, 2.19),
        (1.45, 0.15, 1.89),
        (1.45, 0.25, 2.31),
        (1.30, 0.25, 2.18),
    ],
)
def test_heat_capacity_of_mineral_soils(density, water, capacity):
    # chapter 8, minerals 0.87 J g-1 K-1, water 4.18: recalled from memory. Tolerance: last digit.
    assert soil_heat_capacity(density, 0.0, water) / 1e6 == pytest.approx(capacity, abs=0.01)
