"""Eight parallel trials of coaching: the pooled effect, and no sign that the trials differ.

Rubin (1981), Estimation in parallel randomized experiments, J. Educ. Stat. 6:377-401; effects and
standard errors recalled from memory. Mean, its error and Q computed by code independent of this
package. Tolerance: half of the last digit given.
"""

from __future__ import annotations

import pytest

from phenocast.calibration import partial_pooling

EFFECTS = [28, 8, -3, 7, -1, 1, 18, 12]
ERRORS = [15, 10, 16, 11, 9, 11, 10, 18]


def test_pooled_effect():
    found = partial_pooling(EFFECTS, ERRORS)
    assert found.mean == pytest.approx(7.6856, abs=5e-5)
    assert found.mean_error == pytest.approx(4.0719, abs=5e-5)
    assert found.q == pytest.approx(4.7071, abs=5e-5)
    assert found.df == 7
    # Q below its degrees of freedom: complete pooling
    assert found.between_variance == 0.0
    assert found.estimates == pytest.approx([found.mean] * 8)
