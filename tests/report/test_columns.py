"""Columns stay aligned and narrow whatever a name is made of."""

from hypothesis import given
from hypothesis import strategies as st

from phenocast.report.columns import aligned, places, plain, wrapped

ANY_TEXT = st.text(max_size=400)


@given(ANY_TEXT, st.integers(3, 100))
def test_plain_text_fits_and_steers_nothing(text, width):
    shown = plain(text, width)
    assert places(shown) <= width
    assert not any(ord(letter) < 32 or 127 <= ord(letter) < 160 for letter in shown)
    assert len(shown.splitlines()) <= 1


@given(st.lists(st.tuples(ANY_TEXT, st.integers(-1000, 1000)), min_size=1, max_size=5))
def test_the_last_column_of_numbers_ends_at_one_place(rows):
    lines = aligned(rows, ("name", "n"), "<>", indent="", widest=(20, 8))
    assert len({places(line) for line in lines}) == 1
    assert places(lines[0]) <= 20 + 2 + 8


@given(ANY_TEXT)
def test_wrapped_lines_keep_every_word_and_stay_narrow(text):
    lines = wrapped(text, bullet="- ")
    words = plain(text, 100_000).split()
    assert " ".join(lines).replace("  - ", "", 1).split() == words or lines == ["  - "]
    for line in lines:
        assert places(line) <= 100 or len(line.split()) <= 2


def test_east_asian_names_take_two_places():
    lines = aligned([["北の畑", 1], ["east", 22]], ["block", "n"], "<>", indent="")
    assert lines[1] == "北の畑   1"
    assert lines[2] == "east    22"
