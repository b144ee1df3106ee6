"""Campbell, G.S. (1985). Soil Physics with BASIC. Elsevier, chapter 4: thermal conductivity.

The equation was seen as quoted in public code; the values are computed from it by hand.
"""

from __future__ import annotations

import pytest

from phenocast.crown.soil import damping_depth, soil_conductivity, soil_heat_capacity

# bulk density, clay, water, conductivity, damping depth of the day. Tolerance: last digit given.
ROWS = [
    (1.55, 0.03, 0.05, 0.56, 0.099),
    (1.55, 0.03, 0.10, 1.05, 0.128),
    (1.55, 0.03, 0.20, 1.21, 0.123),
    (1.45, 0.10, 0.05, 0.34, 0.080),
    (1.45, 0.10, 0.15, 1.00, 0.120),
    (1.45, 0.10, 0.25, 1.16, 0.118),
    (1.30, 0.18, 0.25, 0.99, 0.112),
]


@pytest.mark.parametrize(("density", "clay", "water", "conductivity", "depth"), ROWS)
def test_conductivity_and_damping_depth(density, clay, water, conductivity, depth):
    k = soil_conductivity(density, clay, water)
    assert k == pytest.approx(conductivity, abs=0.01)
    assert damping_depth(k, soil_heat_capacity(density, 0.0, water)) == pytest.approx(
        depth, abs=0.001
    )
