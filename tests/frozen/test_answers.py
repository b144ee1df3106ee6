"""The figures of every command's answer are those that were committed, to a relative 1e-9.

Where a figure is meant to change, `tests/frozen/make.py` makes the file anew, in a commit of its
own that states cause and size. A key that was renamed gets a line in `tests/frozen/answers.py`.
"""

from __future__ import annotations

import json

import pytest

from tests.frozen.answers import PLACE, figures, moves

FROZEN = json.loads(PLACE.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def made():
    return figures()


def test_no_answer_is_missing(made):
    assert list(made) == list(FROZEN)


@pytest.mark.parametrize("name", FROZEN)
def test_every_figure_is_the_one_that_was_frozen(made, name):
    assert moves(FROZEN[name], made[name]) == {}
    assert len(FROZEN[name]) > 1


def test_a_figure_that_moves_or_goes_is_found():
    old = {"a": [1.0, None], "b": [2.0], "c": [0.0], "d": [1.0, 2.0]}
    new = {"a": [1.0, 3.0], "b": [2.0 + 3e-9], "c": [1e-300], "d": [1.0]}
    assert moves(old, new) == pytest.approx({"a": float("inf"), "b": 1.5e-9, "c": 1.0,
                                             "d": float("inf")}, rel=1e-6)  # fmt: skip
    assert moves(old, {**old, "new": [1.0]}) == {}
