"""Columns stay aligned and narrow whatever a name is made of."""

import re

from hypothesis import given
from hypothesis import strategies as st

from phenocast.report.columns import places, plain, wrapped
from phenocast.report.parts import Table
from phenocast.report.render import table_lines

ANY_TEXT = st.text(max_size=400)


@given(ANY_TEXT, st.integers(3, 100))
def test_plain_text_fits_and_steers_nothing(text, width):
    shown = plain(text, width)
    assert places(shown) <= width
    assert not any(ord(letter) < 32 or 127 <= ord(letter) < 160 for letter in shown)
    assert len(shown.splitlines()) <= 1


@given(st.lists(st.tuples(ANY_TEXT, st.integers(-1000, 1000)), min_size=1, max_size=5))
def test_the_last_column_of_numbers_ends_at_one_place(rows):
    cells = [[name, str(number)] for name, number in rows]
    lines = table_lines(Table("t", ["name", "n"], cells, "<>"), indent="")
    ends = {places(line) for line in lines if re.search(r"(n|-?\d+)$", line)}
    assert max(ends) <= 100
    assert places(lines[0]) == max(ends)


@given(ANY_TEXT)
def test_wrapped_lines_keep_every_word_and_stay_narrow(text):
    lines = wrapped(text, bullet="- ")
    words = plain(text, 100_000).split()
    assert " ".join(lines).replace("  - ", "", 1).split() == words or lines == ["  - "]
    for line in lines:
        assert places(line) <= 100 or len(line.split()) <= 2


def test_east_asian_names_take_two_places():
    table = Table("t", ["block", "n"], [["北の畑", "1"], ["east", "22"]], "<>")
    lines = table_lines(table, indent="")
    assert lines[1] == "北の畑   1"
    assert lines[2] == "east    22"
