"""Many numbers rounded at once: what one by one gives, to the last bit, and plain already."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.io import plain_data
from phenocast.planning.comparison.digest import level_rows, plain, printed

# Numbers of all sizes, and those that lie in the middle of two decimals or a bit beside it.
MIDDLES = st.builds(
    lambda whole, places, side: float(np.nextafter((whole + 0.5) / 10.0**places, side)),
    st.integers(-(10**7), 10**7), st.integers(0, 4), st.sampled_from([-np.inf, 0.0, np.inf]),
)  # fmt: skip
NUMBERS = MIDDLES | st.floats(-1e7, 1e7) | st.floats() | st.integers(-999, 999).map(
    lambda whole: whole / 8.0  # exactly in the middle, at two places
)  # fmt: skip


@given(st.lists(NUMBERS, max_size=12), st.integers(0, 4))
def test_rounded_at_once_is_rounded_one_by_one(values: list[float], digits: int) -> None:
    found = printed(np.array(values, dtype=float), digits)
    wanted = [round(one, digits) if math.isfinite(one) else one for one in values]
    assert list(map(repr, found)) == list(map(repr, plain_data(wanted)))


@given(st.lists(NUMBERS, max_size=12), st.integers(0, 4))
def test_rounded_by_numpy_is_plain_as_the_document_makes_it(
    values: list[float], digits: int
) -> None:
    with np.errstate(over="ignore", invalid="ignore"):
        table = np.array([values], dtype=float).round(digits)
    assert list(map(repr, plain(table, digits)[0])) == list(map(repr, plain_data(table)[0]))


def test_levels_have_their_names_row_by_row() -> None:
    rows = level_rows(np.array([[0.26, 1.0, 2.0], [-0.04, np.inf, 3.14]]), 1)
    assert rows == [{"p10": 0.3, "p50": 1.0, "p90": 2.0}, {"p10": 0.0, "p50": None, "p90": 3.1}]


def test_an_array_of_any_depth_keeps_its_shape() -> None:
    deep = np.full((2, 3, 4), 1e12 / 7.0)
    assert printed(deep, 2) == np.full((2, 3, 4), 142857142900.0).tolist()
    assert printed(np.zeros((0, 3)), 2) == []
    assert printed(np.float64(2.5) * np.ones(1), 0) == pytest.approx([2.0])
