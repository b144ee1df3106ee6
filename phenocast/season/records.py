"""What was seen in the blocks of a season so far."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class SeasonRecords:
    """Records of one season, one row for each block and day of a visit.

    Parameters
    ----------
    blocks : mapping of str to DataFrame
        By name of the block, in order of days; a block without a record is not there. Columns:

        - ``day`` (int): whole days from planting. [d]
        - ``plants_seen``, ``plants_in_bloom``: plants looked at, and those with an open flower.
        - ``plants_counted``: plants whose flowers and fruit were counted.
        - ``open_flowers``, ``green_fruit``, ``ripe_fruit``: a plant.
        - ``marketable_g``: picked on the day; 0 where none was ripe, NaN where nothing was weighed
          or ripe fruit was left. [g per plant set]
        - ``fruit_g``: all fruit picked, culls included. [g per plant set]
        - ``picked`` (bool): fruit was taken, or none was ripe.
        - ``fruit_left`` (bool): ripe fruit was left for want of people, for rain, price or a closed
          field.
        - ``lost_share``: plants lost since the visit before, of those planted, 0 to 1.

        NaN where nothing was recorded. Plots of a block are averaged, their plants added up.
    warnings : tuple of str
        What is not used, with row and value, and what should be looked at.
    source : str
        Name of the file.

    Examples
    --------
    >>> SeasonRecords().blocks
    {}
    """

    blocks: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    source: str = ""
