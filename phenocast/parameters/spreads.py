"""Names of the spreads that a fit finds between seasons and between blocks, and a forecast draws.

No shipped cultivar has them: how far apart the seasons of a field are is told by its own records.
"""

from __future__ import annotations

SEASON_SHIFT_SD = "season_shift_sd"
SEASON_LEVEL_SD = "season_level_sd"
PLOT_LEVEL_SD = "plot_level_sd"

FIELD_SPREADS = (SEASON_SHIFT_SD, SEASON_LEVEL_SD, PLOT_LEVEL_SD)
"""Of what makes all blocks of a season late [d], of the logarithm of supply of a season [1], and of
that of one block in a season [1]. A cultivar's parameter file may state them; none need."""
