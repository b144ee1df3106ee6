"""Stress indices of three genotypes: yields 10, 8, 5 without stress and 7, 5, 3 under it.

The pairs of yields were read in a public example of these indices; the expected values were
computed from the published formulas by code independent of this package. SSI: Fischer and Maurer
(1978), Aust. J. Agric. Res. 29:897-912. STI and GMP: Fernandez (1992), AVRDC, 257-270. Tolerance:
half of the last digit given.
"""

from __future__ import annotations

import pytest

from phenocast.calibration import heat_indices


def test_susceptibility_and_tolerance():
    found = heat_indices(mild=[10.0, 8.0, 5.0], hot=[7.0, 5.0, 3.0])
    assert found.intensity == pytest.approx(0.34783, abs=5e-6)
    assert found.ssi == pytest.approx([0.8625, 1.0781, 1.15], abs=5e-5)
    assert found.sti == pytest.approx([1.1909, 0.6805, 0.2552], abs=5e-5)
    assert found.gmp == pytest.approx([8.3666, 6.3246, 3.8730], abs=5e-5)
