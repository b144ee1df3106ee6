"""The two readings of the average formula for growing degree-days.

McMaster and Wilhelm (1997), Agric. For. Meteorol. 87:291-300: "Growing degree-days: one equation,
two interpretations". The abstract was read; the days below were worked from its two definitions by
hand (base 10, upper 30 degC). Exact.
"""

from __future__ import annotations

import pytest

from phenocast.thermal_time import degree_days


@pytest.mark.parametrize(
    ("low", "high", "first", "second"), [(2, 18, 0.0, 4.0), (5, 15, 0.0, 2.5), (12, 34, 13.0, 11.0)]
)
def test_interpretations_differ_where_an_extreme_passes_a_threshold(low, high, first, second):
    assert float(degree_days(low, high, 10, method="average-1")) == first
    got = degree_days(low, high, 10, 30, method="average-2", cutoff="horizontal")
    assert float(got) == second


def test_interpretations_agree_between_the_thresholds():
    one = degree_days(12, 28, 10, method="average-1")
    other = degree_days(12, 28, 10, 30, method="average-2", cutoff="horizontal")
    assert float(one) == float(other) == 10.0
