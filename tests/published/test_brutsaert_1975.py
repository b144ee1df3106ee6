"""Brutsaert, W. (1975). Water Resources Research 11:742-744: emissivity of a clear sky.

The formula was read in public documentation; the value at 20 degC and 1.2 kPa is computed from it.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.crown.atmosphere import clear_sky_emissivity, sky_longwave


def test_clear_sky_at_20_degc():
    air, vapour, sun = np.array([20.0]), np.array([1.2]), np.array([700.0])
    # Tolerance: rounding of the 1/7 power.
    assert clear_sky_emissivity(air, vapour) == pytest.approx([0.7855], abs=1e-3)
    assert sky_longwave(air, vapour, sun, sun) == pytest.approx([328.9], abs=0.5)


def test_measured_longwave_is_kept_and_only_gaps_are_estimated():
    air, vapour, sun = np.full(3, 20.0), np.full(3, 1.2), np.full(3, 700.0)
    measured = np.array([300.0, np.nan, 310.0])
    assert sky_longwave(air, vapour, sun, sun, measured) == pytest.approx(
        [300.0, 328.9, 310.0], abs=0.5
    )
