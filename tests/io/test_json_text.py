"""JSON text: what it holds, how its lines are laid out, and its numbers."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.io import plain_data, plain_to_json, to_json

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**12), 10**12) | st.text(max_size=5)
    | st.floats(-1e6, 1e6).map(lambda value: round(value, 3) + 0.0),
    lambda inner: st.lists(inner, max_size=4)
    | st.dictionaries(st.text(max_size=5), inner, max_size=4),
    max_leaves=30,
)  # fmt: skip


@given(PLAIN)
def test_the_text_holds_what_it_was_made_of(value: object) -> None:
    assert json.loads(to_json(value)) == value
    assert plain_to_json(plain_data(value)) == to_json(value)


def test_four_levels_are_indented_and_a_deeper_row_is_one_line() -> None:
    text = to_json({"all": [{"weekly": [{"week": "W1", "g": [1.0, 2.0]}, {}], "never": []}]})
    assert text.splitlines() == [
        "{",
        '  "all": [',
        "    {",
        '      "never": [],',
        '      "weekly": [',
        '        {"g": [1.0, 2.0], "week": "W1"},',
        "        {}",
        "      ]",
        "    }",
        "  ]",
        "}",
    ]


BREAKS = st.recursive(
    st.sampled_from(["\n", '"\n"', ', "\n", ', "\\n", 1.5]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.just("\n"), inner),
    max_leaves=12,
)


@given(st.lists(BREAKS, max_size=6))
def test_rows_of_line_breaks_are_cut_where_they_end(rows: list[object]) -> None:
    # Rows are told apart by a line break between them, which may be what they hold themselves.
    text = plain_to_json({"a": {"b": {"c": rows}}})
    assert json.loads(text) == {"a": {"b": {"c": rows}}}
    assert len(text.splitlines()) == (7 if not rows else 8 + len(rows))


def test_what_says_that_it_is_plain_is_taken_as_it_is() -> None:
    class Plain(list[object]):
        is_plain_data = True

    rows = Plain([{"x": 0.12345678901234}])
    assert plain_data({"rows": rows})["rows"] is rows
    assert to_json({"rows": rows}) == plain_to_json({"rows": list(rows)})


@given(st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(10**11), 10**11).map(
    lambda whole: np.nextafter(whole / 1e4, whole)
))  # fmt: skip
def test_a_number_is_the_nearest_of_ten_significant_digits(value: float) -> None:
    for given_as in (float(value), np.float64(value)):
        found = plain_data(given_as)
        assert type(found) is float
        assert repr(found) == repr(float(f"{value:.10g}") + 0.0)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), object()])
def test_what_is_not_plain_is_refused(value: object) -> None:
    with pytest.raises((TypeError, ValueError)):
        plain_to_json({"x": value})
