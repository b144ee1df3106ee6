"""Vines are not replicates: shading of kiwifruit, four vines in each of twelve plots.

Snelgar, Manson and Martin (1992), J. Hort. Sci. 67:273-279 (citation recalled from memory), as
distributed with an R package (DAAG, data set kiwishade), in data/snelgar1992_kiwishade.csv;
analysed in Maindonald and Braun, Data Analysis and Graphics Using R (recalled from memory). Shade
was given to whole plots: F is 22.211 on 3 and 6 degrees of freedom. Judged by the vines within
plots it would be 38.2, the mistake that this file is about. Values computed by code independent of
this package.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from phenocast.errors import InputError
from phenocast.trials import analyse_blocks, block_plots


@pytest.fixture(scope="module")
def records():
    return pd.read_csv(Path(__file__).parent / "data" / "snelgar1992_kiwishade.csv")


def test_vines_are_refused_as_plots(records):
    with pytest.raises(InputError, match="4 records of one plot") as caught:
        block_plots(records, "yield", treatment="shade")
    assert "block north, shade none" in str(caught.value)


def test_plot_means_give_the_right_test(records):
    plots = block_plots(records, "yield", treatment="shade", subsamples="mean")
    analysis = analyse_blocks(plots)
    block, shade, error = analysis.table
    assert (shade.df, shade.error_df) == (3, 6)
    assert shade.f == pytest.approx(22.211, abs=1e-3)
    # the published sums are of vines, four to a plot
    sums = [4 * line.ss for line in (block, shade, error)]
    assert sums == pytest.approx([172.348, 1394.511, 125.568], abs=5e-3)
    assert "averaged" in analysis.notes[0]


def test_the_wrong_error_would_have_been_surer(records):
    # what must not come out anywhere: shade against the 36 degrees of freedom of vines
    within = records["yield"] - records.groupby("plot")["yield"].transform("mean")
    wrong = (1394.511 / 3) / (float((within**2).sum()) / 36)
    assert wrong == pytest.approx(38.16, abs=0.01)
    plots = block_plots(records, "yield", treatment="shade", subsamples="mean")
    assert analyse_blocks(plots).table[1].f < wrong
