from __future__ import annotations

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.thermal_time import crossing_time, prefix_sums, value_at


def test_sums_add_over_splits():
    rate = np.random.default_rng(1).random((3, 40))
    sums = prefix_sums(rate, step=0.5)
    assert sums[:, -1] == pytest.approx(rate.sum(axis=1) * 0.5)
    assert sums[:, 25] - sums[:, 10] == pytest.approx(rate[:, 10:25].sum(axis=1) * 0.5)


def test_crossing_is_where_the_sum_is():
    sums = prefix_sums([0.0, 3.0, 0.0, 0.0, 5.0])
    need = np.array([0.0, 1.0, 3.0, 3.5, 8.0, 8.1])
    times = crossing_time(sums, need)
    assert times == pytest.approx([0.0, 4 / 3, 2.0, 4.1, 5.0, np.nan], nan_ok=True)
    assert value_at(sums, times[:5]) == pytest.approx(need[:5])


def test_crossing_from_a_later_start():
    sums = prefix_sums([2.0, 2.0, 0.0, 4.0])
    got = crossing_time(sums, 2.0, start=[0.0, 0.5, 2.0, 3.5, 9.0])
    assert got == pytest.approx([1.0, 1.5, 3.5, 4.0, np.nan], nan_ok=True)


def test_requirement_of_nothing_is_met_at_once():
    sums = prefix_sums([0.0, 0.0, 1.0])
    assert crossing_time(sums, 0.0, start=[0.0, 1.5, 3.0]).tolist() == [0.0, 1.5, 3.0]


def test_no_time_at_all():
    assert float(crossing_time([0.0], 0.0)) == 0.0
    assert np.isnan(crossing_time([0.0], 1.0))


@pytest.mark.parametrize(
    ("sums", "need", "text"),
    [([0.0, 2.0, 1.0], 1.0, "fall"), ([0.0, np.nan], 1.0, "missing"), ([0.0, 1.0], -1.0, "negat")],
)
def test_refusals(sums, need, text):
    with pytest.raises(InputError, match=text):
        crossing_time(sums, need)
