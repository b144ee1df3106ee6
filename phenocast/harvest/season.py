"""One season of one plant in one call: the friendly face of the two kernels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError
from phenocast.harvest.kernels import bear
from phenocast.phenology import work as rows
from phenocast.phenology.daily import check_daily
from phenocast.phenology.development import develop
from phenocast.vector import lane_records

DEFAULT_FIRST_PICK_G = 3.0
"""Cumulative ripe fruit per plant at which picking begins [g]: about one plant in ten with a ripe
primary fruit. A convention, kept with every record and every forecast."""


@dataclass(frozen=True)
class PlantSeason:
    """What one plant of a block did in one season.

    Dates are days since the beginning of the planting day, with fractions, and infinite where the
    stage is not reached. Daily series have shape ``[n_days]``.

    Parameters
    ----------
    flower_initiation : half of the plants induced; 0 where the transplant came induced. [d]
    emergence : half a truss per plant has emerged. [d]
    anthesis : half of the plants have an open primary flower. [d]
    first_ripe : half a ripe fruit per plant, of any rank. [d]
    first_pick : cumulative ripe fruit passes ``first_pick_g_per_plant``. [d]
    rest_release : winter rest ends; infinite where there was none. [d]
    surviving_share : share of plants that lived through the heat after planting. [1]
    first_pick_g_per_plant : the threshold of first pick. [g]
    ripe_g, marketable_g : ripe fruit per plant set, all and marketable. [g d-1]
    ripe_fruit : number of ripe fruit per plant set. [d-1]
    flowers_initiated : flowers initiated per living plant. [d-1]
    flowers_open : flowers that open per living plant, before frost. [d-1]
    induced_share : share of plants induced. [1]
    resting_share : share of plants at rest at the end of each day. [1]
    leaves : leaves since planting. [1]
    branch_crowns : crowns per plant. [1]
    vigour : what heat has left of growth, 1 without heat. [1]
    """

    flower_initiation: float
    emergence: float
    anthesis: float
    first_ripe: float
    first_pick: float
    rest_release: float
    surviving_share: float
    first_pick_g_per_plant: float
    ripe_g: FloatArray
    marketable_g: FloatArray
    ripe_fruit: FloatArray
    flowers_initiated: FloatArray
    flowers_open: FloatArray
    induced_share: FloatArray
    resting_share: FloatArray
    leaves: FloatArray
    branch_crowns: FloatArray
    vigour: FloatArray

    @property
    def n_days(self) -> int:
        """Number of days that were followed."""
        return len(self.ripe_g)


def grow(
    daily: FloatArray, plant: Any, first_pick_g_per_plant: float = DEFAULT_FIRST_PICK_G
) -> PlantSeason:
    """Follow one plant through a season.

    Parameters
    ----------
    daily : array ``[N_DAILY, n_days]``, see `phenocast.phenology.daily`.
    plant : one record of `phenocast.phenology.plant_records`.
    first_pick_g_per_plant : cumulative ripe fruit per plant at which picking begins. [g]

    Returns
    -------
    PlantSeason

    Raises
    ------
    InputError
        A daily table with missing or impossible values, or a threshold that is not above 0.

    Examples
    --------
    >>> from phenocast.parameters import cultivars, transplants
    >>> from phenocast.phenology import plant_records
    >>> from phenocast.phenology.chamber import chamber_days
    >>> plant = plant_records(cultivars()["Basalt"], transplants()["cold-stored"])[0]
    >>> season = grow(chamber_days(150, crown_c=15.0, photoperiod_h=16.0), plant)
    >>> season.anthesis < season.first_pick < season.first_ripe
    True
    """
    check_daily(daily)
    if not first_pick_g_per_plant > 0.0:
        raise InputError(
            Fault(
                "the threshold of first pick is not above 0",
                where="first_pick_g_per_plant",
                value=first_pick_g_per_plant,
                allowed="> 0 g per plant",
            )
        )
    n_days = daily.shape[1]
    work = rows.make_work(n_days)
    records = lane_records(np.array([plant], dtype=plant.dtype))
    develop(daily, records[0], work)
    bear(daily, records[0], first_pick_g_per_plant, work)
    dates = work.dates[:, 0]

    def series(row: int) -> FloatArray:
        return work.rows[row, :n_days, 0].copy()

    return PlantSeason(
        flower_initiation=float(dates[rows.FLOWER_INITIATION]),
        emergence=float(dates[rows.EMERGENCE]),
        anthesis=float(dates[rows.ANTHESIS]),
        first_ripe=float(dates[rows.FIRST_RIPE]),
        first_pick=float(dates[rows.FIRST_PICK]),
        rest_release=float(dates[rows.REST_RELEASE]),
        surviving_share=float(dates[rows.SURVIVING_SHARE]),
        first_pick_g_per_plant=first_pick_g_per_plant,
        ripe_g=series(rows.RIPE_G),
        marketable_g=series(rows.MARKETABLE_G),
        ripe_fruit=series(rows.RIPE_FRUIT),
        flowers_initiated=series(rows.FLOWERS_INITIATED),
        flowers_open=series(rows.OPEN_1) + series(rows.OPEN_2) + series(rows.OPEN_3),
        induced_share=series(rows.INDUCED_SHARE),
        resting_share=work.rows[rows.RESTING, 1 : n_days + 1, 0].copy(),
        leaves=series(rows.LEAVES),
        branch_crowns=series(rows.BRANCH_CROWNS),
        vigour=series(rows.VIGOUR),
    )
