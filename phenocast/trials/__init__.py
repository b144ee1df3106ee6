"""Analysis of designed trials.

Records become one value per plot (`split_plots`, `block_plots`), plots become an analysis with the
right error for each effect (`analyse_split_plots`, `analyse_blocks`), and that becomes sentences
(`what_differs`).
"""

from phenocast.trials.blocks import analyse_blocks
from phenocast.trials.differences import Difference, differences, what_differs
from phenocast.trials.layout import BlockPlots, SplitPlots, block_plots, split_plots
from phenocast.trials.results import (
    BlockAnalysis,
    Components,
    Residuals,
    Source,
    SplitPlotAnalysis,
    StandardError,
)
from phenocast.trials.split_plot import analyse_split_plots
from phenocast.trials.trend import Trend, sub_plot_trend

__all__ = [
    "BlockAnalysis",
    "BlockPlots",
    "Components",
    "Difference",
    "Residuals",
    "Source",
    "SplitPlotAnalysis",
    "SplitPlots",
    "StandardError",
    "Trend",
    "analyse_blocks",
    "analyse_split_plots",
    "block_plots",
    "differences",
    "split_plots",
    "sub_plot_trend",
    "what_differs",
]
