"""What was seen in a block so far, as facts of a document."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from phenocast.harvest.weeks import iso_week

if TYPE_CHECKING:
    import pandas as pd


def seen_part(visits: pd.DataFrame, planting: date, trays_per_g: float) -> dict[str, Any]:
    """Return the visits to a block and what was picked in each ISO week.

    Parameters
    ----------
    visits : DataFrame
        As a value of `phenocast.season.SeasonRecords.blocks`, at least one row.
    planting : date
    trays_per_g : float
        Trays that one picked gram of every plant of the block fills.

    Returns
    -------
    dict
        ``visits``, ``last_visit``, and ``weeks`` with picks, fruit [g per plant] and trays.

    Examples
    --------
    >>> import pandas as pd
    >>> visits = pd.DataFrame({"day": [80, 84, 90], "marketable_g": [0.0, 5.0, 7.5]})
    >>> seen_part(visits, date(2026, 10, 1), 20.0)["weeks"][0]
    {'week': '2026-W51', 'picks': 0, 'g_per_plant': 0.0, 'trays': 0}
    """
    weighed = visits[visits["marketable_g"].notna()]
    weeks = [iso_week(planting + timedelta(days=int(day))) for day in weighed["day"]]
    of_week = weighed["marketable_g"].groupby(weeks)
    grams, picks = of_week.sum(), (weighed["marketable_g"] > 0.0).groupby(weeks).sum()
    return {
        "visits": len(visits),
        "last_visit": (planting + timedelta(days=int(visits["day"].iloc[-1]))).isoformat(),
        "weeks": [
            {
                "week": week,
                "picks": int(count),
                "g_per_plant": round(float(fruit), 1),
                "trays": round(float(fruit) * trays_per_g),
            }
            for week, fruit, count in zip(grams.index, grams, picks, strict=True)
        ],
    }
