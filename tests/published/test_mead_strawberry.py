"""Strawberry yields of eight varieties in four randomised blocks.

Mead, The Design of Experiments (1990), as distributed in an open package of agricultural data sets
(MIT licence), in data/mead_strawberry.csv. Values computed by code independent of this package.
Tolerance: half of the last digit given.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from phenocast.trials import analyse_blocks, block_plots


def test_randomised_blocks():
    records = pd.read_csv(Path(__file__).parent / "data" / "mead_strawberry.csv")
    analysis = analyse_blocks(block_plots(records, "yield", block="block", treatment="gen"))
    block, variety, error = analysis.table
    assert (block.df, variety.df, error.df) == (3, 7, 21)
    assert block.ss == pytest.approx(21.16625, abs=5e-6)
    assert variety.ss == pytest.approx(29.16375, abs=5e-6)
    assert error.ss == pytest.approx(23.73875, abs=5e-6)
    assert variety.f == pytest.approx(3.686, abs=5e-4)
    assert variety.p == pytest.approx(0.0094, abs=5e-5)
