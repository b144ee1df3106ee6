"""Jacobs, A.F.G., Heusinkveld, B.G. and Holtslag, A.A.M. (2011). Agric. For. Meteorol., abstract.

27 years under grass: damping depth 0.10 m for the day and 1.80 m for the year (read in the
abstract). Theory: their ratio is sqrt(365.25) = 19.1 in any uniform soil.
"""

from __future__ import annotations

import pytest

from phenocast.crown.soil import damping_depth


def test_year_over_day_and_the_size_of_a_loam():
    day = damping_depth(1.0, 2.0e6)
    year = damping_depth(1.0, 2.0e6, period_h=24 * 365.25)
    # Tolerance 10 %: a real profile is not uniform (18 was measured).
    assert year / day == pytest.approx(18.0, rel=0.10)
    # The shipped default soil lies near the measured grassland: 20 %, another soil and moisture.
    assert day == pytest.approx(0.10, rel=0.20)


def test_worked_example_of_a_diurnal_wave():
    # Public essay on ground temperature: kappa 0.4e-6 gives D 0.105 m; 10 degC at the surface is
    # 1.5 degC at 20 cm, 7.3 h late. Tolerance 2 %, the digits given.
    import math

    depth = float(damping_depth(0.4, 1.0e6))
    assert depth == pytest.approx(0.105, rel=0.02)
    assert 10 * math.exp(-0.20 / depth) == pytest.approx(1.5, rel=0.02)
    assert 0.20 / depth * 24 / (2 * math.pi) == pytest.approx(7.3, rel=0.02)
