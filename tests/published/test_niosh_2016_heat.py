"""NIOSH (2016). Criteria for a recommended standard: occupational exposure to heat. 2016-106.

REL = 56.7 - 11.5 log10 M and RAL = 59.9 - 14.1 log10 M, as quoted by several programs that cite
section 8.1; the classes of M were read. Values below by hand from the equations, tolerance half of
their last digit. The document's own example (348.9 W: REL 27.8, RAL 25.0) is read off its figure,
0.3 to 1.0 degC from the equation; secondary. Time-weighting of rates is arithmetic.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.planning.labour.heat_stress import exposure_limit_c

RATES = np.array([115.0, 180.0, 300.0, 349.0, 415.0, 520.0])


def test_recommended_exposure_limit():
    found = exposure_limit_c(RATES, acclimatised=True)
    assert found == pytest.approx([33.00, 30.76, 28.21, 27.46, 26.59, 25.47], abs=0.0055)


def test_recommended_alert_limit():
    found = exposure_limit_c(RATES, acclimatised=False)
    assert found == pytest.approx([30.84, 28.10, 24.97, 24.05, 22.99, 21.60], abs=0.0055)


def test_example_read_off_the_figure_lies_as_near_as_the_figure_allows():
    assert exposure_limit_c(348.9, acclimatised=True) == pytest.approx(27.8, abs=0.4)
    assert exposure_limit_c(348.9, acclimatised=False) == pytest.approx(25.0, abs=1.0)


def test_people_who_are_not_acclimatised_have_the_lower_limit():
    assert np.all(
        exposure_limit_c(RATES, acclimatised=False) < exposure_limit_c(RATES, acclimatised=True)
    )
