"""Indices, responses, the best and pooling: against other libraries, and what is refused."""

import numpy as np
import pytest
from scipy.stats import linregress, multivariate_t

from phenocast.calibration import (
    against_best,
    dunnett_one_sided,
    finlay_wilkinson,
    heat_indices,
    interaction,
    interaction_axes,
    stability_variance,
)
from phenocast.errors import InputError


@pytest.fixture
def table():
    return np.random.default_rng(4).normal(400.0, 60.0, (6, 8))


def test_an_average_cultivar_has_index_one():
    # the third yields the means in both regimes
    found = heat_indices([500.0, 300.0, 400.0], [350.0, 250.0, 300.0])
    assert [found.ssi[2], found.rhi[2], found.yi[2]] == pytest.approx([1.0, 1.0, 1.0])
    assert found.ysi[2] == pytest.approx(0.75)
    assert found.tol.tolist() == [150.0, 50.0, 100.0]
    # the first lost most by share, the second least
    assert found.ssi.argmax() == 0
    assert found.rhi.argmax() == 1


def test_means_of_both_regimes_keep_their_order():
    found = heat_indices([500.0, 300.0, 400.0], [350.0, 250.0, 0.0])
    assert np.all(found.hm <= found.gmp)
    assert np.all(found.gmp <= found.mp)
    assert found.ysi[2] == found.sti[2] == 0.0
    assert found.names == ("ssi", "tol", "mp", "gmp", "hm", "sti", "ysi", "yi", "rhi")


@pytest.mark.parametrize("name", ["ssi", "sti", "ysi", "yi", "rhi"])
def test_ratios_do_not_depend_on_the_unit(name):
    grams = heat_indices([500.0, 300.0, 400.0], [350.0, 250.0, 260.0])
    ounces = heat_indices(
        np.array([500.0, 300.0, 400.0]) / 28.3495, np.array([350.0, 250.0, 260.0]) / 28.3495
    )
    assert getattr(grams, name) == pytest.approx(getattr(ounces, name))


@pytest.mark.parametrize(
    ("mild", "hot", "said"),
    [
        ([500.0, 300.0], [400.0], "too few"),
        ([500.0, 300.0, 400.0], [400.0, 200.0], "one yield of each"),
        ([500.0, np.nan], [400.0, 200.0], r"mild\[1\]: a value is missing"),
        ([500.0, 0.0], [400.0, 0.0], r"mild\[1\]: a yield is out of range"),
        ([500.0, 300.0], [400.0, -1.0], r"hot\[1\]: a yield is out of range"),
        ([400.0, 200.0], [500.0, 300.0], "which regime is which"),
        ([400.0, 200.0], [0.0, 0.0], "no cultivar yielded"),
    ],
)
def test_yields_without_an_answer_are_refused(mild, hot, said):
    with pytest.raises(InputError, match=said):
        heat_indices(mild, hot)


def test_slopes_against_a_line_fitted_by_scipy(table):
    heat = np.array([0.0, 120.0, 300.0, 340.0, 600.0, 720.0, 800.0, 1100.0])
    found = finlay_wilkinson(table, heat)
    for i, row in enumerate(table):
        line = linregress(heat, row)
        assert found.slopes[i] == pytest.approx(line.slope)
        assert found.slope_errors[i] == pytest.approx(line.stderr)
        assert found.means[i] == pytest.approx(line.intercept + line.slope * heat.mean())


def test_slopes_on_their_own_mean_average_one_and_split_the_interaction(table):
    found = finlay_wilkinson(table)
    assert found.slopes.mean() == pytest.approx(1.0)
    left = 6 * float(np.sum(found.deviations)) / 6 * (8 - 2)
    assert found.heterogeneity_ss + left == pytest.approx(found.interaction_ss)


def test_stability_variances_add_up_to_the_interaction(table):
    found = stability_variance(table)
    assert found.mean() == pytest.approx(float(np.sum(interaction(table) ** 2)) / (5 * 7))


def test_stability_variance_finds_the_spread_of_each_cultivar():
    spread = np.array([2.0, 5.0, 5.0, 10.0, 20.0])
    rng = np.random.default_rng(8)
    common = rng.normal(0.0, 50.0, 4000)
    noisy = 400.0 + common + spread[:, np.newaxis] * rng.normal(size=(5, 4000))
    assert stability_variance(noisy) == pytest.approx(spread**2, abs=12.0)


def test_axes_rebuild_the_interaction_and_lose_their_sign_ambiguity(table):
    found = interaction_axes(table)
    assert found.cultivar_scores @ found.environment_scores.T == pytest.approx(interaction(table))
    assert found.shares.sum() == pytest.approx(1.0)
    assert np.all(np.diff(found.shares) <= 0.0)
    assert found.df.sum() == (6 - 1) * (8 - 1)
    largest = np.argmax(np.abs(found.cultivar_scores), axis=0)
    assert np.all(found.cultivar_scores[largest, np.arange(5)] > 0.0)


@pytest.mark.parametrize(
    ("function", "argument", "said"),
    [
        (stability_variance, [[1.0, 2.0], [3.0, 5.0]], "too few"),
        (stability_variance, [[1.0, 2.0], [3.0, np.nan], [1.0, 1.0]], r"table\[1, 1\]"),
        (finlay_wilkinson, [[1.0, 2.0], [3.0, 5.0]], "too few"),
        (finlay_wilkinson, [[1.0, 2.0, 3.0], [3.0, 2.0, 1.0]], "not all alike"),
        (interaction_axes, [[1.0, 2.0, 4.0], [2.0, 3.0, 5.0]], "do not interact"),
        (interaction_axes, [1.0, 2.0, 4.0], "too few"),
    ],
)
def test_tables_without_an_answer_are_refused(function, argument, said):
    with pytest.raises(InputError, match=said):
        function(argument)


@pytest.mark.parametrize(("comparisons", "df"), [(2, 4), (5, 12), (11, 45)])
def test_critical_value_covers_as_it_says(comparisons, df):
    shape = np.full((comparisons, comparisons), 0.5) + 0.5 * np.eye(comparisons)
    value = dunnett_one_sided(comparisons, df, 0.9)
    cover = multivariate_t.cdf(
        np.full(comparisons, value), shape=shape, df=df,
        random_state=np.random.default_rng(1), maxpts=200_000,
    )  # fmt: skip
    assert cover == pytest.approx(0.9, abs=1e-3)


def test_critical_value_of_one_comparison_is_students():
    assert dunnett_one_sided(1, 1) == pytest.approx(6.313752, abs=1e-5)
    assert dunnett_one_sided(1, 30, 0.99) == pytest.approx(2.457262, abs=1e-6)


def test_against_best_keeps_the_best_in_as_often_as_it_says():
    rng = np.random.default_rng(6)
    truth = np.array([500.0, 495.0, 490.0, 440.0])
    kept = out = 0
    for _ in range(1000):
        error = 12.0 * np.sqrt(rng.chisquare(20) / 20)
        means = truth + rng.normal(0.0, 12.0, 4)
        found = against_best(means, error * np.sqrt(2.0), 20)
        kept += found.may_be_best[0]
        out += not found.may_be_best[3]
    assert kept >= 940
    assert out >= 600  # 60 below the best is 3.5 standard errors of difference: mostly left out


def test_against_best_for_losses_mirrors_yields():
    means = np.array([30.0, 12.0, 14.0, 55.0])
    losses = against_best(means, 4.0, 18, larger_is_better=False)
    yields = against_best(-means, 4.0, 18)
    assert losses.may_be_best.tolist() == [False, True, True, False]
    assert losses.lower.tolist() == yields.lower.tolist()
    assert losses.differences[1] == 2.0


def test_a_clear_best_and_a_tie():
    clear = against_best([100.0, 50.0, 40.0], 2.0, 20)
    assert clear.may_be_best.tolist() == [True, False, False]
    assert clear.lower[0] == 0.0
    tie = against_best([100.0, 100.0, 40.0], 2.0, 20)
    assert tie.may_be_best.tolist() == [True, True, False]
    assert tie.differences[:2].tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("means", "error", "df", "said"),
    [
        ([1.0], 1.0, 5, "too few"),
        ([1.0, 2.0], 0.0, 5, "not a standard error"),
        ([1.0, 2.0], np.nan, 5, "not a standard error"),
        ([1.0, 2.0], 1.0, 0, "degrees of freedom"),
        ([1.0, np.inf], 1.0, 5, "missing"),
    ],
)
def test_comparisons_without_an_answer_are_refused(means, error, df, said):
    with pytest.raises(InputError, match=said):
        against_best(means, error, df)
