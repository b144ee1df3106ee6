"""Chamber trials in a fit: how many plants came to flower at one temperature and day length.

They speak of induction alone, and speak of it plainly, for nothing else varies. The expected share
is that of the field's equations under constant conditions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from phenocast._typing import FloatArray, IntArray
from phenocast.calibration.cultivar.likelihood import share_log_likelihood
from phenocast.calibration.cultivar.parameters import CULTIVAR, Layout
from phenocast.parameters import Parameter, ParameterSet
from phenocast.phenology.induction import (
    photoperiod_response_long_day_promoted,
    photoperiod_response_short_day,
    share_induced,
)
from phenocast.thermal_time import wang_engel

# What of induction a fit may move, and the chance that a plant flowers, or does not, whatever the
# treatment: without it one odd plant would rule out a whole set of numbers. Own assumption.
INDUCTION = ("induction_requirement", "critical_photoperiod_18", "induction_ceiling")
ODD_PLANT = 0.01
_STEP = 0.05


@dataclass(frozen=True)
class ChamberTerms:
    """Log-likelihood of the trials of one cultivar, with slope and information on its entries."""

    entries: IntArray
    log_likelihood: float
    slope: FloatArray
    information: FloatArray


class Chambers:
    """Chamber trials of the cultivars of a fit.

    Parameters
    ----------
    trials : DataFrame
        Columns ``cultivar, temperature_c, photoperiod_h, days, plants, flowering``.
    sets : mapping of cultivar to ParameterSet
    layout : Layout of the fit.
    """

    def __init__(
        self, trials: pd.DataFrame, sets: Mapping[str, ParameterSet], layout: Layout
    ) -> None:
        self.parts = []
        for name, own in trials.groupby("cultivar", sort=True):
            if str(name) not in sets:
                continue
            moved = {
                i: (one.name, one.prior)
                for i, one in enumerate(layout.entries)
                if one.group == CULTIVAR and one.owner == name and one.prior is not None
                and one.name in INDUCTION
            }  # fmt: skip
            self.parts.append((sets[str(name)], own, moved))

    def terms(self, vector: FloatArray) -> list[ChamberTerms]:
        """Terms of each cultivar under a vector."""
        found = []
        for cultivar, trials, moved in self.parts:
            values = _values(moved, vector)
            share = expected_share(cultivar, trials, values)
            plants = trials["plants"].to_numpy(dtype=np.float64)
            flowering = trials["flowering"].to_numpy(dtype=np.float64)
            log_l = float(share_log_likelihood(flowering, plants, share).sum())
            jacobian = np.empty((len(trials), len(moved)))
            for k, (name, prior) in enumerate(moved.values()):
                step = _STEP * prior.sd
                up, down = (
                    expected_share(cultivar, trials, {**values, name: values[name] + d})
                    for d in (step, -step)
                )
                jacobian[:, k] = (up - down) / (2.0 * _STEP)
            pull = flowering / share - (plants - flowering) / (1.0 - share)
            weight = plants / (share * (1.0 - share))
            entries = np.array(list(moved), dtype=np.int64)
            found.append(
                ChamberTerms(
                    entries, log_l, jacobian.T @ pull, (jacobian * weight[:, None]).T @ jacobian
                )
            )
        return found

    def log_likelihood(self, vector: FloatArray) -> float:
        """Log-likelihood of every trial."""
        total = 0.0
        for cultivar, trials, moved in self.parts:
            share = expected_share(cultivar, trials, _values(moved, vector))
            total += float(share_log_likelihood(trials["flowering"], trials["plants"], share).sum())
        return total


def _values(moved: Mapping[int, tuple[str, Parameter]], vector: FloatArray) -> dict[str, float]:
    """Parameters of a cultivar under a vector, by name."""
    return {name: p.value + p.sd * float(vector[i]) for i, (name, p) in moved.items()}


def expected_share(
    cultivar: ParameterSet, trials: pd.DataFrame, values: Mapping[str, float]
) -> FloatArray:
    """Share of plants that flower in each trial.

    Parameters
    ----------
    cultivar : ParameterSet
    trials : DataFrame
        Columns ``temperature_c`` [degC], ``photoperiod_h`` [h] and ``days`` [d].
    values : numbers that go before those of the set.

    Examples
    --------
    >>> from phenocast.parameters import cultivars
    >>> trials = pd.DataFrame({"temperature_c": [18.0, 30.0], "photoperiod_h": [10.0, 10.0],
    ...                        "days": [28.0, 28.0]})
    >>> expected_share(cultivars()["Basalt"], trials, {}).round(2).tolist()
    [0.98, 0.01]
    """
    known = {**cultivar.numbers(), **values}
    warm = trials["temperature_c"].to_numpy(dtype=np.float64)
    light = trials["photoperiod_h"].to_numpy(dtype=np.float64)
    rate = np.asarray(
        wang_engel(
            warm, known["induction_base"], known["induction_optimum"], known["induction_ceiling"]
        )
    )
    if cultivar.labels.get("flowering") == "day-neutral":
        felt = photoperiod_response_long_day_promoted(
            light, warm, known["critical_photoperiod_18"], known["photoperiod_width"],
            known["long_day_neutral"], known["long_day_plateau_from"],
            known["long_day_plateau_to"], known["long_day_obligate"], known["long_day_plateau"],
        )  # fmt: skip
    else:
        felt = photoperiod_response_short_day(
            light, warm, known["critical_photoperiod_18"], known["critical_photoperiod_slope"],
            known["photoperiod_width"],
        )  # fmt: skip
    total = rate * felt * trials["days"].to_numpy(dtype=np.float64)
    share = share_induced(total, known["induction_requirement"], known["induction_spread"])
    return np.asarray(ODD_PLANT + (1.0 - 2.0 * ODD_PLANT) * share)


def unused_trials(trials: pd.DataFrame, cultivars: Sequence[str]) -> list[str]:
    """Words on trials of cultivars that no block with records has."""
    missing = trials[~trials["cultivar"].isin(cultivars)]
    return [
        f"chamber trials of {name} (rows {', '.join(str(int(r)) for r in own['row'])}) are not "
        "used: no block of it has records"
        for name, own in missing.groupby("cultivar", sort=True)
    ]
