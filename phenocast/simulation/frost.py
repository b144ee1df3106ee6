"""What frost takes: seasons without a frost night, and the flowers that each night kills."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from phenocast._typing import BoolArray, FloatArray
from phenocast.harvest.kernels import FLOWER_OPEN_D
from phenocast.parameters import frost
from phenocast.phenology.daily import FLOWER_MIN
from phenocast.phenology.trusses import POPCORN_D


@dataclass(frozen=True)
class FrostNights:
    """Frost of one block under every weather trace.

    Parameters
    ----------
    bare_min_c, flower_min_c : arrays ``[traces, days]``
        Lowest flower temperature without protection, and as the block is protected. [degC]
    flowers : array ``[traces]``
        Flowers of a season without frost nights, mean of the draws, per plant.
    flowers_lost, fruit_lost : arrays ``[traces, days]``
        Flowers and marketable fruit that each night takes, mean of the draws. [per plant, g per
        plant]
    """

    bare_min_c: FloatArray
    flower_min_c: FloatArray
    flowers: FloatArray
    flowers_lost: FloatArray
    fruit_lost: FloatArray

    def cut(self, n_days: int) -> FrostNights:
        """Return the frost of the first days."""
        of_days = ("bare_min_c", "flower_min_c", "flowers_lost", "fruit_lost")
        return replace(self, **{name: getattr(self, name)[..., :n_days] for name in of_days})

    @property
    def has_nights(self) -> bool:
        """Whether any trace has a frost night, as the block is protected."""
        return bool(frost_nights(self.flower_min_c).any())


def frost_nights(flower_min_c: FloatArray) -> BoolArray:
    """Return which days have a frost night: flowers fall below the melting point.

    Parameters
    ----------
    flower_min_c : array of any shape
        Lowest temperature of an open flower in each day. [degC]

    Examples
    --------
    >>> frost_nights(np.array([-0.1, 0.0, 2.0])).tolist()
    [True, False, False]
    """
    return np.asarray(flower_min_c < frost().value("night_below"))


def without_frost(daily: FloatArray) -> FloatArray:
    """Return a copy of daily tables ``[..., N_DAILY, days]`` in which no night is a frost night.

    What a season loses to frost is the difference to the same season on this table.
    """
    spared = daily.copy()
    spared[..., FLOWER_MIN, :] = np.maximum(daily[..., FLOWER_MIN, :], frost().value("night_below"))
    return spared


def lost_by_night(
    flowers: FloatArray,
    fruit_g: FloatArray,
    flower_min_c: FloatArray,
    air_development: FloatArray,
    plants: np.recarray[Any, Any],
) -> tuple[FloatArray, FloatArray]:
    """Return the flowers and the fruit that each frost night kills.

    Parameters
    ----------
    flowers, fruit_g : arrays ``[draws, days]``
        Flowers that open and fruit that ripens on each day of a season without frost. [per plant,
        g per plant]
    flower_min_c : array ``[days]``
        Lowest flower temperature of each day. [degC]
    air_development : array ``[days]``
        Development of buds, flowers and fruit in the air. [degC d]
    plants : recarray ``[draws]``
        With the critical temperatures of each draw.

    Returns
    -------
    flowers, fruit : arrays ``[days]``
        Mean of the draws. Flowers are killed as buds or open, fruit as buds, flowers or green
        fruit; what several nights would kill is shared out between them by how hard each is. That
        plants set more of the flowers that are left is not in it.

    Notes
    -----
    The survival of `phenocast.phenology.prefix.frost_log_survival`, stage by stage: a flower
    opens at the middle of its day and stays open for `FLOWER_OPEN_D` days; it shows white for
    `POPCORN_D` days before, and is a tight bud from the emergence of its truss until then.
    """
    days = np.arange(flowers.shape[1] + 1.0)
    clock = np.concatenate([[0.0], np.cumsum(air_development)])
    middle = np.broadcast_to(days[:-1] + 0.5, flowers.shape)
    ripe_at = np.interp(middle, days, clock)
    opened = np.interp(ripe_at - plants["anthesis_to_ripe"][:, None], clock, days)
    never = np.full(flowers.shape, -np.inf)  # green fruit is not counted with the flowers
    return (
        _killed(flowers, middle, never, flower_min_c, clock, plants),
        _killed(fruit_g, opened, middle, flower_min_c, clock, plants),
    )


def _killed(
    amount: FloatArray,
    opens: FloatArray,
    ripens: FloatArray,
    flower_min_c: FloatArray,
    clock: FloatArray,
    plants: np.recarray[Any, Any],
) -> FloatArray:
    """Return what each night kills of an amount ``[draws, days]``, mean of the draws, ``[days]``.

    ``opens`` and ``ripens`` ``[draws, days]`` date its flowers and fruit.
    """
    lost = np.zeros(len(flower_min_c))
    borne = np.flatnonzero(amount.any(axis=0))
    amount, opens, ripens = amount[:, borne], opens[:, borne], ripens[:, borne]
    days = np.arange(len(clock))
    to_open = plants["initiation_to_anthesis"] * (1.0 - plants["emergence_share"])
    emerges = np.interp(np.interp(opens, days, clock) - to_open[:, None], clock, days)
    white, closes = np.maximum(opens - POPCORN_D, emerges), opens + FLOWER_OPEN_D
    stages = (
        ("frost_bud", emerges, white), ("frost_popcorn", white, opens),
        ("frost_open", opens, closes), ("frost_green", closes, ripens),
    )  # fmt: skip
    last = np.maximum(closes, ripens)
    harms = {}
    for night in np.flatnonzero(frost_nights(flower_min_c)).tolist():
        if not ((emerges < night + 1.0) & (last > night)).any():
            continue
        harms[night] = sum(
            np.clip(np.minimum(stop, night + 1.0) - np.maximum(start, night), 0.0, 1.0)
            * _harm(float(flower_min_c[night]), stage, plants)[:, None]
            for stage, start, stop in stages
        )
    total = sum(harms.values(), np.zeros_like(amount))
    killed = amount * -np.expm1(-total)
    per_harm = np.divide(killed, total, out=np.zeros_like(killed), where=total > 0.0)
    for night, harm in harms.items():
        lost[night] = (per_harm * harm).sum(axis=1).mean()
    return lost


def _harm(temperature_c: float, stage: str, plants: np.recarray[Any, Any]) -> FloatArray:
    """Return by how much a night lowers the logarithm of survival, against one at melting."""

    def at(night_c: float) -> FloatArray:
        above = night_c - plants[stage] + plants["frost_half_below"]
        return np.asarray(np.logaddexp(0.0, -above / plants["frost_width"]))

    return at(temperature_c) - at(frost().value("night_below"))
