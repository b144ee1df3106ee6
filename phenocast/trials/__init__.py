"""Analysis of designed trials.

Records become one value per plot (`split_plots`, `block_plots`), plots become an analysis with the
right error for each effect (`analyse_split_plots`, `analyse_blocks`), and that becomes sentences
(`what_differs`). `analyse_seasons` does so for every season and site of a file of records.
"""

from phenocast.trials.blocks import analyse_blocks
from phenocast.trials.document import SeasonTrial, analyse_seasons, trial_document
from phenocast.trials.layout import BlockPlots, SplitPlots, block_plots, require_beds, split_plots
from phenocast.trials.results import (
    BlockAnalysis,
    Components,
    Residuals,
    Source,
    SplitPlotAnalysis,
    StandardError,
)
from phenocast.trials.split_plot import Difference, analyse_split_plots, differences, what_differs

__all__ = [
    "BlockAnalysis",
    "BlockPlots",
    "Components",
    "Difference",
    "Residuals",
    "SeasonTrial",
    "Source",
    "SplitPlotAnalysis",
    "SplitPlots",
    "StandardError",
    "analyse_blocks",
    "analyse_seasons",
    "analyse_split_plots",
    "block_plots",
    "differences",
    "require_beds",
    "split_plots",
    "trial_document",
    "what_differs",
]
