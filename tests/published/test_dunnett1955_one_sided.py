"""One-sided 5 % points for comparing several treatments with a control.

Dunnett (1955), A multiple comparison procedure for comparing several treatments with a control,
J. Amer. Stat. Assoc. 50:1096-1121, table 1a (joint coverage 0.95); recalled from memory. With one
comparison the values are those of Student's t. Tolerance: half of the last digit given.
"""

from __future__ import annotations

import math

import pytest

from phenocast.calibration import dunnett_one_sided

TABLE = {
    5: (2.02, 2.44, 2.68, 2.85, 2.98),
    10: (1.81, 2.15, 2.34, 2.47, 2.56),
    20: (1.72, 2.03, 2.19, 2.30, 2.39),
    math.inf: (1.64, 1.92, 2.06, 2.16, 2.23),
}


@pytest.mark.parametrize("df", TABLE)
def test_table_of_critical_values(df):
    found = [dunnett_one_sided(comparisons, df) for comparisons in range(1, 6)]
    assert found == pytest.approx(TABLE[df], abs=5e-3)
