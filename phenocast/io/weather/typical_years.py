"""EPW, TMY3 and TMY2 files: one year, often put together from the months of many.

Layouts: EnergyPlus, Auxiliary Programs, "Weather Converter" (EPW); Wilcox and Marion (2008), NREL
TP-581-43156 (TMY3); Marion and Urban (1995), NREL TP-463-7668, table 3-2 (TMY2); from memory, and
held to files that pvlib reads. Radiation is the energy of the hour before the stamp [Wh m-2], which
is its mean in W m-2; every stamp is the end of its hour in local standard time; wind is measured at
10 m.
"""

import csv
import re
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from phenocast.errors import Fault, Gathered, InputError, plain_value
from phenocast.io.raw_table import MISSING
from phenocast.io.weather.clock import Stated
from phenocast.io.weather.quantities import keep_possible, number_of
from phenocast.io.weather.stamp_columns import check_order
from phenocast.io.weather.stamps import check_days
from phenocast.weather.records import WeatherRecords

NOMINAL_YEAR = 2001

"""Year, without a leap day, that the stamps of a typical year are given."""


WIND_HEIGHT_M = 10.0

HOURS_OF_YEAR = 8760

FARTHEST_OFFSET_H = 14.0

TMY2_HEADER = re.compile(
    r"^ ?\d{5} .+ [A-Z]{2} +(-?\d+) ([NS]) +(\d+) +(\d+) ([EW]) +(\d+) +(\d+) +(-?\d+)\s*$"
)

_TMY2_LENGTH = 142

_CLOCK = re.compile(r"\d\d:[0-5]\d")


# Quantity: (place of its text in a line, factor to our unit, values from here on mean "missing").
_Map = dict[str, tuple[Any, float, float]]

_EPW: _Map = {
    "air_c": (6, 1.0, 99.9),
    "dew_point_c": (7, 1.0, 99.9),
    "relative_humidity_pct": (8, 1.0, 999.0),
    "pressure_kpa": (9, 1e-3, 999999.0),
    "solar_w_m2": (13, 1.0, 9999.0),
    "longwave_down_w_m2": (12, 1.0, 9999.0),
    "wind_m_s": (21, 1.0, 999.0),
    "rain_mm": (33, 1.0, 999.0),
}

_TMY3: _Map = {
    "air_c": ("Dry-bulb (C)", 1.0, 99.9),
    "dew_point_c": ("Dew-point (C)", 1.0, 99.9),
    "relative_humidity_pct": ("RHum (%)", 1.0, 999.0),
    "pressure_kpa": ("Pressure (mbar)", 0.1, 9999.0),
    "solar_w_m2": ("GHI (W/m^2)", 1.0, 9999.0),
    "wind_m_s": ("Wspd (m/s)", 1.0, 999.0),
}

_TMY2: _Map = {
    "air_c": (slice(67, 71), 0.1, 9999.0),
    "dew_point_c": (slice(73, 77), 0.1, 9999.0),
    "relative_humidity_pct": (slice(79, 82), 1.0, 999.0),
    "pressure_kpa": (slice(84, 88), 0.1, 9999.0),
    "solar_w_m2": (slice(17, 21), 1.0, 9999.0),
    "wind_m_s": (slice(95, 98), 0.1, 999.0),
}

_MISSING_BELOW = -90.0  # TMY3 writes -9900 where nothing was recorded


def read_epw(text: str, source: str, stated: Stated) -> WeatherRecords:
    """Weather of an EPW file. A file whose rows all carry one year may be that very year.

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
        Where the file is damaged or holds impossible values.
    """
    lines, rows = _cells(text, source, "EPW", first=8, model=8)
    head = text.splitlines()[0].split(",")
    start = _start(["-".join(one[:3]) for one in lines], "%Y-%m-%d", [one[3] for one in lines],
                   rows, source)  # fmt: skip
    typical = len({one[0] for one in lines}) > 1 or "TMY" in "".join(head[4:5]).upper()
    notes = () if typical else (f"{source}: taken as the year {start[0].year}, not a typical year",)
    return _records(lines, rows, start, head[6:10], _EPW, source, stated, typical, notes)


def read_tmy3(text: str, source: str, stated: Stated) -> WeatherRecords:
    """Weather of a TMY3 file; parameters, result and errors as `read_epw`."""
    lines, rows = _cells(text, source, "TMY3", first=2, model=1)
    first, second = text.splitlines()[:2]
    _, _, _, offset, *where = [*next(csv.reader([first])), *[""] * 7][:7]
    column = {name.strip(): place for place, name in enumerate(second.split(","))}
    if len(column) < 2:
        raise _damaged("TMY3", source, 2, "the line is cut off")
    days, times = ([one[place] for one in lines] for place in (0, 1))
    hours = [str(int(t[:2]) + int(t[3:]) / 60.0) if _CLOCK.fullmatch(t) else t for t in times]
    start = _start(days, "%m/%d/%Y", hours, rows, source, first=0.0)
    mapping = {
        quantity: (column[name], factor, missing)
        for quantity, (name, factor, missing) in _TMY3.items()
        if name in column
    }
    notes = (f"{source}: rain is not taken from a TMY3 file, whose depths are not in one unit",)
    return _records(lines, rows, start, [*where[:2], offset, *where[2:]], mapping, source, stated,
                    True, notes)  # fmt: skip


def read_tmy2(text: str, source: str, stated: Stated) -> WeatherRecords:
    """Weather of a TMY2 file; parameters, result and errors as `read_epw`."""
    first, *lines = text.splitlines()
    if not lines:
        raise _no_rows("TMY2", source)
    for row, line in enumerate(lines, start=2):
        if len(line) < _TMY2_LENGTH:
            raise _damaged("TMY2", source, row, "the line is cut off")
    rows = np.arange(2, 2 + len(lines))
    start = _start([f"19{one[1:7].replace(' ', '0')}" for one in lines], "%Y%m%d",
                   [one[7:9] for one in lines], rows, source)  # fmt: skip
    head = TMY2_HEADER.match(first)
    assert head is not None  # by which the format was told
    offset, *angles, elevation = head.groups()
    place = [
        ("-" if side in "SW" else "") + str(int(degrees) + int(minutes) / 60.0)
        for side, degrees, minutes in (angles[:3], angles[3:])
    ]
    return _records(lines, rows, start, [*place, offset, elevation], _TMY2, source, stated, True,
                    ())  # fmt: skip


def _cells(
    text: str, source: str, kind: str, *, first: int, model: int
) -> tuple[list[list[str]], np.ndarray]:
    """Cells of each line of data, as many as the model line has, and their rows."""
    lines = text.splitlines()
    cells = [(row, line.split(",")) for row, line in enumerate(lines[first:], first + 1)
             if line.strip()]  # fmt: skip
    if not cells:
        raise _no_rows(kind, source)
    width = len(lines[model].split(","))
    for row, one in cells:
        if len(one) != width:
            what = "is cut off" if len(one) < width else "has too many cells"
            raise _damaged(kind, source, row, f"the line {what}")
    return [one for _, one in cells], np.array([row for row, _ in cells])


def _no_rows(kind: str, source: str) -> InputError:
    return InputError(Fault(f"the {kind} file has no rows", where=source, do="fetch it again"))


def _damaged(kind: str, source: str, row: int, what: str) -> InputError:
    return InputError(
        Fault(f"the {kind} file is damaged: {what}", f"{source}, row {row}", do="fetch it again")
    )


def _start(
    days: list[str], form: str, hours: list[str], rows: np.ndarray, source: str, first: float = 1.0
) -> pd.DatetimeIndex:
    """Start of each hour from its day and the hour that ends it, by the local clock."""
    hour = pd.to_numeric(pd.Series(hours, dtype="str"), errors="coerce")
    hour = hour.where((hour >= first) & (hour <= 24.0))
    ends = pd.to_datetime(pd.Series(days), format=form, errors="coerce")
    start = pd.DatetimeIndex(ends + pd.to_timedelta(hour - 1.0, unit="h"))
    told = pd.Series([f"{day} {hour}" for day, hour in zip(days, hours, strict=True)])
    check_days(start, told, rows, Gathered(source))
    return start


def _records(
    lines: Sequence[Sequence[str]],
    rows: np.ndarray,
    start: pd.DatetimeIndex,
    place: Sequence[str],
    mapping: _Map,
    source: str,
    stated: Stated,
    typical: bool,
    notes: tuple[str, ...],
) -> WeatherRecords:
    """Records from the texts of a file; a typical year runs through the nominal year.

    The place is latitude, longitude, offset from UTC and elevation, as texts.
    """
    found, said = Gathered(source), list(notes)
    latitude, longitude, offset_h, elevation_m = (
        number_of(text, what, 1, found)
        for text, what in zip(
            [*place, "", "", "", ""], ("latitude", "longitude", "offset from UTC", "elevation"),
            strict=False,
        )
    )  # fmt: skip
    if abs(offset_h) > FARTHEST_OFFSET_H:
        found.add("there is no such offset from UTC", row=1, value=plain_value(offset_h),
                  allowed=f"-{FARTHEST_OFFSET_H:g} to {FARTHEST_OFFSET_H:g} h")  # fmt: skip
    values: dict[str, np.ndarray] = {}
    for quantity, (where, factor, missing_from) in mapping.items():
        texts = pd.Series([one[where] for one in lines], dtype="str").str.strip()
        numbers = pd.to_numeric(texts, errors="coerce").to_numpy(dtype=np.float64)
        bad = ~np.isfinite(numbers) & ~texts.str.lower().isin(MISSING).to_numpy()
        found.add_rows("not a number", rows=rows[bad], values=texts[bad].to_numpy(),
                       column=quantity)  # fmt: skip
        gone = ~np.isfinite(numbers) | (numbers >= missing_from) | (numbers <= _MISSING_BELOW)
        numbers = np.where(gone, np.nan, numbers) * factor
        if quantity == "longwave_down_w_m2":
            numbers = np.where(numbers <= 0.0, np.nan, numbers)  # 0 is written for "not known"
        if quantity == "rain_mm" and not np.nansum(numbers) > 0.0:
            continue  # many files hold nothing but zeros where rain was not recorded
        if np.isfinite(numbers).any():
            values[quantity] = keep_possible(numbers, quantity, quantity, rows, stated, found, said)
    if "air_c" not in values:
        found.add("no air temperature is in the file", do="fetch the file again")
    found.raise_any()
    keep = np.ones(len(rows), dtype=bool)
    if typical:
        keep = ~np.asarray((start.month == 2) & (start.day == 29))
        start = _in_nominal_year(start[keep])
        if keep.sum() != HOURS_OF_YEAR:
            said.append(f"{source}: the typical year has {keep.sum()} of {HOURS_OF_YEAR} hours")
    utc = pd.DatetimeIndex(start - pd.Timedelta(hours=offset_h)).as_unit("ns")
    check_order(utc, rows[keep], found, "date and hour")
    found.raise_any()
    frame = pd.DataFrame(
        {"time_utc": utc, "row": rows[keep], **{k: v[keep] for k, v in values.items()}}
    )
    return WeatherRecords(
        frame,
        "hourly",
        source,
        wind_height_m=stated.wind_height_m or WIND_HEIGHT_M,
        latitude=latitude,
        longitude=longitude,
        elevation_m=elevation_m,
        utc_offset_h=offset_h,
        typical_year=typical,
        notes=tuple(said),
    )


def _in_nominal_year(start: pd.DatetimeIndex) -> pd.DatetimeIndex:
    """Stamps of any years, 29 February taken out, with the year replaced by the nominal one."""
    parts = {"year": NOMINAL_YEAR, "month": start.month, "day": start.day, "hour": start.hour}
    return pd.DatetimeIndex(pd.to_datetime(pd.DataFrame(parts)))
