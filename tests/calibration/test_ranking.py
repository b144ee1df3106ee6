"""Ranks of cultivars from draws: certain cases, chance cases, and what Hsu leaves standing."""

import numpy as np
import pytest

from phenocast.calibration.ranking.ranking import against_best, rank_draws
from phenocast.errors import InputError

NAMES = ("Basalt", "Chert", "Gneiss", "Marl")


def test_clear_differences_give_certain_ranks():
    loss = np.array([[0.4], [0.3], [0.1], [0.2]]) + np.random.default_rng(1).normal(
        0.0, 0.001, (4, 500)
    )
    found = rank_draws(NAMES, loss)
    assert found.cultivars == ("Gneiss", "Marl", "Chert", "Basalt")
    assert found.expected_rank.tolist() == [1.0, 2.0, 3.0, 4.0]
    assert found.best.tolist() == [1.0, 0.0, 0.0, 0.0]
    assert found.among_best.tolist() == [1.0, 1.0, 1.0, 0.0]
    assert found.against.may_be_best.tolist() == [True, False, False, False]


def test_cultivars_without_any_difference_share_every_rank():
    draws = np.random.default_rng(2).normal(0.2, 0.05, (4, 40_000))
    found = rank_draws(NAMES, draws)
    # 40 000 draws: standard error of a share of one in four is 0.002
    assert found.rank_probability == pytest.approx(np.full((4, 4), 0.25), abs=0.01)
    assert found.expected_rank == pytest.approx(np.full(4, 2.5), abs=0.03)
    assert found.against.may_be_best.all()


def test_probability_of_the_better_of_two_is_that_of_the_normal_difference():
    # difference of means one standard error of the difference: Phi(1) = 0.8413 (standard table)
    rng = np.random.default_rng(3)
    draws = np.array([[0.0], [1.0]]) + rng.normal(0.0, np.sqrt(0.5), (2, 200_000))
    assert rank_draws(("Gneiss", "Marl"), draws).best[0] == pytest.approx(0.8413, abs=0.003)


def test_what_all_cultivars_share_does_not_blur_their_order():
    rng = np.random.default_rng(4)
    shared = rng.normal(0.0, 1.0, 1000)
    draws = np.array([[0.0], [0.1], [0.3], [0.5]]) + shared + rng.normal(0, 0.001, (4, 1000))
    found = rank_draws(NAMES, draws)
    assert found.best.tolist() == [1.0, 0.0, 0.0, 0.0]
    assert not found.against.may_be_best[1:].any()
    assert found.upper[0.95][0] - found.lower[0.95][0] > 3.0


def test_ties_share_their_rank():
    draws = np.tile(np.array([[1.0], [1.0], [2.0]]), 200) + np.array([[0.0], [0.0], [0.0]])
    draws[2] += np.linspace(0.0, 0.1, 200)
    draws[1, 0], draws[0, 0] = 0.9, 1.1  # one draw apart, so that the pair has an error
    found = rank_draws(("Basalt", "Chert", "Marl"), draws)
    assert sorted(found.best) == [0.0, pytest.approx(0.4975), pytest.approx(0.5025)]


def test_larger_is_better_for_a_yield():
    rng = np.random.default_rng(5)
    draws = np.array([[500.0], [300.0]]) + rng.normal(0.0, 5.0, (2, 300))
    found = rank_draws(("Gneiss", "Marl"), draws, smaller_is_better=False)
    assert found.cultivars == ("Gneiss", "Marl")
    assert found.best[0] == 1.0


@pytest.mark.parametrize(
    ("names", "draws", "said"),
    [
        (("Marl",), np.zeros((1, 200)), "too few"),
        (("Marl", "Tuff"), np.zeros((2, 20)), "too few"),
        (("Marl", "Tuff"), np.full((2, 200), np.nan), "missing"),
        (("Marl",), np.random.default_rng(1).normal(size=(2, 200)), "one name"),
        (("Marl", "Tuff"), np.zeros((2, 200)), "standard error"),
    ],
)
def test_draws_that_rank_nothing_are_refused(names, draws, said):
    with pytest.raises(InputError, match=said):
        rank_draws(names, draws)


def test_one_error_for_all_pairs_and_the_same_error_a_pair_agree():
    means = [560.0, 548.0, 470.0]
    one = against_best(means, 12.0, 20)
    table = against_best(means, np.full((3, 3), 12.0), 20)
    assert table.upper == pytest.approx(one.upper)
    assert table.lower == pytest.approx(one.lower)


def test_a_rival_that_is_badly_known_keeps_no_well_known_one_out():
    # the best is exactly known against the second and not at all against the third
    error = np.array([[0.0, 1.0, 90.0], [1.0, 0.0, 90.0], [90.0, 90.0, 0.0]])
    found = against_best([560.0, 540.0, 470.0], error, np.inf)
    assert found.may_be_best.tolist() == [True, False, True]


def test_pair_errors_that_are_not_the_same_both_ways_are_refused():
    with pytest.raises(InputError, match="each pair"):
        against_best([1.0, 2.0], [[0.0, 1.0], [2.0, 0.0]], 5)


def test_the_best_is_kept_as_often_as_promised():
    """Synthetic truth: the true best is left out in at most 5 % of 400 repeats (se 1.1 %)."""
    rng = np.random.default_rng(6)
    truth = np.array([0.20, 0.21, 0.22, 0.30])
    kept = 0
    for _ in range(400):
        estimate = truth + rng.normal(0.0, 0.02, 4)
        posterior = estimate[:, np.newaxis] + rng.normal(0.0, 0.02, (4, 400))
        found = rank_draws(NAMES, posterior)
        kept += bool(found.against.may_be_best[found.cultivars.index("Basalt")])
    assert kept / 400 >= 0.95 - 0.025
