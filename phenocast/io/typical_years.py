"""EPW, TMY3 and TMY2 files through pvlib: one year, often put together from the months of many.

Radiation in these files is the energy of the hour before the stamp [Wh m-2], which is its mean in
W m-2; every stamp is the end of its hour in local standard time; wind is measured at 10 m.
"""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from phenocast.errors import Fault, InputError
from phenocast.io.files import reading
from phenocast.io.gathered import Gathered, plain
from phenocast.io.possible import keep_possible, number_of
from phenocast.io.stamp_columns import check_order
from phenocast.io.stamps import check_days, years_fit
from phenocast.io.stated import Stated
from phenocast.weather.records import WeatherRecords

NOMINAL_YEAR = 2001
"""Year, without a leap day, that the stamps of a typical year are given."""

WIND_HEIGHT_M = 10.0
HOURS_OF_YEAR = 8760
FARTHEST_OFFSET_H = 14.0

# Quantity: (pvlib's column, factor to our unit, values from here on mean "missing").
_Map = dict[str, tuple[str, float, float]]
_EPW: _Map = {
    "air_c": ("temp_air", 1.0, 99.9),
    "dew_point_c": ("temp_dew", 1.0, 99.9),
    "relative_humidity_pct": ("relative_humidity", 1.0, 999.0),
    "pressure_kpa": ("atmospheric_pressure", 1e-3, 999999.0),
    "solar_w_m2": ("ghi", 1.0, 9999.0),
    "longwave_down_w_m2": ("ghi_infrared", 1.0, 9999.0),
    "wind_m_s": ("wind_speed", 1.0, 999.0),
    "rain_mm": ("liquid_precipitation_depth", 1.0, 999.0),
}
_TMY3: _Map = {
    "air_c": ("temp_air", 1.0, 99.9),
    "dew_point_c": ("temp_dew", 1.0, 99.9),
    "relative_humidity_pct": ("relative_humidity", 1.0, 999.0),
    "pressure_kpa": ("pressure", 0.1, 9999.0),
    "solar_w_m2": ("ghi", 1.0, 9999.0),
    "wind_m_s": ("wind_speed", 1.0, 999.0),
}
_TMY2: _Map = {
    "air_c": ("DryBulb", 0.1, 9999.0),
    "dew_point_c": ("DewPoint", 0.1, 9999.0),
    "relative_humidity_pct": ("RHum", 1.0, 999.0),
    "pressure_kpa": ("Pressure", 0.1, 9999.0),
    "solar_w_m2": ("GHI", 1.0, 9999.0),
    "wind_m_s": ("Wspd", 0.1, 999.0),
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
    from pvlib.iotools import read_epw as pvlib_epw

    _check_lines(text, source, "EPW", first=8, model=8)
    data, meta = _parsed(lambda: pvlib_epw(io.StringIO(text)), source, "EPW")
    years = data["year"].nunique()
    typical = years > 1 or "TMY" in str(meta.get("data_type", "")).upper()
    start = pd.DatetimeIndex(data.index).tz_localize(None)  # pvlib gives the start of the hour
    notes = () if typical else (f"{source}: taken as the year {start[0].year}, not a typical year",)
    return _records(data, meta, start, _EPW, source, stated, 9, typical, notes)


def read_tmy3(text: str, source: str, stated: Stated) -> WeatherRecords:
    """Weather of a TMY3 file; parameters, result and errors as `read_epw`."""
    from pvlib.iotools import read_tmy3 as pvlib_tmy3

    _check_lines(text, source, "TMY3", first=2, model=1)
    data, meta = _parsed(lambda: pvlib_tmy3(io.StringIO(text)), source, "TMY3")
    # Not from pvlib's index: it moves the last hour of 28 February of a leap year to 1 March.
    dates, times = (data[name].astype("str") for name in ("Date (MM/DD/YYYY)", "Time (HH:MM)"))
    clock = times.str.extract(r"^(\d\d):([0-5]\d)$").astype(float)
    minutes = (clock[0] * 60 + clock[1]).where(clock[0] <= 24)
    ended = pd.to_datetime(dates, format="%m/%d/%Y", errors="coerce") + pd.to_timedelta(
        minutes - 60, unit="min"
    )
    start = pd.DatetimeIndex(ended.to_numpy())
    told = (dates + " " + times).reset_index(drop=True)
    check_days(start, told, np.arange(3, 3 + len(data)), Gathered(source))
    notes = (f"{source}: rain is not taken from a TMY3 file, whose depths are not in one unit",)
    return _records(data, meta, start, _TMY3, source, stated, 3, True, notes)


def read_tmy2(text: str, source: str, stated: Stated) -> WeatherRecords:
    """Weather of a TMY2 file; parameters, result and errors as `read_epw`."""
    from pvlib.iotools import read_tmy2 as pvlib_tmy2

    lines = text.splitlines()
    if len(lines) < 2:
        raise _no_rows("TMY2", source)
    for row, line in enumerate(lines[1:], start=2):
        if len(line) < 142:
            raise _damaged("TMY2", source, row, "the line is cut off")
    # pvlib wants a file, and the name of the place as one word of its first line
    station, rest = lines[0][:7], lines[0][7:]
    body = "\n".join([f"{station}{rest[:22].strip().replace(' ', '_')} {rest[22:]}", *lines[1:]])
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder, "year.tm2")
        copy.write_text(body + "\n", encoding="utf-8")
        data, meta = _parsed(lambda: pvlib_tmy2(str(copy)), source, "TMY2")
    start = pd.DatetimeIndex(data.index).tz_localize(None)
    return _records(data, meta, start, _TMY2, source, stated, 2, True, ())


def _parsed(
    read: Callable[[], tuple[pd.DataFrame, dict[str, Any]]], source: str, kind: str
) -> tuple[pd.DataFrame, dict[str, Any]]:
    """Result of a pvlib reader, its errors told as ours."""
    with reading(source, kind):
        data, meta = read()
    if len(data) == 0:
        raise _no_rows(kind, source)
    return data, meta


def _check_lines(text: str, source: str, kind: str, *, first: int, model: int) -> None:
    """Refuse a file with a line shorter than the model line, counted from 0, with its row."""
    lines = text.splitlines()
    if len(lines) <= first:
        raise _no_rows(kind, source)
    commas = lines[model].count(",")
    for row, line in enumerate(lines[first:], start=first + 1):
        if line.strip() and line.count(",") < commas:
            raise _damaged(kind, source, row, "the line is cut off")


def _no_rows(kind: str, source: str) -> InputError:
    return InputError(Fault(f"the {kind} file has no rows", where=source, do="fetch it again"))


def _damaged(kind: str, source: str, row: int, what: str) -> InputError:
    return InputError(
        Fault(f"the {kind} file is damaged: {what}", f"{source}, row {row}", do="fetch it again")
    )


def _records(
    data: pd.DataFrame,
    meta: dict[str, Any],
    start: pd.DatetimeIndex,
    mapping: _Map,
    source: str,
    stated: Stated,
    first_row: int,
    typical: bool,
    notes: tuple[str, ...],
) -> WeatherRecords:
    """Records from a pvlib frame; a typical year runs through the nominal year."""
    rows = np.arange(first_row, first_row + len(data))
    found, said = Gathered(source), list(notes)
    offset_h, latitude, longitude, elevation_m = (
        number_of(meta[key], what, 1, found)
        for key, what in (("TZ", "offset from UTC"), ("latitude", "latitude"),
                          ("longitude", "longitude"), ("altitude", "elevation"))
    )  # fmt: skip
    if abs(offset_h) > FARTHEST_OFFSET_H:
        found.add("there is no such offset from UTC", row=1, value=plain(offset_h),
                  allowed=f"-{FARTHEST_OFFSET_H} to {FARTHEST_OFFSET_H} h")  # fmt: skip
    if not typical:
        years_fit(start.year.to_numpy(), pd.Series(start.astype("str")), rows, "date", found)
    values: dict[str, np.ndarray] = {}
    for quantity, (column, factor, missing_from) in mapping.items():
        if column not in data.columns:
            continue
        numbers = pd.to_numeric(data[column], errors="coerce").to_numpy(dtype=np.float64)
        gone = ~np.isfinite(numbers) | (numbers >= missing_from) | (numbers <= _MISSING_BELOW)
        numbers = np.where(gone, np.nan, numbers * factor)
        if quantity == "longwave_down_w_m2":
            numbers = np.where(numbers <= 0.0, np.nan, numbers)  # 0 is written for "not known"
        if quantity == "rain_mm" and not np.nansum(numbers) > 0.0:
            continue  # many files hold nothing but zeros where rain was not recorded
        if np.isfinite(numbers).any():
            values[quantity] = keep_possible(
                numbers, quantity, column, rows, stated, found, said
            )
    if "air_c" not in values:
        found.add("no air temperature is in the file", do="fetch the file again")
    found.raise_any()
    keep = np.ones(len(data), dtype=bool)
    if typical:
        keep = ~np.asarray((start.month == 2) & (start.day == 29))
        start = _in_nominal_year(start[keep])
        if keep.sum() != HOURS_OF_YEAR:
            said.append(f"{source}: the typical year has {keep.sum()} of {HOURS_OF_YEAR} hours")
    utc = pd.DatetimeIndex(start - pd.Timedelta(hours=offset_h)).as_unit("ns")
    gaps = np.diff(utc.to_numpy()).astype("timedelta64[s]").astype(float)
    check_order(gaps, utc, rows[keep], found, "date and hour")
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
