"""GHCN-Daily: fixed-width ``.dly``, by-station CSV and access CSV, all in tenths.

Layout: NOAA NCEI, GHCN-Daily readme, section III. Values that failed one of the archive's checks
(a quality flag that is not blank) are dropped and counted. A maximum read in the morning mostly
belongs to the day before: where the file states a reading time before noon it is moved there.
"""

from __future__ import annotations

import csv
import re
from collections import Counter

import numpy as np
import pandas as pd

from phenocast.errors import Fault, InputError
from phenocast.io.clock import standard_to_utc
from phenocast.io.gathered import Gathered
from phenocast.io.possible import keep_possible
from phenocast.io.stamps import check_days
from phenocast.io.stated import Stated
from phenocast.weather.records import WeatherRecords

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
    if not {"TMAX", "TMIN"} <= set(wide.columns):
        raise InputError(
            Fault(
                "the file lacks daily extremes of air temperature",
                where=found.source,
                value=", ".join(map(str, wide.columns)) or None,
                allowed="TMAX and TMIN",
                do="take a station that measures them",
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
    days = pd.DatetimeIndex(wide.index)
    if stated.site is not None:
        utc = standard_to_utc(days, stated.site.time_zone)
    else:
        utc = days
        notes.append(f"{found.source}: no site is stated, so a day is taken as a UTC day")
    frame = pd.DataFrame({"time_utc": utc.as_unit("ns"), "row": rows, **columns})
    return frame.reset_index(drop=True), notes
