"""A table as it stands in a CSV or Parquet file: headers, cells and the line of each row."""

from __future__ import annotations

import csv
import io
import json
import os
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from phenocast.errors import Fault, Gathered, InputError, refuse
from phenocast.io.files import PARQUET_MAGIC, decode, read_bytes, reading
from phenocast.opened import LIMITS
from phenocast.units import parse_unit

if TYPE_CHECKING:
    import pyarrow as pa

MOST_COLUMNS = 1_000
"""Columns of a table: more than any logger has; the fields of a file that is none are far more."""
MOST_CELLS = 20_000_000
"""Cells of a table: 20 years of readings every five minutes, in nine columns."""
LONGEST_LINE = 100_000
"""Characters of a line: `MOST_COLUMNS` of a hundred each."""
DELIMITERS = (",", ";", "\t", "|")
MISSING = frozenset(
    {"", "na", "n/a", "nan", "null", "none", "nil", "-", "--", "---", "m", "missing", "#n/a", "."}
)
# Codes that stand for "missing" in plain numbers; none is possible for any quantity we read.
MISSING_CODES = (-999.0, -999.9, -9999.0, -9999.9, -99999.0, -6999.0, -7999.0)
LARGEST = 1e30  # of a number in a table; what is computed from it stays far from the end of floats
_SEP_LINE = re.compile(r"^\"?sep=.\"?\s*$")  # written by spreadsheets as their first line
_UNNAMED = re.compile(r"__index_level_\d+__")  # an index without a name, as it is kept in Parquet
_NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?$")


@dataclass(frozen=True)
class RawTable:
    """Cells of a file before they mean anything.

    Parameters
    ----------
    frame : DataFrame
        Columns named by the headers; text from CSV, native types from Parquet; RangeIndex.
    rows : array of int, [n]
        1-based line in the file; for Parquet the 1-based row.
    source : str
        Name of the file, for messages.
    units : dict of str to str
        Unit of a header where the file states it beside the header (a line of units, Parquet
        field metadata).
    decimal_comma : bool
        The delimiter is not a comma, so a comma inside a number is its decimal sign.
    notes : tuple of str
        What was skipped.
    """

    frame: pd.DataFrame
    rows: np.ndarray
    source: str
    units: dict[str, str] = field(default_factory=dict)
    decimal_comma: bool = False
    notes: tuple[str, ...] = ()

    def numbers(self, header: str, found: Gathered) -> tuple[np.ndarray, int]:
        """Column as numbers: NaN where missing; cells that are no numbers go to ``found``.

        Returns
        -------
        values : array of float64, [n]
        codes : int
            How many cells held a code for "missing" such as -9999; -1 where cells are no numbers.
        """
        broken = False
        column = self.frame[header]
        if pd.api.types.is_numeric_dtype(column) and not pd.api.types.is_bool_dtype(column):
            values = column.to_numpy(dtype=np.float64, na_value=np.nan)
        else:
            values = np.full(len(column), np.nan)
            if isinstance(column.dtype, pd.StringDtype):
                values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=np.float64)
            if not np.isfinite(values).all():
                values, broken = self._from_text(header, found)
        huge = np.isfinite(values) & (np.abs(values) > LARGEST)
        found.add_rows(
            "no quantity is so large", rows=self.rows[huge], values=values[huge], column=header,
            allowed=f"up to {LARGEST:g}", do="correct the cell, or leave it empty",
        )  # fmt: skip
        coded = np.isin(values, MISSING_CODES)
        codes = -1 if broken else int(coded.sum())
        return np.where(coded | huge | ~np.isfinite(values), np.nan, values), codes

    def _from_text(self, header: str, found: Gathered) -> tuple[np.ndarray, bool]:
        """Column as numbers where some cells are blank, badly written or none; whether some are."""
        column = self.frame[header]
        texts = column.astype("str").str.strip().where(column.notna(), "")
        texts = texts.str.replace("\N{MINUS SIGN}", "-", regex=False)
        if self.decimal_comma:
            texts = texts.str.replace(r"^([+-]?\d*),(\d+)$", r"\1.\2", regex=True)
        blank = texts.str.lower().isin(MISSING).to_numpy()
        values = pd.to_numeric(texts, errors="coerce").to_numpy(dtype=np.float64)
        bad = ~blank & ~np.isfinite(values)
        found.add_rows(
            "not a number",
            rows=self.rows[bad],
            values=texts[bad].to_numpy(),
            column=header,
            allowed="a number, or empty where missing",
        )
        return np.where(blank, np.nan, values), bool(bad.any())


def read_raw_table(path: str | os.PathLike[str]) -> RawTable:
    """Table of a CSV file of any delimiter and encoding, or of a Parquet file.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    RawTable

    Raises
    ------
    InputError
        Where there is no table, or its lines differ in length, with the lines.

    Examples
    --------
    >>> from phenocast.parameters.library import shipped
    >>> table = read_raw_table(shipped("demo_weather", "low_quay_observed.csv"))
    >>> list(table.frame.columns)[:2], int(table.rows[0])
    (['time', 'air_c'], 2)
    """
    with reading(path, "a table"):
        return parse_table(read_bytes(path), path)


def parse_table(content: bytes, path: str | os.PathLike[str]) -> RawTable:
    """Table of the bytes of a CSV or Parquet file; result and errors as `read_raw_table`."""
    name = Path(path).name
    if content.startswith(PARQUET_MAGIC):
        return parse_parquet(content, name)
    return parse_delimited(decode(content, str(path)), name)


def parse_parquet(content: bytes, source: str) -> RawTable:
    """Table of a Parquet file's bytes; an index with a name counts as a column.

    What the file declares of its size is looked at before anything is unpacked, and texts stay as
    numbers into a list until it is known how long they are written out.

    Raises
    ------
    InputError
        Where the file is cut off or damaged, declares more than `MOST_CELLS` or the limit of a
        table, or holds lists or records instead of single values; with the column where one is at
        fault.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    found = Gathered(source)
    try:
        declared = pq.read_metadata(pa.BufferReader(content))
        leaves = [declared.schema.column(at) for at in range(declared.num_columns)]
        texts = [one.path for one in leaves if one.physical_type == "BYTE_ARRAY"]
        file = pq.ParquetFile(pa.BufferReader(content), read_dictionary=texts)
        _check_declared(declared, file.schema_arrow, found)
        found.raise_any()
        table = file.read()
    except InputError:
        raise
    except Exception as error:
        cut = not content.endswith(PARQUET_MAGIC)
        raise InputError(
            Fault(
                "the Parquet file is cut off" if cut else "the Parquet file is damaged",
                where=source,
                do="write or copy it again",
            )
        ) from error
    columns: dict[str, pd.Series[Any]] = {}
    units: dict[str, str] = {}
    room = LIMITS["table"].megabytes * 1_000_000
    for name in _columns_of(table.schema):
        kind, metadata = table.schema.field(name).type, table.schema.field(name).metadata or {}
        header = name
        if _UNNAMED.fullmatch(name):
            if not pa.types.is_timestamp(kind):
                continue  # rows counted by whoever wrote the file
            header = name if "time" in table.schema.names else "time"
        try:
            table.column(name).validate(full=True)
            plain, length = _written_out(table.column(name), room)
            columns[header] = plain.to_pandas()
            if b"unit" in metadata:
                units[header] = metadata[b"unit"].decode()
        except InputError:
            raise
        except Exception as error:
            found.add(
                f"the column cannot be read: {str(error)[:120]}", column=header, value=str(kind),
                do="write the file again, texts in UTF-8 and times in UTC",
            )  # fmt: skip
            continue
        room -= length
        if room < 0:
            raise LIMITS["table"].refusal(source, what="table, once its texts are written out,")
    found.raise_any()
    frame = pd.DataFrame(columns)
    refuse((frame.empty, Fault("the table has no rows", where=source)))
    return RawTable(frame, np.arange(1, len(frame) + 1), source, units)


def _check_declared(declared: Any, schema: pa.Schema, found: Gathered) -> None:
    """Refuse a Parquet file that says it is no table, or a table larger than any of ours."""
    import pyarrow as pa

    for name, times in Counter(schema.names).items():
        if times > 1:
            found.add("the header comes twice", column=name, do="rename one of them")
    for one in schema:
        if pa.types.is_nested(one.type):
            found.add(
                "the column holds lists or records", column=one.name, value=str(one.type),
                allowed="one value in each cell",
            )  # fmt: skip
    found.raise_any()
    _check_size(declared.num_rows, len(schema.names), found.source)
    # Not by column: the library ends the process where the statistics of one are damaged.
    size = sum(declared.row_group(at).total_byte_size for at in range(declared.num_row_groups))
    size += declared.num_rows * sum(
        one.type.byte_width for one in schema if pa.types.is_fixed_size_binary(one.type)
    )
    if size > LIMITS["table"].megabytes * 1_000_000:
        raise LIMITS["table"].refusal(found.source, size, "table, once it is unpacked,")


def _check_size(rows: int, columns: int, source: str) -> None:
    """Refuse a table of more columns or cells than any of ours has."""
    refuse(
        (
            columns > MOST_COLUMNS,
            Fault(
                "the table has too many columns",
                source,
                columns,
                f"up to {MOST_COLUMNS}",
                "check that it is the right file, or take columns out",
            ),
        )
    )
    refuse(
        (
            rows * columns > MOST_CELLS,
            Fault(
                "the table is too large",
                source,
                f"{rows} rows of {columns} columns",
                f"up to {MOST_CELLS} cells",
                "give fewer years or columns, or hourly values",
            ),
        )
    )


def _columns_of(schema: pa.Schema) -> list[str]:
    """Names of the columns, those that were an index first."""
    try:
        told = json.loads((schema.metadata or {})[b"pandas"])["index_columns"]
        index = [name for name in told if name in schema.names]
    except (KeyError, TypeError, ValueError, RecursionError):
        index = []
    return list(dict.fromkeys([*index, *schema.names]))


def _written_out(column: pa.ChunkedArray, room: int) -> tuple[pa.ChunkedArray, int]:
    """Column with its texts written out, and their length; not written where there is no room."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if not pa.types.is_dictionary(column.type):
        return column, 0
    kind = column.type.value_type
    if pa.types.is_binary(kind):
        kind = pa.string()  # some writers do not say that their bytes are text
    length = 0
    for chunk in column.chunks:
        if not pa.types.is_primitive(kind):
            lengths = pc.binary_length(chunk.dictionary).take(chunk.indices)
            length += pc.sum(lengths).as_py() or 0
    return (column if length > room else column.cast(kind)), length


def parse_delimited(text: str, source: str) -> RawTable:
    r"""Table of delimited text: the delimiter is found, title lines and ``#`` lines are skipped.

    Raises
    ------
    InputError
        Where no table is found, or its lines differ in length.

    Examples
    --------
    >>> table = parse_delimited("# made by hand\ntime;air\n\n2026-10-05;18,2\n", "a.csv")
    >>> table.rows.tolist(), table.frame["air"].tolist(), table.decimal_comma
    ([4], ['18,2'], True)
    """
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#") and not _SEP_LINE.match(line)
    ]
    _refuse_markup(text, source)
    for number, line in lines:
        if len(line) > LONGEST_LINE:
            raise InputError(
                Fault("the line is too long for a table", f"{source}, row {number}",
                      f"{len(line)} characters", f"up to {LONGEST_LINE}",
                      "check that the file has line ends and no cell without end")
            )  # fmt: skip
    delimiter, width = _delimiter([line for _, line in lines[:60]])
    refuse(
        (
            width < 2,
            Fault(
                "no columns are found in the file",
                where=source,
                value=lines[0][1][:60] if lines else None,
                allowed="columns parted by comma, semicolon, tab or bar, with a line of headers",
            ),
        )
    )
    _check_size(len(lines), width, source)
    split = _split([line for _, line in lines], delimiter, source)
    first = next(place for place, cells in enumerate(split) if len(cells) == width)
    headers = [cell.strip() for cell in split[first]]
    found = Gathered(source)
    _check_headers(headers, lines[first][0], found)
    found.raise_any()
    body, numbers = split[first + 1 :], [number for number, _ in lines[first + 1 :]]
    units = _unit_line(headers, body[0]) if body else None
    if units is not None:
        body, numbers = body[1:], numbers[1:]
    for number, cells in zip(numbers, body, strict=True):
        if len(cells) != width:
            found.add(
                "the line has more or fewer cells than the header", row=number, value=len(cells),
                allowed=f"{width} cells", do="complete the line, or remove it",
            )  # fmt: skip
    found.raise_any()
    refuse((not body, Fault("the table has a header but no rows", where=source)))
    frame = pd.DataFrame(dict(zip(headers, zip(*body, strict=True), strict=True)), dtype="str")
    notes = (f"{source}: {first} lines before the header are not used",) if first else ()
    return RawTable(
        frame, np.asarray(numbers), source, units or {}, delimiter not in (",", None), notes
    )


def _refuse_markup(text: str, source: str) -> None:
    """Refuse a web page or a JSON document, which some downloads turn out to be."""
    kind = {"<": "a web page or XML", "{": "a JSON document"}.get(text.lstrip()[:1])
    refuse(
        (
            kind is not None,
            Fault(
                f"this is {kind}, not a table",
                where=source,
                value=text.strip()[:40],
                do="fetch the file again, as CSV",
            ),
        )
    )


def _split(lines: list[str], delimiter: str | None, source: str) -> list[list[str]]:
    """Cells of each line; blanks part them where there is no delimiter."""
    if delimiter is None:
        return [line.split() for line in lines]
    cells = []
    for line in lines:
        if '"' in line:
            try:
                cells.append(next(csv.reader(io.StringIO(line), delimiter=delimiter)))
            except csv.Error as error:
                raise InputError(Fault(f"a line cannot be split: {error}", source)) from error
        elif "[" in line:
            cells.append(_outside_brackets(line, delimiter))
        else:
            cells.append(line.split(delimiter))
    return cells


def _outside_brackets(line: str, delimiter: str) -> list[str]:
    """Cells of a line; a delimiter inside the brackets of a header parts nothing."""
    cells: list[str] = []
    inside = False  # as seen from the right: the next bracket closes
    for piece in reversed(line.split(delimiter)):
        if inside:
            cells[-1] = piece + delimiter + cells[-1]
        else:
            cells.append(piece)
        bracket = re.search(r"[\[\]]", piece)
        if bracket:
            inside = bracket[0] == "]"
    return cells[::-1]


def _delimiter(lines: list[str]) -> tuple[str | None, int]:
    """Delimiter that parts at least half of the lines into one number of cells, and that number."""
    best: tuple[float, int, str | None] = (0.0, 0, ",")
    for delimiter in (*DELIMITERS, None):
        lengths = Counter(len(cells) for cells in _split(lines, delimiter, ""))
        width, times = max(lengths.items(), key=lambda item: (item[1], item[0]), default=(0, 0))
        if width < 2:
            continue
        share = times / len(lines) - (0.2 if delimiter is None else 0.0)
        if (round(share, 2), width) > (round(best[0], 2), best[1]):
            best = (share, width, delimiter)
    return (best[2], best[1]) if best[0] >= 0.5 else (",", 0)


def _check_headers(headers: list[str], line: int, found: Gathered) -> None:
    """Refuse a table without headers, and headers that come twice."""
    if sum(bool(_NUMBER.match(header)) for header in headers) * 2 > len(headers) - 1:
        found.add(
            "the table has no line of headers, or one of another length than its rows",
            row=line, value=",".join(headers)[:60],
            do="write a first line such as: time [UTC],air [degC],wind [m s-1]",
        )  # fmt: skip
        return
    for header, times in Counter(headers).items():
        if times > 1 and header:
            found.add("the header comes twice", row=line, column=header, do="rename one of them")
    if headers.count("") > 1:
        found.add("several columns have no header", row=line, do="name them, or remove them")


def _unit_line(headers: list[str], cells: list[str]) -> dict[str, str] | None:
    """Units of a line below the headers that holds nothing else; None where it is data."""
    units: dict[str, str] = {}
    for header, cell in zip(headers, cells, strict=False):
        text = cell.strip().strip("[]()")
        if not text:
            continue
        if _NUMBER.match(text):
            return None
        try:
            parse_unit(text)
        except InputError:
            if re.search(r"\d", text):
                return None
            continue
        units[header] = text
    return units or None
