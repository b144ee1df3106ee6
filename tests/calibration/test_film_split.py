"""Splitting what a film did: known truth, coverage, and when a left-over is earned."""

import numpy as np
import pandas as pd
import pytest

from phenocast.calibration.ranking.film_effect import film_split, pair_films
from phenocast.errors import InputError


def split(observed, predicted):
    names = [str(2020 + i) for i in range(len(observed))]
    return film_split("yield", "silver", "black", names, observed, predicted)


def synthetic(rng, left_over, seasons, draws=200):
    """Seasons of a film whose optics are not quite known: one error of all draws, one a season."""
    truth = rng.normal(0.25, 0.08, seasons)
    # the model's answer is wrong by one number that its draws allow for
    wrong = rng.normal(0.0, 0.05)
    predicted = truth[:, np.newaxis] + wrong + rng.normal(0.0, 0.05, draws)
    observed = truth + left_over + rng.normal(0.0, 0.06, seasons)
    return split(observed, predicted)


@pytest.mark.parametrize("left_over", [0.0, 0.2])
def test_the_left_over_is_recovered_and_its_interval_holds_it(left_over):
    """400 repeats of 4 seasons: bias under a tenth of its error; 95 % intervals hold 92 to 98 %."""
    rng = np.random.default_rng(1)
    found = [synthetic(rng, left_over, 4) for _ in range(400)]
    estimate = np.array([one.left_over.estimate for one in found])
    held = np.mean([one.left_over.lower <= left_over <= one.left_over.upper for one in found])
    assert estimate.mean() == pytest.approx(left_over, abs=0.1 * estimate.std())
    assert 0.92 <= held <= 0.985  # standard error 1.1 %


def test_a_left_over_of_zero_is_hardly_ever_earned():
    """The interval leaves out the truth in 5 % of repeats; 3000 repeats gave 5 to 6 %, for
    Satterthwaite's degrees of freedom are a little too many. Standard error here 0.5 %."""
    rng = np.random.default_rng(2)
    earned = np.mean([synthetic(rng, 0.0, 4, draws=50).earned for _ in range(2000)])
    assert earned <= 0.065


def test_a_large_left_over_is_mostly_earned():
    rng = np.random.default_rng(3)
    earned = [synthetic(rng, 0.3, 6).earned for _ in range(200)]
    assert np.mean(earned) > 0.8


def test_the_three_parts_add_up():
    found = synthetic(np.random.default_rng(4), 0.15, 5)
    parts = found.explained.estimate + found.left_over.estimate
    assert parts == pytest.approx(found.observed.estimate)


def test_more_seasons_do_not_take_away_what_is_not_known_of_the_optics():
    rng = np.random.default_rng(5)
    draws = rng.normal(0.0, 0.05, 500)
    n = 200
    truth = rng.normal(0.2, 0.05, n)
    found = split(truth + rng.normal(0, 0.02, n), truth[:, np.newaxis] + draws)
    assert found.left_over.error == pytest.approx(0.05, rel=0.1)


def test_two_seasons_earn_nothing_however_large_the_difference():
    found = split([0.90, 0.91], np.zeros((2, 50)))
    assert not found.earned
    assert "2 season(s)" in found.why


def test_one_season_has_no_interval():
    found = split([0.3], np.full((1, 50), 0.2))
    assert found.left_over.estimate == pytest.approx(0.1)
    assert np.isnan(found.left_over.lower)
    assert not found.earned


def test_shares_are_read_from_logarithms():
    found = split(np.log([1.30, 1.30, 1.30]), np.zeros((3, 10)))
    assert found.observed.as_share()[0] == pytest.approx(0.30)


def test_pairs_share_all_but_the_film():
    table = pd.DataFrame(
        {
            "season": ["a", "a", "a", "a", "b", "b"],
            "cultivar": ["Marl", "Marl", "Tuff", "Basalt", "Marl", "Marl"],
            "film": ["black", "silver", "silver", "black", "black", "silver"],
            "observed": [100.0, 120.0, 500.0, 300.0, 200.0, 300.0],
        }
    )
    made = np.repeat([[1.0], [1.1], [9.0], [9.0], [2.0], [2.2]], 3, axis=1)
    seasons, seen, predicted, pairs = pair_films(table, made, "silver", "black")
    assert (seasons, pairs) == (("a", "b"), 2)
    assert np.exp(seen) == pytest.approx([1.2, 1.5])
    assert np.exp(predicted) == pytest.approx(np.full((2, 3), 1.1))


def test_films_that_never_stood_side_by_side_are_refused():
    table = pd.DataFrame(
        {"season": ["a", "b"], "film": ["black", "silver"], "observed": [1.0, 2.0]}
    )
    with pytest.raises(InputError, match="beside black"):
        pair_films(table, np.ones((2, 5)), "silver", "black")


def test_a_block_without_fruit_is_refused():
    table = pd.DataFrame(
        {"season": ["a", "a"], "film": ["black", "silver"], "observed": [0.0, 2.0]}
    )
    with pytest.raises(InputError, match="no ratio"):
        pair_films(table, np.ones((2, 5)), "silver", "black")
