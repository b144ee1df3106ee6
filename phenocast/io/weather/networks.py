"""USCRN products: hourly02, daily01 and the five-minute subhourly01.

Layout: NOAA NCEI, readme files of the U.S. Climate Reference Network. Columns are parted by
blanks; stamps are UTC and the end of their interval; days are those of local standard time.

GHCN-Daily: fixed-width ``.dly``, by-station CSV and access CSV, all in tenths.

Layout: NOAA NCEI, GHCN-Daily readme, section III. Values that failed one of the archive's checks
(a quality flag that is not blank) are dropped and counted. A maximum read in the morning mostly
belongs to the day before: where the file states a reading time before noon it is moved there.
"""

import csv
import re
from collections import Counter
from collections.abc import Callable

import numpy as np
import pandas as pd

from phenocast.errors import Fault, Gathered, refuse
from phenocast.io.weather.clock import Stated, days_to_utc
from phenocast.io.weather.quantities import keep_possible, number_of
from phenocast.io.weather.stamp_columns import check_order
from phenocast.io.weather.stamps import check_days
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
        found.add_rows(
            "not a number",
            rows=rows[bad],
            values=cells[bad, column],
            column=f"column {column + 1}",
        )
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
        check_order(days, rows, found, "date and time")
        utc, more = days_to_utc(days, stated, found.source)
        notes += more
        return utc, None
    ends = _parsed(_joined(cells, 1), "%Y%m%d%H%M", rows, found)
    local = _parsed(_joined(cells, 3), "%Y%m%d%H%M", rows, found)
    check_order(ends, rows, found, "date and time")
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


# Element: (quantity, factor to our unit).
ELEMENTS = {
    "TMAX": ("air_max_c", 0.1),
    "TMIN": ("air_min_c", 0.1),
    "TAVG": ("air_c", 0.1),
    "PRCP": ("rain_mm", 0.1),
    "AWND": ("wind_m_s", 0.1),
    "ADPT": ("dew_point_c", 0.1),
    "RHAV": ("relative_humidity_pct", 1.0),
}

MISSING = -9999

DLY_LINE = re.compile(r"^[A-Z]{2}[A-Z0-9_\-]{9}\d{4}(0[1-9]|1[0-2])[A-Z0-9]{4}[ \-\d]{5}")

BY_STATION_LINE = re.compile(r"^[A-Z]{2}[A-Z0-9_\-]{9},\d{8},[A-Z0-9]{4},-?\d+,")

_NOON = 1200


# One value: (date "YYYYMMDD", element, value, quality flag, reading time or "", line).
_Value = tuple[str, str, int, str, str, int]


def is_access_header(line: str) -> bool:
    """Whether a header line is that of an access CSV.

    Examples
    --------
    >>> is_access_header('"STATION","DATE","LATITUDE","TMAX","TMAX_ATTRIBUTES"')
    True
    """
    names = {cell.strip().strip('"') for cell in line.split(",")}
    return {"STATION", "DATE"} <= names and any(f"{e}_ATTRIBUTES" in names for e in ELEMENTS)


def read_dly(text: str, source: str, stated: Stated) -> WeatherRecords:
    """Weather of a fixed-width ``.dly`` file.

    Parameters
    ----------
    text : str
        Content of the file.
    source : str
    stated : Stated

    Returns
    -------
    WeatherRecords
        Daily.

    Raises
    ------
    InputError
        Where lines are cut off, no number, or several stations are mixed.
    """
    found = Gathered(source)
    values: list[_Value] = []
    stations: Counter[str] = Counter()
    for row, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        if not DLY_LINE.match(line):
            found.add("not a line of GHCN-Daily", row=row, value=line[:30], do="fetch it again")
            continue
        stations[line[:11]] += 1
        element = line[17:21]
        if element not in ELEMENTS:
            continue
        # Blanks at the end of a line, which hold the last flags, are often lost on the way.
        padded = line.ljust(269)
        if len(line) < 266:
            found.add("the line is cut off", row=row, value=len(line), allowed="269 characters")
            continue
        for day in range(31):
            cell = padded[21 + 8 * day : 29 + 8 * day]
            number = cell[:5].strip()
            if not re.fullmatch(r"-?\d+", number):
                found.add("not a number", row=row, column=f"{element} day {day + 1}", value=cell)
                continue
            date = f"{line[11:17]}{day + 1:02d}"
            values.append((date, element, int(number), cell[6].strip(), "", row))
    return _records(values, stations, found, stated, {})


def read_by_station(text: str, source: str, stated: Stated) -> WeatherRecords:
    """Weather of a by-station CSV; parameters, result and errors as `read_dly`."""
    found = Gathered(source)
    values: list[_Value] = []
    stations: Counter[str] = Counter()
    for row, line in enumerate(text.splitlines(), start=1):
        cells = [cell.strip() for cell in line.split(",")]
        if len(cells) < 7 or not re.fullmatch(r"-?\d+", cells[3]) or len(cells[1]) != 8:
            if line.strip() and not line.startswith(("ID,", "station")):
                found.add(
                    "not a line of GHCN-Daily", row=row, value=line[:40],
                    allowed="station, date, element, value, three flags, reading time",
                )  # fmt: skip
            continue
        stations[cells[0]] += 1
        if cells[2] in ELEMENTS:
            time = cells[7] if len(cells) > 7 else ""
            values.append((cells[1], cells[2], int(cells[3]), cells[5], time, row))
    return _records(values, stations, found, stated, {})


def read_access(text: str, source: str, stated: Stated) -> WeatherRecords:
    """Weather of an access CSV; parameters, result and errors as `read_dly`."""
    found = Gathered(source)
    values: list[_Value] = []
    stations: Counter[str] = Counter()
    reader = csv.DictReader(text.splitlines())
    place: dict[str, float] = {}
    for cells in reader:
        row = reader.line_num
        stations[cells["STATION"] or ""] += 1
        date = (cells["DATE"] or "").replace("-", "")
        for element in ELEMENTS:
            number = (cells.get(element) or "").strip()
            if not number:
                continue
            if not re.fullmatch(r"-?\d+", number):
                found.add(
                    "not in tenths as an access file is", row=row, column=element, value=number,
                    allowed="a whole number of tenths", do="fetch the file in its original units, "
                    f"or take the column {element}_ATTRIBUTES out and state units",
                )  # fmt: skip
                continue
            flags = [*(cells.get(f"{element}_ATTRIBUTES") or "").split(","), "", "", ""]
            values.append((date, element, int(number), flags[1].strip(), flags[3].strip(), row))
        for name, key in (("LATITUDE", "latitude"), ("LONGITUDE", "longitude"),
                          ("ELEVATION", "elevation_m")):  # fmt: skip
            if key not in place and re.fullmatch(r"-?\d+(\.\d+)?", (cells.get(name) or "").strip()):
                place[key] = float(cells[name])
    return _records(values, stations, found, stated, place)


def _records(
    values: list[_Value],
    stations: Counter[str],
    found: Gathered,
    stated: Stated,
    place: dict[str, float],
) -> WeatherRecords:
    """Daily records of one station from its single values."""
    if len(stations) > 1:
        found.add(
            "several stations are mixed in the file", value=", ".join(sorted(stations)[:5]),
            do="keep the lines of one station",
        )  # fmt: skip
    found.raise_any()
    table = pd.DataFrame(values, columns=["date", "element", "value", "flag", "time", "row"])
    table = table[table["value"] != MISSING]
    failed = table["flag"] != ""
    notes = []
    if failed.any():
        kinds = Counter(table.loc[failed, "flag"])
        notes.append(
            f"{found.source}: {int(failed.sum())} values failed a check of the archive and are "
            "taken as missing ("
            + ", ".join(f"flag {flag}: {times}" for flag, times in sorted(kinds.items()))
            + ")"
        )
    table = table[~failed]
    days = pd.DatetimeIndex(pd.to_datetime(table["date"], format="%Y%m%d", errors="coerce"))
    check_days(days, table["date"], table["row"].to_numpy(), found)
    table = table.assign(day=days)
    table, moved = _morning_maxima(table)
    if moved:
        notes.append(f"{found.source}: {moved} maxima read before noon are given to the day before")
    wide = _wide(table, found)
    found.raise_any()
    frame, more = _frame(wide, table, found, stated)
    found.raise_any()
    return WeatherRecords(
        frame,
        "daily",
        found.source,
        wind_height_m=stated.wind_height_m,
        latitude=place.get("latitude"),
        longitude=place.get("longitude"),
        elevation_m=place.get("elevation_m"),
        notes=(*notes, *more),
    )


def _morning_maxima(table: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Maxima read before noon moved to the day before, as far as that day has none of its own."""
    hour = pd.to_numeric(table["time"], errors="coerce")
    early = (table["element"] == "TMAX") & (hour > 0) & (hour < _NOON)
    if not early.any():
        return table, 0
    day = table["day"].where(~early, table["day"] - pd.Timedelta(days=1))
    moved = table.assign(day=day, early=early).sort_values("early", kind="stable")
    kept = moved.drop_duplicates(["day", "element", "flag"]) if early.any() else moved
    return kept.drop(columns="early"), int(early.sum())


def _wide(table: pd.DataFrame, found: Gathered) -> pd.DataFrame:
    """One row a day, one column an element."""
    twice = table.duplicated(["day", "element"])
    if twice.any():
        found.add_rows(
            "a day comes twice for the same element", rows=table.loc[twice, "row"].to_numpy(),
            values=table.loc[twice, "date"].to_numpy(), do="remove one of the lines",
        )  # fmt: skip
        found.raise_any()
    keyed = table.set_index(["day", "element"])["value"]
    wide: pd.DataFrame = keyed.unstack("element").sort_index()  # noqa: PD010 (no cell repeats)
    return wide


def _frame(
    wide: pd.DataFrame, table: pd.DataFrame, found: Gathered, stated: Stated
) -> tuple[pd.DataFrame, list[str]]:
    """Daily table in internal units; a minimum above its maximum is dropped and counted."""
    refuse(
        (
            not {"TMAX", "TMIN"} <= set(wide.columns),
            Fault(
                "the file lacks daily extremes of air temperature",
                where=found.source,
                value=", ".join(map(str, wide.columns)) or None,
                allowed="TMAX and TMIN",
                do="take a station that measures them",
            ),
        )
    )
    notes: list[str] = []
    rows = table.groupby("day")["row"].min().reindex(wide.index).to_numpy()
    columns: dict[str, np.ndarray] = {}
    for element in wide.columns:
        quantity, factor = ELEMENTS[element]
        numbers = wide[element].to_numpy(dtype=np.float64) * factor
        columns[quantity] = keep_possible(numbers, quantity, element, rows, stated, found, notes)
    crossed = columns["air_min_c"] > columns["air_max_c"]
    if crossed.any():
        for name in ("air_min_c", "air_max_c"):
            columns[name] = np.where(crossed, np.nan, columns[name])
        notes.append(
            f"{found.source}: {int(crossed.sum())} days with TMIN above TMAX are taken as missing"
        )
    if not np.isfinite(columns["air_min_c"] + columns["air_max_c"]).any():
        found.add("no day has a maximum and a minimum at or below it", column="TMAX",
                  do="check whether TMAX and TMIN are swapped")  # fmt: skip
    utc, more = days_to_utc(pd.DatetimeIndex(wide.index), stated, found.source)
    frame = pd.DataFrame({"time_utc": utc, "row": rows, **columns})
    return frame.reset_index(drop=True), [*notes, *more]
