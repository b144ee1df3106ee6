"""Temperature response of Yan and Hunt (1999), Ann. Bot. 84:607-614.

The equation is recalled from memory; the values were computed from it by code independent of this
package, to six decimals, for an arbitrary optimum and ceiling (24, 35).
"""

from __future__ import annotations

import pytest

from phenocast.thermal_time import yan_hunt, yin_beta

VALUES = {
    1: 0.003011, 2: 0.01326, 5: 0.088999, 10: 0.336508, 15: 0.652056, 18: 0.825016, 20: 0.916093,
    24: 1, 26: 0.974304, 28: 0.890781, 30: 0.739635, 32: 0.510884, 34: 0.194377,
}  # fmt: skip


def test_values():
    assert yan_hunt(list(VALUES), 24, 35) == pytest.approx(list(VALUES.values()), abs=1e-6)


def test_is_a_power_of_the_beta_function_with_base_zero():
    # with the base at 0 both are the same curve: shape = optimum / (ceiling - optimum)
    t = [3.0, 12.0, 27.0, 33.0]
    assert yan_hunt(t, 24, 35) == pytest.approx(yin_beta(t, 0, 24, 35, 24 / 11), abs=1e-12)
