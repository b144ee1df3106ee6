"""Barley at six places in two years, as a trial in randomised blocks: mean of both years by place.

Immer, Hayes and Powers (1934), J. Amer. Soc. Agron. 26:403-419, five varieties, as distributed with
an R package (MASS, data set immer), in data/immer1934_barley.csv. Values computed by code
independent of this package. Tolerance: half of the last digit given.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from phenocast.trials import analyse_blocks, block_plots


def test_places_as_blocks():
    records = pd.read_csv(Path(__file__).parent / "data" / "immer1934_barley.csv")
    records["mean"] = (records["Y1"] + records["Y2"]) / 2
    analysis = analyse_blocks(block_plots(records, "mean", block="Loc", treatment="Var"))
    place, variety, error = analysis.table
    assert (place.df, variety.df, error.df) == (5, 4, 20)
    assert place.ss == pytest.approx(10610.45, abs=5e-3)
    assert variety.ss == pytest.approx(2654.99, abs=5e-3)
    assert error.ss == pytest.approx(2216.51, abs=5e-3)
    assert variety.f == pytest.approx(5.989, abs=5e-4)
