"""The harness itself: mutants follow from their seed, and nothing but a refusal passes."""

from __future__ import annotations

import warnings

import click
import pytest

from phenocast.errors import Fault, InputError
from tests.hostile import mutations
from tests.hostile.mutations import (
    BYTE_CHANGES,
    LINE_CHANGES,
    WHOLE_CHANGES,
    attack,
    mutants,
    outcome,
)

SOUND = b"time,air\n2026-10-05 01:00,20.5\n2026-10-05 02:00,21.5\n"


def test_the_same_seed_makes_the_same_mutants_and_another_seed_others():
    first, again, other = (list(mutants(SOUND, seed, 60)) for seed in (1, 1, 2))
    assert first == again
    assert [content for _, content in first] != [content for _, content in other]
    assert len({content for _, content in first}) > 50


@pytest.mark.parametrize("change", [*BYTE_CHANGES, *LINE_CHANGES, *WHOLE_CHANGES])
def test_each_change_alters_a_file(change):
    assert any(content != SOUND for _, content in mutants(SOUND, 3, 10, [change]))


def refuse():
    raise InputError(Fault("no"))


def refuse_at_length():
    raise click.UsageError("x" * 30_000)


def warn():
    warnings.warn("a library is unsure", UserWarning, stacklevel=1)


def deep():
    return deep()


def test_an_answer_and_a_refusal_pass():
    assert outcome(lambda: 1) == "answer"
    assert outcome(refuse) == "InputError"


@pytest.mark.parametrize("fault", [lambda: 1 / 0, warn, deep, refuse_at_length])
def test_another_exception_a_warning_and_a_message_without_end_do_not_pass(fault):
    with pytest.raises(AssertionError):
        outcome(fault)


def test_endless_work_does_not_pass(monkeypatch):
    monkeypatch.setattr(mutations, "ENDLESS_S", 0.05)

    def endless():
        while True:
            pass

    with pytest.raises(AssertionError, match="no end after"):
        outcome(endless)


def test_an_attack_counts_outcomes_and_names_the_mutant_that_failed(tmp_path):
    def reader(path):
        if b"air" not in path.read_bytes():
            refuse()

    seen = attack(reader, SOUND, tmp_path / "a.csv", seed=1, count=60)
    assert set(seen) == {"answer", "InputError"}
    assert sum(seen.values()) == 60
    with pytest.raises(AssertionError, match=r"seed 1, mutant \d+ .*ZeroDivisionError"):
        attack(lambda _: 1 / 0, SOUND, tmp_path / "a.csv", seed=1, count=5)
