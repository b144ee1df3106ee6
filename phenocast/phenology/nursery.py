"""The nursery leg: what a transplant brings to the field, from the weather of its nursery.

The same equations run over the weeks in the nursery. What comes out replaces the state that the
transplant type assumes: trusses already initiated, how far on they are, and induction under way.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.phenology import work as rows
from phenocast.phenology.daily import CHILL, PHOTOPERIOD, check_daily
from phenocast.phenology.development import develop
from phenocast.phenology.prefix import PHOTOPERIOD_RAMP_H
from phenocast.phenology.steps import ramp
from phenocast.vector import lane_records


@dataclass(frozen=True)
class NurseryState:
    """A transplant as it leaves the nursery.

    Parameters
    ----------
    trusses : trusses initiated and not yet emerged. [1 per plant]
    progress : share of the way to emergence of the first, second and third truss. [1]
    induction : induction under way, in requirements. [1]
    chill_h : chill felt in short days. [h]
    """

    trusses: float
    progress: tuple[float, float, float]
    induction: float
    chill_h: float


def nursery_state(daily: FloatArray, plant: Any) -> NurseryState:
    """Run a young plant through its weeks in the nursery.

    Parameters
    ----------
    daily : array ``[N_DAILY, n_days]`` of the nursery, up to the day of lifting.
    plant : one record of `plant_records`; only its cultivar matters here.

    Returns
    -------
    NurseryState
        A truss that emerged in the nursery is not counted: it is lost in lifting and planting.

    Raises
    ------
    InputError
        A daily table with missing or impossible values.

    Examples
    --------
    >>> from phenocast.parameters import cultivars, transplants
    >>> from phenocast.phenology import plant_records
    >>> from phenocast.phenology.chamber import chamber_days
    >>> plant = plant_records(cultivars()["Basalt"], transplants()["bare-root"])[0]
    >>> state = nursery_state(chamber_days(30, 15.0, 11.0), plant)
    >>> 0.5 < state.trusses < 2.0, state.progress[0] > state.progress[1]
    (True, True)
    """
    check_daily(daily)
    young = np.array([plant], dtype=plant.dtype).view(np.recarray)
    for name in ("trusses_at_planting", "induction_carried", "chill_carried"):
        young[name] = 0.0
    young["establishment_development"] = 0.0
    n_days = daily.shape[1]
    work = rows.make_work(n_days)
    develop(daily, lane_records(young)[0], work)
    first_lane = work.rows[:, :, 0]
    trusses = first_lane[rows.FLOWERS_INITIATED, :n_days] / plant.flowers_per_truss
    clock = first_lane[rows.BUD_CLOCK]
    start = 0.5 * (clock[:n_days] + clock[1 : n_days + 1])
    to_emerge = plant.emergence_share * plant.initiation_to_anthesis
    progress = (clock[n_days] - start) / to_emerge
    trusses = np.where(progress < 1.0, trusses, 0.0)
    total = float(trusses.sum())
    before = np.concatenate([[0.0], np.cumsum(trusses)])
    reached = []
    for first, last in ((0.0, 1.0), (1.0, 2.0), (2.0, np.inf)):
        share = np.clip(before[1:], first, last) - np.clip(before[:-1], first, last)
        reached.append(float(share @ progress / share.sum()) if share.sum() > 0.0 else 0.0)
    short = np.array(
        [
            1.0 - ramp(float(p), float(plant.rest_release_photoperiod), PHOTOPERIOD_RAMP_H)
            for p in daily[PHOTOPERIOD]
        ]
    )
    return NurseryState(
        trusses=total,
        progress=(reached[0], reached[1], reached[2]),
        induction=float(first_lane[rows.INDUCTION_SUM, n_days - 1] / plant.induction_requirement),
        chill_h=float(daily[CHILL] @ short),
    )


def plant_from_nursery(plant: Any, state: NurseryState) -> np.recarray[Any, Any]:
    """Put the state of a nursery in place of what the transplant type assumes.

    Parameters
    ----------
    plant : one record of `plant_records`.
    state : from `nursery_state`.

    Returns
    -------
    record array ``[1]``.

    Examples
    --------
    >>> from phenocast.parameters import cultivars, transplants
    >>> from phenocast.phenology import plant_records
    >>> plant = plant_records(cultivars()["Basalt"], transplants()["bare-root"])[0]
    >>> state = NurseryState(1.2, (0.4, 0.1, 0.0), 0.9, 0.0)
    >>> plant_from_nursery(plant, state)[0].second_truss_progress
    np.float64(0.25)
    """
    changed = np.array([plant], dtype=plant.dtype).view(np.recarray)
    first = state.progress[0]
    changed["trusses_at_planting"] = state.trusses
    changed["truss_progress"] = first
    changed["second_truss_progress"] = state.progress[1] / first if first > 0.0 else 0.0
    changed["third_truss_progress"] = state.progress[2] / first if first > 0.0 else 0.0
    changed["induction_carried"] = state.induction
    changed["chill_carried"] = state.chill_h
    return changed
