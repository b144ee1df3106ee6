"""Mutants of every kind of table: each is read, or refused in one message."""

from __future__ import annotations

import pytest

from tests.hostile.mutations import BYTE_CHANGES, attack, outcome, rounds
from tests.hostile.tables import SOUND, SOUND_PARQUET


@pytest.mark.parametrize("name", SOUND)
def test_the_file_that_mutants_are_made_of_is_sound(name, tmp_path):
    read, content = SOUND[name]
    place = tmp_path / "file"
    place.write_bytes(content())
    assert outcome(lambda: read(place)) == "answer"


@rounds(few=14, many=170)
@pytest.mark.parametrize("name", SOUND)
def test_mutants_of_a_table(name, seed, count, tmp_path):
    read, content = SOUND[name]
    seen = attack(read, content(), tmp_path / "file", seed=seed, count=count)
    assert seen.total() == count
    assert seen["InputError"] > count // 4


@rounds(few=60, many=800)
@pytest.mark.parametrize("name", SOUND_PARQUET)
def test_mutants_of_parquet(name, seed, count, tmp_path):
    read, content = SOUND_PARQUET[name]
    place = tmp_path / "file"
    seen = attack(read, content(), place, seed=seed, count=count, changes=BYTE_CHANGES)
    assert seen["InputError"] > count // 2
