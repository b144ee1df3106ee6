"""Judging options by scenarios they share: hand-made tables and what must hold for any."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from phenocast.errors import InputError
from phenocast.planning.comparison.judge import (
    OPTIONS_AT_ONCE,
    judge,
    paired_error,
    revenue,
    undominated,
    worst_mean,
)

TABLES = arrays(
    np.float64, st.tuples(st.integers(1, 6), st.integers(1, 30)),
    elements=st.floats(-1e6, 1e6, allow_nan=False),
)  # fmt: skip


def test_a_table_small_enough_to_judge_by_hand() -> None:
    told = judge([[10.0, 10.0], [13.0, 9.0], [8.0, 8.0]])
    assert told.best == 1
    assert told.expected.tolist() == [10.0, 11.0, 8.0]
    assert told.worst_tenth.tolist() == [10.0, 9.0, 8.0]
    assert told.regret.tolist() == [1.5, 0.5, 3.5]
    assert told.undominated.tolist() == [True, True, False]
    assert told.behind_best.tolist() == [1.0, 0.0, 3.0]
    # differences of 5 and 1: standard error 2, and 12.71 of them either way (one degree of freedom)
    assert told.behind_best_se.tolist() == [2.0, 0.0, 2.0]
    assert told.behind_best_margin == pytest.approx([25.41, 0.0, 25.41], abs=0.01)
    assert told.not_clearly_worse.tolist() == [True, True, True]  # two seasons tell nothing


def test_an_option_that_is_not_trusted_is_never_the_best() -> None:
    # The second has the highest mean in every scenario, and the engine distrusts it.
    table = np.array([[10.0, 10.0, 11.0], [15.0, 14.0, 15.5], [8.0, 9.0, 8.5]])
    told = judge(table, 0, np.array([True, False, True]))
    assert told.best == 0
    assert told.behind_best == pytest.approx([0.0, -4.5, 31.0 / 3.0 - 8.5])
    assert told.undominated.tolist() == [True, False, False]
    assert told.regret.tolist()[:2] == [0.0, 0.0]
    nobody = judge(table, 0, np.zeros(3, dtype=bool))
    assert nobody.best == 1  # only to hold the others against
    assert not nobody.undominated.any()


def test_the_sign_follows_the_interval_of_the_paired_difference() -> None:
    # 138 behind and clear in every season, 155 behind and tossed about: the sign is of the second.
    rng = np.random.default_rng(11)
    base = rng.normal(1000.0, 300.0, size=(24, 30))
    told = judge(np.stack([base, base - 138.0 - rng.normal(0.0, 5.0, size=(24, 1)),
                           base - 155.0 - rng.normal(0.0, 500.0, size=(24, 1))]))  # fmt: skip
    assert told.not_clearly_worse.tolist() == [True, False, True]
    low = told.behind_best - told.behind_best_margin
    assert (low[1] > 0.0, low[2] > 0.0) == (True, False)


def test_the_same_option_twice_differs_in_nothing() -> None:
    rng = np.random.default_rng(1)
    one = rng.normal(size=400)
    told = judge([one, one])
    assert told.beats_reference.tolist() == [0.5, 0.5]
    assert told.regret.tolist() == [0.0, 0.0]
    assert told.undominated.all()


def test_shared_scenarios_make_a_small_difference_sharp() -> None:
    # A gain of 1 in every season is certain though seasons differ by 100.
    rng = np.random.default_rng(2)
    season = rng.normal(0.0, 100.0, size=500)
    told = judge([season, season + 1.0])
    assert told.beats_reference[1] == 1.0
    unshared = judge([season, rng.permutation(season) + 1.0])
    assert 0.4 < unshared.beats_reference[1] < 0.6


def crossed(rng, seasons, draws, of_season, of_draw, rest):
    """Differences of a gain of 1 with effects of the season, of the draw and of both."""
    return (
        1.0
        + of_season * rng.normal(size=(seasons, 1))
        + of_draw * rng.normal(size=(1, draws))
        + rest * rng.normal(size=(seasons, draws))
    )


@pytest.mark.parametrize(
    ("of_season", "of_draw", "rest"), [(2.0, 0.0, 1.0), (0.0, 2.0, 1.0), (1.0, 1.0, 1.0)]
)
def test_the_error_of_a_mean_difference_is_the_spread_of_means_over_samples(
    of_season, of_draw, rest
):
    # Synthetic truth: the estimate is right on average, and its interval holds the truth as often
    # as it says. Taking scenarios for independent would give a tenth to a fifth of the error.
    rng = np.random.default_rng(5)
    tables = np.stack([crossed(rng, 20, 30, of_season, of_draw, rest) for _ in range(3000)])
    error, margin = paired_error(tables)
    means = tables.mean(axis=(1, 2))
    assert np.sqrt((error**2).mean()) == pytest.approx(means.std(), rel=0.06)
    assert (np.abs(means - 1.0) <= margin).mean() == pytest.approx(0.95, abs=0.02)
    naive = tables.reshape(3000, -1).std(axis=1) / np.sqrt(600)
    assert np.sqrt((naive**2).mean()) < 0.45 * means.std()


def test_more_draws_of_the_same_seasons_add_no_certainty() -> None:
    rng = np.random.default_rng(6)
    seasons = rng.normal(size=(12, 1))
    few, many = (paired_error(np.repeat(seasons, n, axis=1))[0] for n in (2, 400))
    assert few == pytest.approx(many)
    assert few == pytest.approx(seasons.std(ddof=1) / np.sqrt(12))


def test_one_possible_season_tells_no_error() -> None:
    table = np.array([[[1.0, 2.0, 3.0]], [[1.0, 2.0, 2.5]]])
    told = judge(table)
    assert np.isnan(told.behind_best_se).all()
    assert told.not_clearly_worse.tolist() == [True, True]  # nothing is called worse


def test_a_small_sure_gain_and_a_large_doubtful_one() -> None:
    # The same mean gain of 1: once every season alike, once tossed about by the season.
    rng = np.random.default_rng(7)
    base = rng.normal(0.0, 50.0, size=(20, 40))
    told = judge(np.stack([base, base - 1.0, base - 1.0 - rng.normal(0.0, 30.0, size=(20, 1))]))
    assert told.not_clearly_worse.tolist() == [True, False, True]


def test_seasons_with_draws_and_their_scenarios_in_a_row_are_judged_alike() -> None:
    rng = np.random.default_rng(8)
    table = rng.normal(size=(3, 5, 7))
    grid, row = judge(table), judge(table.reshape(3, -1))
    for name in ("expected", "worst_tenth", "regret", "beats_reference", "behind_best"):
        assert getattr(grid, name) == pytest.approx(getattr(row, name)), name


def test_many_options_are_judged_as_each_would_be_alone() -> None:
    # More than are worked on at once, with ties; by the plain formulas, one option after another.
    rng = np.random.default_rng(9)
    table = rng.normal(size=(2 * OPTIONS_AT_ONCE + 5, 6, 8)).round(1)
    told = judge(table, reference=3)
    flat = table.reshape(len(table), -1)
    for row, one in enumerate(flat):
        assert told.regret[row] == pytest.approx((flat.max(axis=0) - one).mean())
        assert told.beats_reference[row] == pytest.approx(
            (one > flat[3]).mean() + (one == flat[3]).mean() / 2.0
        )
        assert told.levels[row].tolist() == np.quantile(one, [0.1, 0.5, 0.9]).tolist()
        assert told.worst_tenth[row] == pytest.approx(np.sort(one)[:5].mean())
        error, margin = paired_error(table[told.best] - table[row])
        assert told.behind_best_se[row] == pytest.approx(error)
        assert told.behind_best_margin[row] == pytest.approx(margin)


@given(TABLES)
def test_what_holds_for_any_table(table: np.ndarray) -> None:
    told = judge(table)
    # sums of a million-sized numbers carry rounding of about 1e-9
    assert (told.regret >= -1e-6).all()
    assert told.undominated.any()
    assert (told.worst_tenth <= told.expected + 1e-6).all()
    assert told.expected[told.best] == told.expected.max()
    always_best = (table == table.max(axis=0)).all(axis=1)
    assert told.regret[always_best] == pytest.approx(0.0, abs=1e-6)


def test_the_worst_tenth_is_the_mean_of_the_lowest_values() -> None:
    assert worst_mean(np.arange(100.0)[None, :]).tolist() == [4.5]
    assert worst_mean(np.array([[1.0, 3.0]])).tolist() == [1.0]


def test_options_of_equal_worth_are_both_undominated() -> None:
    assert undominated([2.0, 2.0, 2.0], [1.0, 1.0, 0.0]).tolist() == [True, True, False]


def test_flat_prices_favour_more_fruit_and_steep_ones_early_fruit() -> None:
    # An early planting that bears 6 and a late one that bears 8, a week of price apart.
    kg = np.array([[[6.0, 0.0]], [[0.0, 8.0]]])
    flat = revenue(kg, np.array([[2.0, 2.0]]))
    steep = revenue(kg, np.array([[3.0, 1.0]]))
    assert np.argmax(flat[:, 0]) == 1
    assert np.argmax(steep[:, 0]) == 0
    # the price ratio at which they are equal is that of the fruit
    level = revenue(kg, np.array([[8.0, 6.0]]))
    assert level[0, 0] == level[1, 0]


@pytest.mark.parametrize(
    ("values", "reference", "words"),
    [
        ([], 0, "nothing to choose"),
        ([[1.0, np.nan]], 0, "missing"),
        ([[1.0]], 3, "reference"),
    ],
)
def test_what_cannot_be_judged_is_refused(values: list, reference: int, words: str) -> None:
    with pytest.raises(InputError, match=words):
        judge(values, reference)
