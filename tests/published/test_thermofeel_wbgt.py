"""Liljegren et al. (2008), J. Occup. Environ. Hyg. 5:645-655, as computed by thermofeel 2.3.0.

A table made once with that library (10 m wind, 1013.25 hPa); tolerance 0.01 degC, its digits. It
guards our handing over of units and of wind, not the model.
"""

from __future__ import annotations

import numpy as np
import pytest
import thermofeel

from phenocast.planning.labour.heat_stress import wbgt_c

# air, humidity, wind at 10 m, solar, cosine of the zenith angle, direct share, WBGT
CASES = [
    (25.0, 50.0, 2.0, 800.0, 0.90, 0.75, 24.85),
    (30.0, 50.0, 2.0, 800.0, 0.90, 0.75, 29.00),
    (30.0, 70.0, 2.0, 800.0, 0.90, 0.75, 31.34),
    (35.0, 40.0, 3.0, 900.0, 0.95, 0.80, 31.20),
    (35.0, 60.0, 1.0, 900.0, 0.95, 0.80, 36.33),
    (22.0, 60.0, 3.0, 400.0, 0.50, 0.50, 21.23),
]


@pytest.mark.parametrize(("air", "humidity", "wind", "solar", "cosine", "direct", "wbgt"), CASES)
def test_outdoor_cases(air, humidity, wind, solar, cosine, direct, wbgt):
    low = thermofeel.calculate_wind_speed_2m_liljegren(
        np.array([wind]), np.array([cosine]), np.array([solar])
    )
    found = wbgt_c([air], [humidity], low, [solar], [direct], [cosine])
    assert found == pytest.approx([wbgt], abs=0.01)


def test_night():
    low = thermofeel.calculate_wind_speed_2m_liljegren(
        np.array([1.0]), np.array([-0.1]), np.array([0.0])
    )
    found = wbgt_c([28.0], [85.0], low, [0.0], [0.0], [-0.1])
    assert found == pytest.approx([26.39], abs=0.02)  # the table does not give the sun's angle
