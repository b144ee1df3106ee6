"""Seasons that stand for many: as good as the best choice, with the error told."""

import itertools

import numpy as np
import pytest
from scipy.spatial.distance import cdist

from phenocast.errors import InputError
from phenocast.planning.labour import milp
from phenocast.planning.labour.milp import reduce_seasons, weighted_quantile


def spread(seasons, kept):
    return cdist(seasons, seasons[list(kept)]).min(axis=1).sum()


@pytest.mark.parametrize("seed", range(8))
def test_no_single_swap_improves_the_medoids(seed):
    seasons = np.random.default_rng(seed).normal(size=(40, 3))
    kept = set(reduce_seasons(seasons, 5).kept.tolist())
    found = spread(seasons, kept)
    for out, new in itertools.product(kept, set(range(40)) - kept):
        assert spread(seasons, (kept - {out}) | {new}) >= found * (1.0 - 1e-9)


def test_medoids_are_nearly_as_good_as_trying_every_choice():
    # The search is local: it may miss the best by a little in a single case, not on average.
    excess = []
    for seed in range(20):
        seasons = np.random.default_rng(seed).normal(size=(11, 3))
        best = min(spread(seasons, kept) for kept in itertools.combinations(range(11), 3))
        excess.append(spread(seasons, reduce_seasons(seasons, 3).kept) / best - 1.0)
    assert np.mean(excess) < 0.01
    assert max(excess) < 0.10


def test_clusters_far_apart_are_found_with_their_shares():
    rng = np.random.default_rng(0)
    seasons = np.concatenate(
        [rng.normal(centre, 0.1, size=(n, 4)) for centre, n in ((0.0, 50), (10.0, 30), (20.0, 20))]
    )
    found = reduce_seasons(seasons, 3)
    assert sorted(found.probabilities) == pytest.approx([0.2, 0.3, 0.5])
    assert found.distance_share < 0.05


def test_more_seasons_lose_less_and_all_of_them_lose_nothing():
    seasons = np.random.default_rng(1).lognormal(3.0, 0.4, size=(300, 10))
    shares = [reduce_seasons(seasons, k).distance_share for k in (1, 10, 50, 200, 300)]
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] == 0.0


def test_seasons_beyond_the_search_still_count(monkeypatch):
    seasons = np.random.default_rng(2).normal(size=(500, 5))
    monkeypatch.setattr(milp, "LARGEST_SEARCH", 100)
    found = reduce_seasons(seasons, 20)
    assert found.probabilities.sum() == pytest.approx(1.0)
    assert found.probabilities.min() * 500 >= 1.0
    assert found.distance_share < 1.0


def test_kept_seasons_are_seasons_and_the_order_of_draws_does_not_matter_much():
    seasons = np.random.default_rng(3).normal(size=(60, 4))
    found = reduce_seasons(seasons, 6)
    assert np.all(np.diff(found.kept) > 0)
    turned = reduce_seasons(seasons[::-1], 6)
    assert turned.distance_share == pytest.approx(found.distance_share, rel=0.05)


@pytest.mark.parametrize(
    ("seasons", "k", "words"),
    [(np.zeros((0, 3)), 2, "no seasons"), (np.ones((3, 2)), 0, "too few"),
     (np.full((3, 2), np.nan), 2, "not a number")],
)  # fmt: skip
def test_bad_input(seasons, k, words):
    with pytest.raises(InputError, match=words):
        reduce_seasons(seasons, k)


def test_weighted_quantile_of_equal_weights_is_the_inverse_distribution():
    values = np.arange(10.0)[::-1][:, None]
    shares = np.full(10, 0.1)
    assert weighted_quantile(values, shares, 0.9)[0] == 8.0
    assert weighted_quantile(values, shares, 0.5)[0] == 4.0
