"""Breaking angle of chocolate cake: recipes on whole batches, baking temperatures on parts of them.

Cook (1938), thesis, Iowa State College; Cochran and Cox (1957), Experimental Designs, p. 300. The
270 angles as distributed with an R package (lme4, data set cake), in data/cook1938_cake.csv; the 15
replicates are taken as blocks. Values computed by code independent of this package. Tolerance: half
of the last digit given, 1e-4 for the F ratios.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from phenocast.trials import analyse_split_plots, split_plots


@pytest.fixture(scope="module")
def analysis():
    records = pd.read_csv(Path(__file__).parent / "data" / "cook1938_cake.csv")
    plots = split_plots(records, "angle", block="replicate", whole="recipe", sub="temperature")
    return analyse_split_plots(plots)


def test_table(analysis):
    expected = {
        "replicate": (14, 10204.244),
        "recipe": (2, 135.089),
        "whole-plot error": (28, 1198.467),
        "temperature": (5, 2100.300),
        "recipe x temperature": (10, 205.978),
        "sub-plot error": (210, 4298.889),
    }
    for name, (df, ss) in expected.items():
        assert analysis.source(name).df == df
        assert analysis.source(name).ss == pytest.approx(ss, abs=5e-4)


def test_f_ratios(analysis):
    for name, f, p in (
        ("recipe", 1.5781, 0.224),
        ("temperature", 20.5199, 1.15e-16),
        ("recipe x temperature", 1.0062, 0.439),
    ):
        assert analysis.source(name).f == pytest.approx(f, abs=1e-4)
        assert analysis.source(name).p == pytest.approx(p, abs=5e-4, rel=5e-3)
