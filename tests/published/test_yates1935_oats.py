"""The split-plot trial of oats: varieties on whole plots, nitrogen on sub-plots, six blocks.

Yates (1935), Complex experiments, J. R. Stat. Soc. Suppl. 2:181-247; the 72 yields as distributed
with an R package (MASS, data set oats), in data/yates1935_oats.csv. Expected values: output of R's
aov (read, four digits) and a computation by code independent of this package (all digits); standard
errors of difference and components computed. The linear model and its REML fit are those of
Pinheiro and Bates (2000), Mixed-Effects Models in S and S-PLUS, section 1.6 (recalled from memory,
agreeing with the computation). Tolerances: half of the last digit given; 1e-3 relative for REML,
which is iterative.
"""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy.optimize import minimize

from phenocast.trials import (
    analyse_split_plots,
    differences,
    split_plots,
    what_differs,
)
from phenocast.trials.results import fit_reml


@pytest.fixture(scope="module")
def records():
    return pd.read_csv(Path(__file__).parent / "data" / "yates1935_oats.csv")


@pytest.fixture(scope="module")
def plots(records):
    return split_plots(records, "Y", block="B", whole="V", sub="N")


@pytest.fixture(scope="module")
def analysis(plots):
    return analyse_split_plots(plots)


def test_sums_of_squares(analysis):
    expected = {
        "B": (5, 15875.278),
        "V": (2, 1786.361),
        "whole-plot error": (10, 6013.306),
        "N": (3, 20020.5),
        "V x N": (6, 321.75),
        "sub-plot error": (45, 7968.75),
    }
    assert [line.name for line in analysis.table] == list(expected)
    for name, (df, ss) in expected.items():
        assert analysis.source(name).df == df
        assert analysis.source(name).ss == pytest.approx(ss, abs=1e-3)
    assert sum(line.ss for line in analysis.table) == pytest.approx(51985.94, abs=5e-3)


def test_each_effect_against_its_own_error(analysis):
    for name, f, p, error in (
        ("V", 1.4853, 0.2724, "whole-plot error"),
        ("N", 37.6856, 2.458e-12, "sub-plot error"),
        ("V x N", 0.3028, 0.9322, "sub-plot error"),
    ):
        line = analysis.source(name)
        assert line.error == error
        assert line.f == pytest.approx(f, abs=1e-4)
        assert line.p == pytest.approx(p, abs=1e-4, rel=5e-4)


def test_means(analysis):
    varieties = dict(zip(analysis.wholes, analysis.whole_means, strict=True))
    assert varieties["Golden.rain"] == pytest.approx(104.50, abs=5e-3)
    assert varieties["Marvellous"] == pytest.approx(109.7917, abs=5e-5)
    assert varieties["Victory"] == pytest.approx(97.625, abs=5e-4)
    assert analysis.sub_means == pytest.approx([79.3889, 98.8889, 114.2222, 123.3889], abs=5e-5)


def test_the_four_standard_errors_of_difference(analysis):
    errors = (
        analysis.whole_error,
        analysis.sub_error,
        analysis.sub_within_whole,
        analysis.whole_within_sub,
    )
    got = [error.value for error in errors]
    assert got == pytest.approx([7.0789, 4.4358, 7.6830, 9.7150], abs=1e-4)
    assert [error.df for error in errors] == pytest.approx([10, 45, 45, 30.23], abs=5e-3)
    # every comparison carries the error of its kind
    for kind, value in zip(
        ("whole", "sub", "sub within whole", "whole within sub"), got, strict=True
    ):
        assert {round(pair.standard_error, 4) for pair in differences(analysis, kind)} == {
            round(value, 4)
        }


def test_variance_components_and_variation(analysis):
    v = analysis.components
    got = (v.block, v.whole_plot, v.sub_plot)
    assert got == pytest.approx((214.477, 106.062, 177.083), abs=1e-2)
    assert analysis.cv_whole == pytest.approx(0.2359, abs=5e-5)
    assert analysis.cv_sub == pytest.approx(0.1280, abs=5e-5)


def test_reml_of_the_straight_line(records):
    nitrogen = records["N"].str.removesuffix("cwt").astype(float).to_numpy()
    design = np.column_stack([np.ones(72), nitrogen])
    fit = fit_reml(records["Y"], design, records["B"], records["V"])
    assert fit.effects == pytest.approx([81.872, 73.667], abs=1e-3)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx([6.945, 6.781], rel=1e-3)
    v = fit.components
    sd = np.sqrt([v.block, v.whole_plot, v.sub_plot])
    assert sd == pytest.approx([14.506, 11.005, 12.867], rel=1e-3)
    assert fit.log_likelihood == pytest.approx(-296.521, abs=1e-3)


def test_reml_of_the_full_model_is_the_analysis_of_variance(plots, analysis):
    design = np.tile(np.eye(12), (6, 1))
    block, whole = np.repeat(np.arange(6), 12), np.tile(np.repeat(np.arange(3), 4), 6)
    fit = fit_reml(np.ravel(plots.values), design, block, whole)
    assert fit.log_likelihood == pytest.approx(-264.514, abs=1e-3)
    assert fit.components.whole_plot == pytest.approx(analysis.components.whole_plot, rel=1e-3)
    assert fit.effects == pytest.approx(analysis.cell_means.ravel(), abs=1e-6)


@pytest.fixture(scope="module")
def gaps(records):
    # five plots of one, two and no whole plot taken away
    return records.drop(index=[0, 5, 17, 40, 41])


def test_missing_plots_against_a_likelihood_written_out(gaps):
    """The restricted likelihood as a dense normal density, minimised by another optimiser."""
    analysis = analyse_split_plots(split_plots(gaps, "Y", block="B", whole="V", sub="N"))
    y = gaps["Y"].to_numpy(float)
    x = pd.get_dummies(gaps["V"] + gaps["N"], dtype=float)
    z1 = pd.get_dummies(gaps["B"], dtype=float).to_numpy()
    z2 = pd.get_dummies(gaps["B"] + gaps["V"], dtype=float).to_numpy()

    def parts(log_variances):
        s1, s2, s3 = np.exp(log_variances)
        v = s1 * z1 @ z1.T + s2 * z2 @ z2.T + s3 * np.eye(y.size)
        vx = np.linalg.solve(v, x.to_numpy())
        information = x.to_numpy().T @ vx
        beta = np.linalg.solve(information, vx.T @ y)
        e = y - x.to_numpy() @ beta
        deviance = np.linalg.slogdet(v)[1] + np.linalg.slogdet(information)[1]
        return deviance + e @ np.linalg.solve(v, e), beta, information

    best = minimize(
        lambda p: parts(p)[0], np.log([200, 100, 180]), method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-10, "maxiter": 4000},
    )  # fmt: skip
    _, beta, information = parts(best.x)
    v = analysis.components
    assert [v.block, v.whole_plot, v.sub_plot] == pytest.approx(np.exp(best.x), rel=2e-3)
    ours = {
        whole + sub: analysis.cell_means[i, j]
        for i, whole in enumerate(analysis.wholes)
        for j, sub in enumerate(analysis.subs)
    }
    assert [ours[name] for name in x.columns] == pytest.approx(beta, abs=0.01)
    nitrogen_by_hand = np.array([1.0 if name.endswith("0.6cwt") else 0.0 for name in x.columns])
    nitrogen_by_hand -= np.array([1.0 if name.endswith("0.0cwt") else 0.0 for name in x.columns])
    nitrogen_by_hand /= 3
    error = np.sqrt(nitrogen_by_hand @ np.linalg.solve(information, nitrogen_by_hand))
    pair = next(
        d for d in differences(analysis, "sub") if {d.first, d.second} == {"0.0cwt", "0.6cwt"}
    )
    assert pair.standard_error == pytest.approx(error, rel=2e-3)


def test_missing_plots_against_statsmodels(gaps):
    analysis = analyse_split_plots(split_plots(gaps, "Y", block="B", whole="V", sub="N"))
    theirs = smf.mixedlm(
        "Y ~ 0 + C(V):C(N)", gaps, groups="B", re_formula="1", vc_formula={"bed": "0 + C(V)"}
    ).fit(reml=True)
    v = analysis.components
    expected = [theirs.cov_re.iloc[0, 0], theirs.vcomp[0], theirs.scale]
    assert [v.block, v.whole_plot, v.sub_plot] == pytest.approx(expected, rel=2e-3)
    for (i, whole), (j, sub) in itertools.product(
        enumerate(analysis.wholes), enumerate(analysis.subs)
    ):
        name = f"C(V)[{whole}]:C(N)[{sub}]"
        assert analysis.cell_means[i, j] == pytest.approx(theirs.fe_params[name], abs=0.02)


def test_missing_plots_cost_degrees_of_freedom_and_are_told(gaps):
    analysis = analyse_split_plots(split_plots(gaps, "Y", block="B", whole="V", sub="N"))
    assert analysis.method == "REML"
    assert analysis.source("V").error_df == 10
    assert analysis.source("N").error_df == 40
    assert "5 of 72 plots are missing" in analysis.notes
    assert int(np.isfinite(analysis.residuals.sub_plot).sum()) == 67
    # the conclusions of the whole trial stand
    assert analysis.source("V").p > 0.1
    assert analysis.source("N").p < 1e-9
    assert analysis.source("V x N").p > 0.8


def test_statement_without_letters(analysis):
    lines = what_differs(analysis)
    assert lines[0] == "V: F 1.49 on 2 and 10 degrees of freedom, p 0.272"
    assert any(line.startswith("Victory and Golden.rain not told apart") for line in lines)
    assert any(line.startswith("0.6cwt more than 0.0cwt by 44 (") for line in lines)
    # Tukey's HSD for nitrogen: q(.95; 4, 45) = 3.77 (computed) x 4.4358 / sqrt 2 = 11.83
    pair = next(d for d in differences(analysis, "sub") if d.first == "0.4cwt")
    assert (pair.upper - pair.lower) / 2 == pytest.approx(11.83, abs=0.02)
    assert not pair.told_apart


def test_residuals_carry_the_error_sums_of_squares(analysis):
    residuals = analysis.residuals
    assert float((residuals.sub_plot**2).sum()) == pytest.approx(7968.75)
    assert 4 * float((residuals.whole_plot**2).sum()) == pytest.approx(6013.306, abs=1e-3)
    scores, ordered = residuals.normal_scores()
    assert scores.size == ordered.size == 72
    assert np.corrcoef(scores, ordered)[0, 1] > 0.98
    assert residuals.normal_scores("whole_plot")[0].size == 18
