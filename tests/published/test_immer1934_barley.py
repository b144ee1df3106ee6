"""Barley at six places in two years: a trial in randomised blocks, slopes and axes of interaction.

Immer, Hayes and Powers (1934), J. Amer. Soc. Agron. 26:403-419, five varieties, as distributed with
an R package (MASS, data set immer), in data/immer1934_barley.csv. Values computed by code
independent of this package. Tolerance: half of the last digit given.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from phenocast.calibration import finlay_wilkinson, interaction_axes
from phenocast.trials import analyse_blocks, block_plots


@pytest.fixture
def records():
    return pd.read_csv(Path(__file__).parent / "data" / "immer1934_barley.csv")


def test_places_as_blocks(records):
    records["mean"] = (records["Y1"] + records["Y2"]) / 2
    analysis = analyse_blocks(block_plots(records, "mean", block="Loc", treatment="Var"))
    place, variety, error = analysis.table
    assert (place.df, variety.df, error.df) == (5, 4, 20)
    assert place.ss == pytest.approx(10610.45, abs=5e-3)
    assert variety.ss == pytest.approx(2654.99, abs=5e-3)
    assert error.ss == pytest.approx(2216.51, abs=5e-3)
    assert variety.f == pytest.approx(5.989, abs=5e-4)


def by_place_and_year(records):
    """Yields ``[variety, place and year]``, varieties in the order M, P, S, T, V."""
    long = records.melt(["Loc", "Var"], ["Y1", "Y2"], "year", "yield")
    return long.pivot_table(index="Var", columns=["Loc", "year"], values="yield").to_numpy()


def test_slopes_on_the_means_of_places(records):
    records["total"] = records["Y1"] + records["Y2"]
    found = finlay_wilkinson(
        records.pivot_table(index="Var", columns="Loc", values="total").to_numpy()
    )
    assert found.slopes == pytest.approx([0.8440, 0.6149, 0.9862, 1.6086, 0.9462], abs=5e-5)
    assert found.slopes.mean() == pytest.approx(1.0)


def test_slopes_on_the_means_of_places_and_years(records):
    found = finlay_wilkinson(by_place_and_year(records))
    assert found.slopes == pytest.approx([0.8661, 0.7989, 1.0585, 1.3456, 0.9308], abs=5e-5)
    assert found.heterogeneity_ss == pytest.approx(1187.323, abs=5e-4)
    assert found.heterogeneity_df == 4
    assert found.interaction_ss == pytest.approx(7509.064, abs=5e-4)
    assert found.interaction_df == 44


def test_axes_of_the_interaction(records):
    found = interaction_axes(by_place_and_year(records))
    assert 100 * found.shares == pytest.approx([46.64, 28.15, 17.02, 8.18], abs=5e-3)
    assert found.df.sum() == 44
