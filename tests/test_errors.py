"""Errors carry every fault, their exit code, and survive a trip to another process."""

from __future__ import annotations

import pickle

import pytest

from phenocast.errors import Fault, InputError, NoAnswerError, PhenocastError, nearest, unknown_name


def test_exit_codes_are_those_of_the_commands() -> None:
    assert (PhenocastError.exit_code, InputError.exit_code, NoAnswerError.exit_code) == (1, 3, 4)


def test_an_error_tells_every_fault_on_a_line_of_its_own() -> None:
    error = InputError([Fault("a", "x"), Fault("b", "y", 3, "1 or 2", "do it")])
    assert str(error) == "x: a\ny: b (value 3; allowed: 1 or 2); do it"
    assert len(error.faults) == 2


def test_a_fault_is_one_line_even_where_the_value_is_not() -> None:
    assert "\n" not in str(Fault("too\nlong", value="x" * 500 + "\n"))
    assert len(str(Fault("long", value="x" * 500))) < 120


def test_an_error_without_a_fault_is_a_mistake_of_ours() -> None:
    with pytest.raises(ValueError, match="at least one fault"):
        InputError([])


@pytest.mark.parametrize("kind", [InputError, NoAnswerError])
def test_errors_can_be_pickled(kind: type[InputError]) -> None:
    error = kind([Fault("a", "x", 1.5)])
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert again.faults == error.faults


@pytest.mark.parametrize(
    ("name", "close"),
    [("Blak", "black"), ("MARL", "Marl"), ("white on black", "white-on-black"), ("qqq", None)],
)
def test_the_nearest_known_name(name: str, close: str | None) -> None:
    assert nearest(name, ["black", "Marl", "white-on-black"]) == close


def test_an_unknown_name_with_nothing_known() -> None:
    assert "none is defined" in str(unknown_name("film", "x", []))


def test_a_list_of_faults_is_capped_and_counted_through_every_gathering():
    long = InputError(Fault("wrong", f"row {row}") for row in range(57))
    assert [str(one) for one in long.faults[:2]] == ["row 0: wrong", "row 1: wrong"]
    assert len(long.faults) == 21
    assert str(long).splitlines()[-1] == "and 37 more"
    assert long.count == 57
    both = InputError([*long.faults, *long.faults])
    assert both.count == 114
    assert str(both).splitlines()[-1] == "and 94 more"
    again = pickle.loads(pickle.dumps(both))
    assert (again.count, str(again)) == (114, str(both))
    assert InputError([Fault("wrong")] * 20).faults[-1].what == "wrong"


def test_every_part_of_a_fault_is_bounded():
    text = str(Fault("w" * 9999, "f" * 9999, "v" * 9999, "a" * 9999, "d" * 9999))
    assert len(text) < 2600
