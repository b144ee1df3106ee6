"""Stability variances of five barleys at six places.

Shukla (1972), Some statistical aspects of partitioning genotype-environmental components of
variability, Heredity 29:237-245, table 4; also Fernandez (1991), Analysis of genotype x environment
interaction by stability estimates, HortScience 26:947-950, table 3 (values read; pages recalled).
Yields: Immer, Hayes and Powers (1934) as distributed with an R package (MASS, data set immer), in
data/immer1934_barley.csv: totals of both years by place, variances divided by 6 to reach the scale
of the source. Tolerance: 1e-5, one unit of the last digit given.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from phenocast.calibration import stability_variance

PUBLISHED = {
    "M": 25.87912,  # Manchuria
    "P": 75.68001,  # Peatland
    "S": 19.59984,  # Svansota
    "T": 225.52866,  # Trebi
    "V": 22.73051,  # Velvet
}


def test_stability_variances():
    records = pd.read_csv(Path(__file__).parent / "data" / "immer1934_barley.csv")
    records["total"] = records["Y1"] + records["Y2"]
    table = records.pivot_table(index="Var", columns="Loc", values="total")
    found = dict(zip(table.index, stability_variance(table.to_numpy()) / 6, strict=True))
    assert found == pytest.approx(PUBLISHED, abs=1e-5)
