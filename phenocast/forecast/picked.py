"""What the picks of one block-season show: when the first pick came, and what each visit took."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError
from phenocast.harvest.weeks import iso_week

# A first visit that already found more than the threshold: the fruit came within a usual round.
USUAL_ROUND_D = 7.0
# Ripe fruit does not wait on the plant for longer: a visit after such a pause is not compared.
LONGEST_WAIT_D = 21.0
NOON = 0.5  # a visit stands at the middle of its day


@dataclass(frozen=True)
class PickedBlock:
    """Records of one block-season.

    Parameters
    ----------
    visits : array ``[visit]``
        Days since planting, at noon. [d]
    taken : array ``[visit]``
        Marketable fruit of each visit, mean over plots. [g per plant]
    weeks : tuple of str ``[visit]``
        ISO week of each visit.
    lower, upper : float
        The first pick lies between them; ``upper`` is infinite where it was never reached. [d]
    round_assumed : bool
        The first visit found it already, so ``lower`` is a usual round before.
    """

    visits: FloatArray
    taken: FloatArray
    weeks: tuple[str, ...]
    lower: float
    upper: float
    round_assumed: bool = False

    @property
    def middle(self) -> float:
        """Middle of the interval of the first pick. [d]"""
        return 0.5 * (self.lower + self.upper)

    def by_week(self, taken: FloatArray) -> tuple[tuple[str, ...], FloatArray]:
        """Sum visits into their ISO weeks: ``[..., visit]`` to ``[..., week]``.

        Visits after a pause of more than `LONGEST_WAIT_D` days are left out.
        """
        held = np.diff(self.visits, prepend=self.visits[:1]) <= LONGEST_WAIT_D
        kept = [week for week, one in zip(self.weeks, held, strict=True) if one]
        labels = tuple(dict.fromkeys(kept))
        if not labels:
            return (), np.zeros((*taken.shape[:-1], 0))
        starts = [kept.index(label) for label in labels]
        return labels, np.asarray(np.add.reduceat(taken[..., held], starts, axis=-1))

    def as_picked(self, so_far: FloatArray) -> FloatArray:
        """Fruit that the recorded visits would have taken.

        Parameters
        ----------
        so_far : array ``[..., visit]``
            Marketable fruit that is ripe by each visit. [g per plant]

        Returns
        -------
        array ``[..., visit]``
            What ripened since the visit before; at the first visit, since planting. [g per plant]

        Examples
        --------
        >>> block = PickedBlock(np.array([1.5, 3.5]), np.zeros(2), ("", ""), 0.0, 1.0)
        >>> block.as_picked(np.array([2.0, 11.0])).tolist()
        [2.0, 9.0]
        """
        return np.asarray(np.diff(so_far, axis=-1, prepend=0.0))


def picked_block(records: pd.DataFrame, planting: date, threshold_g: float) -> PickedBlock:
    """Read the picks of one block in one season.

    Parameters
    ----------
    records : DataFrame
        Rows of the block: ``date`` (datetime64), ``marketable_g_per_plant`` [g per plant], and
        ``event`` ("first pick") where a date was recorded instead of weights.
    planting : date
    threshold_g : float
        Cumulative marketable fruit that counts as the first pick. [g per plant]

    Returns
    -------
    PickedBlock

    Raises
    ------
    InputError : no pick at all, or one before planting.

    Notes
    -----
    Weights tell that the threshold was passed between two visits. A recorded date of first pick
    counts where there are no weights; the visit before it, if any, is its lower bound.

    Examples
    --------
    >>> table = pd.DataFrame({"date": pd.to_datetime(["2026-11-20", "2026-11-24", "2026-11-27"]),
    ...                       "marketable_g_per_plant": [1.0, 4.0, 9.0]})
    >>> block = picked_block(table, date(2026, 10, 1), 3.0)
    >>> block.lower, block.upper, block.weeks
    (50.5, 54.5, ('2026-W47', '2026-W48', '2026-W48'))
    """
    grams = "marketable_g_per_plant"
    weights = records.dropna(subset=[grams]) if grams in records else records.iloc[:0]
    daily = weights.groupby("date", sort=True)[grams].mean() if len(weights) else pd.Series()
    events = records[records["event"] == "first pick"] if "event" in records else records.iloc[:0]
    if not len(daily) and not len(events):
        raise InputError(Fault("no pick is recorded", value=f"{len(records)} rows"))
    days = (pd.DatetimeIndex(records["date"]) - pd.Timestamp(planting)).days
    if days.min() < 0:
        raise InputError(Fault("a pick before planting", value=str(records["date"].min())[:10],
                               allowed=f"{planting} or later"))  # fmt: skip
    if len(daily):
        visits = (pd.DatetimeIndex(daily.index) - pd.Timestamp(planting)).days.to_numpy() + NOON
        taken = daily.to_numpy(dtype=np.float64)
        reached = np.cumsum(taken) >= threshold_g
        at = int(np.argmax(reached)) if reached.any() else len(visits)
        upper = float(visits[at]) if at < len(visits) else np.inf
        before = float(visits[at - 1]) if at > 0 else None
    else:
        visits, taken = np.empty(0), np.empty(0)
        upper = float((events["date"].min() - pd.Timestamp(planting)).days) + NOON
        earlier = np.sort(days.to_numpy())[np.sort(days.to_numpy()) + NOON < upper]
        before = float(earlier[-1]) + NOON if earlier.size else None
    lower = max(0.0, upper - USUAL_ROUND_D) if before is None else before
    weeks = tuple(iso_week(planting + timedelta(days=int(day))) for day in visits)
    return PickedBlock(visits.astype(np.float64), taken, weeks, lower, upper, before is None)
