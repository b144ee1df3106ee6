"""Gaps in an hourly series: short ones bridged, longer ones filled from like hours."""

from __future__ import annotations

import numpy as np

from phenocast._typing import BoolArray, FloatArray, IntArray

SHORT_GAP_H = 3
# Days on either side whose same hour may stand in, and days around the same date of other years.
NEAR_DAYS = 5
YEAR_WINDOW_DAYS = 3
HOURS_PER_YEAR = 8766


def gap_lengths(missing: BoolArray) -> IntArray:
    """Return for each hour the length of the gap it lies in; 0 outside gaps.

    Examples
    --------
    >>> gap_lengths(np.array([False, True, True, False])).tolist()
    [0, 2, 2, 0]
    """
    if len(missing) == 0:
        return np.zeros(0, dtype=np.int64)
    starts = np.flatnonzero(np.append(True, missing[1:] != missing[:-1]))
    lengths = np.diff(np.append(starts, len(missing)))
    return np.where(missing, np.repeat(lengths, lengths), 0)


def bridged(values: FloatArray, longest: int = SHORT_GAP_H) -> tuple[FloatArray, BoolArray]:
    """Fill gaps of up to ``longest`` hours by straight lines; return values and what was filled.

    A gap at either end of the series has one neighbour only and is left.

    Examples
    --------
    >>> bridged(np.array([1.0, np.nan, 3.0]))[0]
    array([1., 2., 3.])
    """
    missing = np.isnan(values)
    out = values.copy()
    if not missing.any() or missing.all():
        return out, np.zeros(len(values), dtype=bool)
    known = np.flatnonzero(~missing)
    places = np.arange(len(values))
    fill = missing & (gap_lengths(missing) <= longest)
    fill &= (places > known[0]) & (places < known[-1])
    out[fill] = np.interp(places[fill], known, values[known])
    return out, fill


def from_like_hours(values: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Fill what is missing from the same hour of near days, or of the same days of other years.

    Near days are tried first: the mean of the same hour on up to `NEAR_DAYS` days on either side.
    Where the gap is longer than that, the same hour within `YEAR_WINDOW_DAYS` days of the date in
    other years of the series stands in. What neither fills is left missing.

    Examples
    --------
    >>> day = np.arange(24.0)
    >>> filled, mask = from_like_hours(np.concatenate([day, np.full(24, np.nan), day + 2.0]))
    >>> filled[24:27], int(mask.sum())
    (array([1., 2., 3.]), 24)
    """
    out = values.copy()
    near = [24 * day for day in range(-NEAR_DAYS, NEAR_DAYS + 1) if day != 0]
    _fill_from(out, values, near)
    if np.isnan(out).any():
        years = len(values) // HOURS_PER_YEAR + 1
        far = [
            24 * (round(year * HOURS_PER_YEAR / 24) + day)
            for year in range(-years, years + 1)
            if year != 0
            for day in range(-YEAR_WINDOW_DAYS, YEAR_WINDOW_DAYS + 1)
        ]
        _fill_from(out, values, far)
    return out, np.isnan(values) & ~np.isnan(out)


def _fill_from(out: FloatArray, values: FloatArray, offsets: list[int]) -> None:
    missing = np.flatnonzero(np.isnan(out))
    total = np.zeros(len(missing))
    count = np.zeros(len(missing))
    for offset in offsets:
        source = missing + offset
        inside = (source >= 0) & (source < len(values))
        found = np.full(len(missing), np.nan)
        found[inside] = values[source[inside]]
        good = ~np.isnan(found)
        total[good] += found[good]
        count[good] += 1.0
    has = count > 0.0
    out[missing[has]] = total[has] / count[has]
