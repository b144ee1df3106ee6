"""USCRN products: hourly02, daily01 and the five-minute subhourly01.

Layout: NOAA NCEI, readme files of the U.S. Climate Reference Network. Columns are parted by
blanks; stamps are UTC and the end of their interval; days are those of local standard time.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pandas as pd

from phenocast.io.clock import standard_to_utc
from phenocast.io.gathered import Gathered
from phenocast.io.possible import keep_possible, number_of
from phenocast.io.stamp_columns import check_order
from phenocast.io.stamps import check_days
from phenocast.io.stated import Stated
from phenocast.weather.records import Step, WeatherRecords

LINE = re.compile(r"^\s*\d{3,5}\s+(19|20)\d{6}\s")
WIND_HEIGHT_M = 1.5
COLUMNS_OF = {38: "hourly", 28: "daily", 23: "subhourly"}

# Quantity: (column, column of its flag or None), both counted from 0.
_Map = dict[str, tuple[int, int | None]]
_HOURLY: _Map = {
    "air_c": (9, None),
    "air_max_c": (10, None),
    "air_min_c": (11, None),
    "rain_mm": (12, None),
    "solar_w_m2": (13, 14),
    "relative_humidity_pct": (26, 27),
    "soil_5cm_c": (33, None),
    "soil_10cm_c": (34, None),
}
_DAILY: _Map = {
    "air_max_c": (5, None),
    "air_min_c": (6, None),
    "air_c": (8, None),
    "rain_mm": (9, None),
    "solar_w_m2": (10, None),
    "relative_humidity_pct": (17, None),
    "soil_5cm_c": (23, None),
    "soil_10cm_c": (24, None),
}
_SUBHOURLY: _Map = {
    "air_c": (8, None),
    "rain_mm": (9, None),
    "solar_w_m2": (10, 11),
    "relative_humidity_pct": (15, 16),
    "soil_5cm_c": (18, None),
    "wind_m_s": (21, 22),
}
_MAPS: dict[str, _Map] = {"hourly": _HOURLY, "daily": _DAILY, "subhourly": _SUBHOURLY}
_MJ_PER_DAY_TO_W = 1e6 / 86400.0


def is_uscrn(line: str) -> bool:
    """Whether a line is one of a USCRN product.

    Examples
    --------
    >>> is_uscrn("53104 20261005 0100 20261004 1800 3")
    False
    """
    return LINE.match(line) is not None and len(line.split()) in COLUMNS_OF


def read_uscrn(text: str, source: str, stated: Stated) -> WeatherRecords:
    """Weather of a USCRN file; which product it is follows from the number of columns.

    Parameters
    ----------
    text : str
        Content of the file.
    source : str
    stated : Stated

    Returns
    -------
    WeatherRecords

    Raises
    ------
    InputError
        Where lines are cut off, stations are mixed, or values are impossible.
    """
    found = Gathered(source)
    lines = [
        (row, line.split())
        for row, line in enumerate(text.splitlines(), start=1)
        if line.strip("\x00 \t")
    ]
    width = len(lines[0][1])
    for row, words in lines:
        if len(words) != width:
            found.add(
                "the line has more or fewer columns than the first", row=row, value=len(words),
                allowed=str(width), do="fetch the file again",
            )  # fmt: skip
    found.raise_any()
    rows = np.array([row for row, _ in lines])
    cells = np.array([line for _, line in lines], dtype=object)
    if len(np.unique(cells[:, 0])) > 1:
        found.add(
            "several stations are mixed in the file",
            value=", ".join(np.unique(cells[:, 0])[:5].tolist()), do="keep those of one station",
        )  # fmt: skip
    step = COLUMNS_OF[width]
    notes: list[str] = []
    utc, offset_h = _times(cells, rows, step, stated, found, notes)
    number = _numbers(cells, rows, found)
    values: dict[str, np.ndarray] = {}
    for quantity, (column, flag) in _MAPS[step].items():
        series = number(column)
        if flag is not None:
            failed = (number(flag) != 0.0) & np.isfinite(series)
            if failed.any():
                notes.append(
                    f"{source}: {int(failed.sum())} values of {quantity} carry a flag of the "
                    "network and are taken as missing"
                )
            series = np.where(failed, np.nan, series)
        if step == "daily" and quantity == "solar_w_m2":
            series = series * _MJ_PER_DAY_TO_W
        if np.isfinite(series).any():
            values[quantity] = keep_possible(
                series, quantity, f"column {column + 1}", rows, stated, found, notes
            )
    if not {"air_c", "air_max_c"} & set(values):
        found.add("no air temperature is in the file", do="take another station or year")
    place = 6 if step != "daily" else 3
    longitude = number_of(cells[0, place], "longitude", int(rows[0]), found)
    latitude = number_of(cells[0, place + 1], "latitude", int(rows[0]), found)
    found.raise_any()
    kind: Step = "hourly" if step == "hourly" else "daily" if step == "daily" else "subhourly"
    return WeatherRecords(
        pd.DataFrame({"time_utc": utc, "row": rows, **values}),
        kind,
        source,
        wind_height_m=stated.wind_height_m or (WIND_HEIGHT_M if step == "subhourly" else None),
        latitude=latitude,
        longitude=longitude,
        utc_offset_h=offset_h,
        notes=tuple(notes),
    )


def _numbers(cells: np.ndarray, rows: np.ndarray, found: Gathered) -> Callable[[int], np.ndarray]:
    """Reader of one column as numbers, -9999 and the like as NaN."""

    def read(column: int) -> np.ndarray:
        values = pd.to_numeric(pd.Series(cells[:, column]), errors="coerce").to_numpy(np.float64)
        bad = np.isnan(values)
        if bad.any():
            found.add_rows(
                "not a number", rows=rows[bad], values=cells[bad, column],
                column=f"column {column + 1}",
            )  # fmt: skip
        return np.where(values <= -99.0, np.nan, values)

    return read


def _times(
    cells: np.ndarray,
    rows: np.ndarray,
    step: str,
    stated: Stated,
    found: Gathered,
    notes: list[str],
) -> tuple[pd.DatetimeIndex, float | None]:
    """UTC start of each row, and the offset of local standard time where the file shows it."""
    if step == "daily":
        days = _parsed(pd.Series(cells[:, 1]), "%Y%m%d", rows, found)
        _order(days, rows, found)
        if stated.site is not None:
            return standard_to_utc(days, stated.site.time_zone).as_unit("ns"), None
        notes.append(f"{found.source}: no site is stated, so a day is taken as a UTC day")
        return days.as_unit("ns"), None
    ends = _parsed(_joined(cells, 1), "%Y%m%d%H%M", rows, found)
    local = _parsed(_joined(cells, 3), "%Y%m%d%H%M", rows, found)
    _order(ends, rows, found)
    minutes = 60 if step == "hourly" else 5
    offset_h = float((local[0] - ends[0]).total_seconds() / 3600.0)
    return (ends - pd.Timedelta(minutes=minutes)).as_unit("ns"), offset_h


def _joined(cells: np.ndarray, column: int) -> pd.Series:
    """Date and clock of two neighbouring columns; the clock may have lost its leading zeros."""
    return pd.Series(cells[:, column]) + pd.Series(cells[:, column + 1]).str.zfill(4)


def _parsed(
    texts: pd.Series, time_format: str, rows: np.ndarray, found: Gathered
) -> pd.DatetimeIndex:
    time = pd.DatetimeIndex(pd.to_datetime(texts, format=time_format, errors="coerce"))
    check_days(time, texts, rows, found)
    return time


def _order(time: pd.DatetimeIndex, rows: np.ndarray, found: Gathered) -> None:
    """Refuse stamps that come twice or run backwards."""
    gaps = np.diff(time.to_numpy()).astype("timedelta64[s]").astype(float)
    check_order(gaps, time, rows, found, "date and time")
