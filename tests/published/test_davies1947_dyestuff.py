"""Five preparations from each of six batches of a dye intermediate: REML.

Davies (1947), Statistical Methods in Research and Production, Oliver and Boyd: yield of standard
colour [g], as distributed in the R package lme4, `Dyestuff`. REML criterion 319.6543
and variances 1764.05 and 2451.25 recalled from memory of lme4's documentation and computed by code
independent of this package. Tolerance: half of the last digit given.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from phenocast.trials.results import fit_reml

DATA = Path(__file__).parent / "data" / "davies1947_dyestuff.csv"


@pytest.fixture
def yields():
    return pd.read_csv(DATA).groupby("Batch")["Yield"].apply(lambda one: one.to_numpy())


def test_reml_of_the_same_batches(yields):
    """One whole plot a batch makes batch and whole plot one thing: their variances add up to it."""
    y = np.concatenate(list(yields))
    batch = np.repeat(np.arange(6), 5)
    fit = fit_reml(y, np.ones((30, 1)), batch, batch)
    assert -2.0 * fit.log_likelihood == pytest.approx(319.6543, abs=5e-5)
    between = fit.components.block + fit.components.whole_plot
    assert between == pytest.approx(1764.05, rel=1e-3)
    assert fit.components.sub_plot == pytest.approx(2451.25, rel=1e-3)
