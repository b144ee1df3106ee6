"""Seasons of every shipped cultivar on two films are those that were committed.

Where a figure is meant to change, `tests/frozen/make.py` makes the file anew, in a commit of its
own that states cause and size.
"""

from __future__ import annotations

import json

import pytest

from tests.frozen.make import DATES, FRUIT, PLACE, seasons

FROZEN = json.loads(PLACE.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def made():
    return seasons()


def test_no_cultivar_is_missing(made):
    assert list(made) == list(FROZEN)


@pytest.mark.parametrize("name", FROZEN)
def test_dates_to_a_millionth_of_a_day_and_fruit_to_a_millionth_of_a_gram(made, name):
    now, was = made[name], FROZEN[name]
    for stage in DATES:
        assert now["dates_d"][stage] == pytest.approx(was["dates_d"][stage], rel=0, abs=1e-6), stage
    assert now["surviving_share"] == pytest.approx(was["surviving_share"], rel=0, abs=1e-6)
    for kind in FRUIT:
        assert now[kind] == pytest.approx(was[kind], rel=0, abs=1e-6), kind
