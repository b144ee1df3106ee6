"""Picks that are far larger than their neighbours, and rounds that seem to be missing."""

from __future__ import annotations

import numpy as np
import pandas as pd

from phenocast.errors import caution

# A pick is told when it is this many times as large, by the day, as the largest of the two picks
# before and the two after it, and as its plot usually is among the picks of that day. Of 1 280
# picks of the invented records (scatter of a fifth) the largest is 1.79 times, of 150 weighed on
# single benches of a greenhouse (2022, 2023) 1.8: honest picks stay below; pounds read as kilograms
# (2.2) pass it in one case of two, a slipped point (10) always. Between the two, at their geometric
# mean, one explanation gives way to the other.
TOO_LARGE = 1.9

SLIPPED_POINT = 4.7

NEIGHBOURS = (-2, -1, 1, 2)

# So many picks of one day tell how the weather made that day's picks.
PICKS_OF_A_DAY = 4

# Fruit of a longer pause is not all still there [d]; as in a fit.
LONGEST_WAIT_D = 21.0

# A pause is told from twice the usual round of its block on, and from so many days [d].
ROUNDS_MISSED = 2.0

SHORTEST_PAUSE_D = 10.0

MOST_LISTED = 10


def pick_doubts(table: pd.DataFrame, source: str) -> list[str]:
    """Return cautions about picks far larger than their neighbours, and about missing rounds.

    Parameters
    ----------
    table : DataFrame
        Columns ``season, block, plot, date, row, marketable_g_per_plant, fruit_g_per_plant``.
    source : str
        Name of the file.

    Examples
    --------
    >>> days = pd.date_range("2026-12-01", periods=8, freq="7D")
    >>> table = pd.DataFrame({"season": "2026", "block": "North", "plot": None, "date": days,
    ...                       "row": range(2, 10),
    ...                       "marketable_g_per_plant": [20, 25, 30, 280, 26, 24, 27, 22.0],
    ...                       "fruit_g_per_plant": np.nan})
    >>> print(pick_doubts(table, "picks.csv")[0][:72])
    CAUTION: picks.csv: 1 pick is far larger than those before and after it:
    """
    weighed = table["marketable_g_per_plant"].fillna(table["fruit_g_per_plant"])
    picks = table.assign(grams=weighed, plot=table["plot"].fillna(""))[weighed.notna()]
    picks = picks.sort_values(["season", "block", "plot", "date"])
    return [*_too_large(picks, source), *_pauses(table, picks, source)]


def _too_large(picks: pd.DataFrame, source: str) -> list[str]:
    plots = [picks[name] for name in ("season", "block", "plot")]
    waited = picks["date"].groupby(plots).diff().dt.days.clip(upper=LONGEST_WAIT_D)
    rate = (picks["grams"] / waited).where(picks["grams"] > 0.0)
    scale = np.log(rate)
    of_day = scale.groupby([picks["season"], picks["date"]])
    scale -= of_day.transform("median").where(of_day.transform("count") >= PICKS_OF_A_DAY, 0.0)

    def around(values: pd.Series[float]) -> pd.DataFrame:
        of_plot = values.groupby(plots)
        return pd.concat([of_plot.shift(step) for step in NEIGHBOURS], axis=1)

    near = around(rate)
    times = np.minimum(rate / near.max(axis=1), np.exp(scale - around(scale).median(axis=1)))
    both_sides = near.iloc[:, :2].notna().any(axis=1) & near.iloc[:, 2:].notna().any(axis=1)
    least = np.where(both_sides, TOO_LARGE, SLIPPED_POINT)  # beds are cleared at the end
    odd = picks.assign(times=times)[(times > least) & (near.notna().sum(axis=1) > 1)]
    if odd.empty:
        return []
    listed = [
        f"row {one.row} ({one.season}: {one.block}, {one.date.date()}) with {one.grams:.4g} g a "
        f"plant, {one.times:.1f} times, as "
        f"{'a slipped decimal point' if one.times > SLIPPED_POINT else 'lb for kg'} would be"
        for one in odd.itertuples()
    ]
    are = "1 pick is" if len(odd) == 1 else f"{len(odd)} picks are"
    return [
        caution(
            f"{source}: {are} far larger than those before and after it: "
            f"{_list(listed)}. Look at the unit (a weight in lb taken as kg is 2.2 times too "
            "large) and at the decimal point (10 times)",
            "picks",
        )
    ]


def _pauses(table: pd.DataFrame, picks: pd.DataFrame, source: str) -> list[str]:
    visits = table.drop_duplicates(["season", "block", "date"]).sort_values("date")
    listed = []
    for (season, block), own in picks.groupby(["season", "block"]):
        days = visits.loc[(visits["season"] == season) & (visits["block"] == block), "date"]
        first, last = own.loc[own["grams"] > 0.0, "date"].agg(["min", "max"])
        days = days[(days >= first) & (days <= last)]
        rounds = days.diff().dt.days
        limit = max(ROUNDS_MISSED * rounds.median(), SHORTEST_PAUSE_D)
        listed += [
            f"{season}: {block}, {(day - pd.Timedelta(days=gap)).date()} to {day.date()} "
            f"({gap:.0f} days; usual {rounds.median():.0f})"
            for day, gap in zip(days, rounds, strict=True)
            if gap >= limit
        ]
    if not listed:
        return []
    return [
        caution(
            f"{source}: no row for much longer than the usual round of a block: {_list(listed)}. "
            "A round that found nothing is a record too: add it with 0; where nobody looked, there "
            "is nothing to do",
            "picks",
        )
    ]


def _list(texts: list[str]) -> str:
    more = len(texts) - MOST_LISTED
    return "; ".join(texts[:MOST_LISTED]) + (f"; and {more} more" if more > 0 else "")
