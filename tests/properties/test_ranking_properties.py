"""Ranks, splits and picks: what must hold for every table of draws and every run of visits."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.calibration import against_best, film_split, rank_draws
from phenocast.forecast.hindcast_scores import share_between
from phenocast.forecast.picked import PickedBlock

seeds = st.integers(0, 2**32 - 1)
counts = st.integers(2, 7)


def drawn(seed: int, n: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return rng.normal(rng.normal(0.0, 0.1, (n, 1)), rng.uniform(0.01, 0.2, (n, 1)), (n, 150))


def names(n: int) -> list[str]:
    return [f"cultivar {i}" for i in range(n)]


@given(seeds, counts)
def test_every_cultivar_has_one_rank_and_every_rank_one_cultivar(seed, n):
    found = rank_draws(names(n), drawn(seed, n))
    assert found.rank_probability.sum(axis=0) == pytest.approx(np.ones(n))
    assert found.rank_probability.sum(axis=1) == pytest.approx(np.ones(n))
    assert np.all(found.best <= found.among_best + 1e-12)
    assert found.expected_rank.sum() == pytest.approx(n * (n + 1) / 2)


@given(seeds, counts, st.floats(0.1, 10.0), st.floats(-5.0, 5.0))
def test_another_unit_and_another_order_change_no_rank(seed, n, scale, shift):
    draws = drawn(seed, n)
    order = np.random.default_rng(seed).permutation(n)
    one = rank_draws(names(n), draws)
    other = rank_draws([names(n)[i] for i in order], scale * draws[order] + shift)
    assert other.cultivars == one.cultivars
    assert other.expected_rank == pytest.approx(one.expected_rank)
    assert other.against.may_be_best.tolist() == one.against.may_be_best.tolist()


@given(seeds, counts)
def test_the_best_may_always_be_the_best(seed, n):
    means = np.random.default_rng(seed).normal(0.0, 1.0, n)
    found = against_best(means, 0.5, np.inf)
    assert found.may_be_best[int(np.argmax(means))]
    assert np.all(found.lower <= found.upper)


@given(seeds, counts, st.floats(1.1, 5.0))
def test_larger_errors_leave_no_fewer_cultivars(seed, n, factor):
    means = np.random.default_rng(seed).normal(0.0, 1.0, n)
    near, far = (against_best(means, error, np.inf) for error in (0.3, 0.3 * factor))
    assert np.all(far.may_be_best | ~near.may_be_best)


@given(seeds, st.integers(1, 8))
def test_the_parts_of_a_film_add_up(seed, n):
    rng = np.random.default_rng(seed)
    observed, predicted = rng.normal(0.2, 0.3, n), rng.normal(0.1, 0.2, (n, 40))
    found = film_split("yield", "silver", "black", names(n), observed, predicted)
    whole = found.explained.estimate + found.left_over.estimate
    assert whole == pytest.approx(found.observed.estimate)
    assert not (found.earned and n < 3)


@given(seeds, st.integers(1, 30))
def test_visits_pick_all_that_ripened_by_the_last(seed, n):
    rng = np.random.default_rng(seed)
    daily = rng.exponential(1.0, 120)
    visits = np.sort(rng.choice(np.arange(119), n, replace=False)) + 0.5
    block = PickedBlock(visits, np.zeros(n), ("",) * n, 0.0, 1.0)
    so_far = np.array([daily[: int(at)].sum() + 0.5 * daily[int(at)] for at in visits])
    assert block.as_picked(so_far).sum() == pytest.approx(so_far[-1])
    assert np.all(block.as_picked(so_far) >= 0.0)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.integers(1, 12))
def test_slices_of_a_span_add_up_to_it(one, other, slices):
    low, high = min(one, other), max(one, other)
    edges = np.linspace(0.0, 1.0, slices + 1)
    shares = [share_between(low, high, a, b) for a, b in pairwise(edges)]
    assert all(0.0 <= share <= 1.0 for share in shares)
    if high > low:
        assert sum(shares) == pytest.approx(1.0)
