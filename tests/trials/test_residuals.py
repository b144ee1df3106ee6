"""Residuals of both strata in the document of a trial: they add up, and can be plotted."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from statsmodels.graphics.gofplots import ProbPlot

from phenocast.report.render import to_text
from phenocast.report.trial import trial_parts
from phenocast.trials import analyse_seasons, trial_document

OATS = Path(__file__).parents[1] / "published" / "data" / "yates1935_oats.csv"


def document(table):
    trials = analyse_seasons(table, "Y", block="B", whole="V", sub="N")
    return trial_document(trials, source="oats.csv", records=len(table))


@pytest.fixture
def oats():
    table = pd.read_csv(OATS, dtype={"B": str, "V": str, "N": str}, comment="#")
    return table.assign(row=range(2, len(table) + 2))


def strata(table):
    (trial,) = document(table)["trials"]
    return {one["stratum"]: one for one in trial["strata"]}


def test_residuals_have_the_sums_of_squares_of_the_published_errors(oats):
    """Yates' oats: whole-plot error 6013.306 (each whole plot is 4 sub-plots), sub-plot 7968.75."""
    told = strata(oats)
    ss = {name: np.sum(np.square(one["residual"])) for name, one in told.items()}
    assert 4 * ss["whole_plot"] == pytest.approx(6013.306, abs=1e-2)
    assert ss["sub_plot"] == pytest.approx(7968.75, abs=1e-2)


def test_fitted_and_residual_add_up_to_the_plots(oats):
    told = strata(oats)
    sub = np.add(told["sub_plot"]["fitted"], told["sub_plot"]["residual"])
    assert np.sort(sub) == pytest.approx(np.sort(oats["Y"].to_numpy()))
    whole = np.add(told["whole_plot"]["fitted"], told["whole_plot"]["residual"])
    assert np.sort(whole) == pytest.approx(np.sort(oats.groupby(["B", "V"])["Y"].mean()))


def test_normal_scores_are_those_of_another_library(oats):
    """statsmodels' ProbPlot with Blom's positions (a = 3/8)."""
    for one in strata(oats).values():
        plot = ProbPlot(np.array(one["residual"]), a=3.0 / 8.0)
        assert one["normal_score"] == pytest.approx(plot.theoretical_quantiles)
        assert one["residual"] == pytest.approx(plot.sample_quantiles)


def test_missing_plots_leave_their_places_out(oats):
    table = oats.drop(index=[3, 40])
    told = strata(table)
    assert len(told["sub_plot"]["residual"]) == 70
    assert len(told["whole_plot"]["residual"]) == 18


def test_a_spread_that_grows_is_said(oats):
    rng = np.random.default_rng(1)
    grown = oats.assign(
        Y=[float(np.exp(rng.normal(2 + 1.0 * float(n[:3]) * 5, 0.5))) for n in oats["N"]]
    )
    words = strata(grown)["sub_plot"]["in_words"]
    assert "grows with the fitted value" in words
    assert "logarithm" in words


def test_the_text_tells_of_both_strata(oats):
    text = to_text(trial_parts, document(oats))
    assert "Whole plots (V): the largest residual is" in text
    assert "Sub-plots (N): the largest residual is" in text
    assert max(map(len, text.splitlines())) <= 100
