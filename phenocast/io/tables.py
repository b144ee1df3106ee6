"""Tables in and out: CSV or Parquet by the ending of the name, held to their contract."""

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from phenocast.errors import Fault, Gathered, InputError, meant, nearest, printable, refuse
from phenocast.io.files import reading
from phenocast.io.output.folder import MARK, PARQUET_KEY, write_atomic
from phenocast.io.raw_table import RawTable, read_raw_table
from phenocast.io.weather.quantities import split_header
from phenocast.io.weather.stamps import stamps_of
from phenocast.tables import Column, TableContract
from phenocast.units import convert

SUFFIXES = (".csv", ".parquet")

FLOAT_FORMAT = "%.7g"

_FORMULA = ("=", "+", "-", "@", "\t")  # a spreadsheet takes a cell that begins so for a formula


def check_suffix(path: str | os.PathLike[str]) -> None:
    """Refuse the name of a table that ends neither in .csv nor in .parquet.

    Raises
    ------
    InputError

    Examples
    --------
    >>> check_suffix("crown.xlsx")
    Traceback (most recent call last):
    phenocast.errors.InputError: crown.xlsx: a table is written as CSV or Parquet (value '.xlsx';
    allowed: .csv, .parquet); change the ending of the name
    """
    suffix = Path(path).suffix.lower()
    refuse(
        (
            suffix not in SUFFIXES,
            Fault(
                "a table is written as CSV or Parquet",
                where=str(path),
                value=suffix or "no ending",
                allowed=", ".join(SUFFIXES),
                do="change the ending of the name",
            ),
        )
    )


def write_table(
    frame: pd.DataFrame,
    path: str | os.PathLike[str],
    *,
    contract: TableContract | None = None,
    force: bool = False,
) -> Path:
    """Write a table as CSV or Parquet, whole or not at all.

    Parameters
    ----------
    frame : DataFrame
        Naive times in columns named ``..._utc`` are written as UTC. Control characters in texts
        are written as ``?``; in CSV `spreadsheet_text` holds of every text.
    path : str or path
        Ends in .csv or .parquet.
    contract : TableContract, optional
        What the table must keep; Parquet then carries its units.
    force : bool
        Replace a table that phenocast wrote; see `may_write`.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        Where the name has another ending, the file may not be replaced or cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> frame = pd.DataFrame({"time_utc": pd.DatetimeIndex(["2026-10-05 01:00"]), "air_c": [1 / 3]})
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     print(write_table(frame, Path(folder, "a.csv")).read_text(), end="")
    time_utc,air_c
    2026-10-05T01:00:00Z,0.3333333
    """
    check_suffix(path)
    if contract is not None:
        contract.require(frame)
    if Path(path).suffix.lower() == ".parquet":
        shown = _with_text(frame, printable)
        return write_atomic(path, lambda place: _to_parquet(shown, place, contract), force=force)
    shown = _with_text(frame, spreadsheet_text)
    for name in shown.columns:
        if pd.api.types.is_datetime64_any_dtype(shown[name]) and str(name).endswith("_utc"):
            shown[name] = shown[name].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    text = shown.to_csv(index=False, float_format=FLOAT_FORMAT, lineterminator="\n")
    return write_atomic(path, text, force=force)


def spreadsheet_text(text: str) -> str:
    """Text of a cell that no spreadsheet takes for a formula, and without control characters.

    An apostrophe goes before what begins with one of ``= + - @`` or a tab: a spreadsheet would run
    such a text when the file is opened.

    Examples
    --------
    >>> spreadsheet_text("=1+1"), spreadsheet_text("North - 2")
    ("'=1+1", 'North - 2')
    """
    return f"'{printable(text)}" if text.startswith(_FORMULA) else printable(text)


def _with_text(frame: pd.DataFrame, shown_as: Callable[[str], str]) -> pd.DataFrame:
    """Copy of a table with other texts; each distinct one is looked at once."""
    shown = frame.copy()
    for name in shown.columns:
        column = shown[name]
        if pd.api.types.is_numeric_dtype(column) or pd.api.types.is_datetime64_any_dtype(column):
            continue
        texts = {one: shown_as(one) for one in column.unique() if isinstance(one, str)}
        if any(one != text for one, text in texts.items()):
            shown[name] = [texts.get(one, one) for one in column]
    return shown


def _to_parquet(frame: pd.DataFrame, place: Path, contract: TableContract | None) -> None:
    """Write Parquet, times as UTC, units as metadata of the fields."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    shown = frame.copy()
    for name in shown.columns:
        column = shown[name]
        if pd.api.types.is_datetime64_dtype(column) and str(name).endswith("_utc"):
            shown[name] = column.dt.tz_localize("UTC")
    table = pa.Table.from_pandas(shown, preserve_index=False)
    table = table.replace_schema_metadata({**table.schema.metadata, PARQUET_KEY: MARK})
    if contract is not None:
        units = {column.name: column.unit for column in contract.columns if column.unit}
        fields = [
            item.with_metadata({"unit": units[item.name]}) if item.name in units else item
            for item in table.schema
        ]
        table = table.cast(pa.schema(fields, metadata=table.schema.metadata))
    pq.write_table(table, place, compression="zstd")


def read_table(path: str | os.PathLike[str], contract: TableContract) -> pd.DataFrame:
    r"""Table of a CSV or Parquet file, in the units of its contract.

    A header may state another unit of the same kind, such as ``marketable [oz]`` beside a contract
    in grams; a header without unit is in the unit of the contract. Days and times that can be read
    in two ways are refused.

    Parameters
    ----------
    path : str or path
    contract : TableContract

    Returns
    -------
    DataFrame
        The columns of the contract that the file has, and "row", the line in the file.

    Raises
    ------
    InputError
        With every fault: of the file, and of the contract.

    Examples
    --------
    >>> import tempfile
    >>> from phenocast.tables import CANOPY_COVER
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     place = Path(folder, "cover.csv")
    ...     _ = place.write_text("date,cover [%]\n2026-10-25,40\n")
    ...     read_table(place, CANOPY_COVER)["cover"].tolist()
    [0.4]
    """
    with reading(path, "a table"):
        table = read_raw_table(path)
        found = Gathered(table.source)
        frame = _cells(table, contract, found, found)
        found.raise_any()
        found.extend(replace(contract, name=table.source, extra=True).check(frame))
        found.raise_any()
        return frame


def read_sound_cells(
    path: str | os.PathLike[str], contract: TableContract, left_out: Gathered
) -> pd.DataFrame:
    r"""Table as `read_table` gives it, where a cell that cannot be is left out and not refused.

    Parameters
    ----------
    path : str or path
    contract : TableContract
    left_out : Gathered
        Takes the cells that are left out; they are empty in the result.

    Returns
    -------
    DataFrame
        All columns of the contract, and "row".

    Raises
    ------
    InputError
        Where a column is missing, is unknown or has a unit of another kind.

    Examples
    --------
    >>> import tempfile
    >>> from phenocast.tables import CANOPY_COVER
    >>> left_out = Gathered("cover.csv")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     place = Path(folder, "cover.csv")
    ...     _ = place.write_text("date,cover\n2026-10-25,0.4\nsoon,7\n")
    ...     read_sound_cells(place, CANOPY_COVER, left_out)["cover"].tolist()
    [0.4, nan]
    >>> [fault.where for fault in left_out.error().faults]
    ["cover.csv, row 3, column 'date'", "cover.csv, row 3, column 'cover'"]
    """
    table = read_raw_table(path)
    found = Gathered(table.source)
    frame = _cells(table, contract, found, left_out)
    found.raise_any()
    for column in contract.columns:
        if column.name not in frame:
            frame[column.name] = None if column.kind == "text" else np.nan
        elif column.kind in ("number", "whole"):
            values = frame[column.name]
            broken = (values < column.lower) | (values > column.upper)
            broken |= (values % 1 > 0) & (column.kind == "whole")
            whole = "whole numbers " if column.kind == "whole" else ""
            left_out.add_rows(
                "out of range", rows=frame.loc[broken, "row"].to_numpy(), column=column.name,
                values=values[broken].to_numpy(),
                allowed=f"{whole}{column.lower:g} to {column.upper:g}",
            )  # fmt: skip
            frame[column.name] = values.mask(broken)
    return frame


def _cells(
    table: RawTable, contract: TableContract, found: Gathered, left_out: Gathered
) -> pd.DataFrame:
    """Columns of a table; ``found`` takes the faults of columns, ``left_out`` those of cells."""
    headers = {split_header(str(h)).name: str(h) for h in table.frame.columns}
    headers |= {str(h): str(h) for h in table.frame.columns if str(h) in contract.names}
    result: dict[str, Any] = {}
    for column in contract.columns:
        header = headers.get(column.name)
        if header is None:
            if column.required:
                close = nearest(column.name, headers)
                found.add(
                    "a column is missing", column=column.name, allowed=", ".join(contract.names),
                    do=f"it holds {column.meaning}"
                    + (f"; is it '{close}'?" if close and close not in contract.names else ""),
                )  # fmt: skip
            continue
        result[column.name] = _read_column(table, header, column, found, left_out)
    if not contract.extra:
        known = {headers[name] for name in contract.names if name in headers}
        for header in table.frame.columns:
            if header not in known and header:
                found.add(
                    "unknown column", column=header, allowed=", ".join(contract.names),
                    do=meant(split_header(header).name, contract.names, "take it out"),
                )  # fmt: skip
    found.raise_any()
    return pd.DataFrame({**result, "row": table.rows})


def _read_column(
    table: RawTable, header: str, column: Column, found: Gathered, left_out: Gathered
) -> Any:
    """One column in its kind and unit."""
    cells = table.frame[header]
    if column.kind in ("number", "whole"):
        values, _ = table.numbers(header, left_out)
        unit = split_header(header).unit or table.units.get(header)
        if unit is None or not column.unit or header == column.name:
            return values
        try:
            return convert(values, unit, column.unit)
        except InputError as error:
            for fault in error.faults:
                found.add(fault.what, column=header, value=fault.value, allowed=fault.allowed)
            return values
    if column.kind in ("day", "time"):
        lot = found if left_out is found else Gathered(table.source)
        stamps = stamps_of(cells, table.rows, header, lot)
        if stamps is not None:
            return stamps.time
        if left_out is found:
            return pd.DatetimeIndex([pd.NaT] * len(cells))
        return _each_stamp(cells, table.rows, header, left_out)
    texts = cells.astype("str").str.strip().where(cells.notna(), "")
    return texts.where(texts != "", None)


def _each_stamp(
    cells: pd.Series, rows: np.ndarray, header: str, left_out: Gathered
) -> pd.DatetimeIndex:
    """Stamps of cells that each stand for themselves; NaT where one cannot be read."""
    alone = [
        stamps_of(cells[at : at + 1].reset_index(drop=True), rows[at : at + 1], header, left_out)
        for at in range(len(cells))
    ]
    return pd.DatetimeIndex([pd.NaT if one is None else one.time[0] for one in alone])
