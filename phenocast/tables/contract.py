"""What a table must look like, and every way in which one does not."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from phenocast.errors import Fault, InputError, meant, raise_any, refuse
from phenocast.units import parse_unit

if TYPE_CHECKING:
    import pandas as pd

Kind = Literal["number", "whole", "text", "time", "day", "week"]
_KINDS = ("number", "whole", "text", "time", "day", "week")
_SHOWN_ROWS = 5
_ISO_WEEK = r"^\d{4}-W(0[1-9]|[1-4]\d|5[0-3])$"


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Parameters
    ----------
    name : str
    unit : str
        Unit of a number; "" for what has none (texts and times), "1" for a count or a share.
    lower, upper : float
        Range of a number, both ends allowed. [unit]
    meaning : str
        One line for the reader of the table.
    nullable : bool
        Whether a value may be missing.
    kind : str
        "number", "whole", "text", "time" (UTC), "day" (calendar) or "week" (ISO, "2027-W03").
    required : bool
        Whether a table must have the column.

    Raises
    ------
    InputError
        Where the unit is not known or the range is upside down.

    Examples
    --------
    >>> Column("air_c", "degC", -60.0, 60.0, "air at 1.5 to 2 m", nullable=True).kind
    'number'
    """

    name: str
    unit: str
    lower: float
    upper: float
    meaning: str
    nullable: bool = False
    kind: Kind = "number"
    required: bool = True

    def __post_init__(self) -> None:
        refuse(
            (
                self.kind not in _KINDS,
                Fault("unknown kind of column", self.name, self.kind, str(_KINDS)),
            )
        )
        if self.unit:
            parse_unit(self.unit)
        refuse(
            (
                not self.lower <= self.upper,
                Fault("the range is upside down", self.name, (self.lower, self.upper)),
            )
        )


def label(name: str, meaning: str, kind: Kind = "text", *, nullable: bool = False) -> Column:
    """Return a column without unit and range: a name, a time, a day or a week.

    Examples
    --------
    >>> label("block", "name of the block").unit
    ''
    """
    return Column(name, "", -math.inf, math.inf, meaning, nullable=nullable, kind=kind)


@dataclass(frozen=True)
class TableContract:
    """The columns of a table, in order.

    Parameters
    ----------
    name : str
    columns : tuple of Column
    extra : bool
        Whether columns of other names are let through.

    Examples
    --------
    >>> import pandas as pd
    >>> contract = TableContract("air", (Column("air_c", "degC", -60.0, 60.0, "air"),))
    >>> for fault in contract.check(pd.DataFrame({"air_c": [21.0, 99.0]})):
    ...     print(fault)
    air, row 2, column air_c: out of range in 1 row (value 99.0; allowed: -60 to 60 degC)
    """

    name: str
    columns: tuple[Column, ...]
    extra: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns, in order."""
        return tuple(column.name for column in self.columns)

    def column(self, name: str) -> Column:
        """One column by name.

        Raises
        ------
        InputError
            Where the table has no such column; the nearest is suggested.
        """
        for column in self.columns:
            if column.name == name:
                return column
        raise InputError(
            Fault("unknown column", self.name, name, ", ".join(self.names),
                  meant(name, self.names))
        )  # fmt: skip

    def check(self, frame: pd.DataFrame) -> list[Fault]:
        """Every fault of a table; empty where it keeps the contract.

        Parameters
        ----------
        frame : pandas.DataFrame

        Returns
        -------
        list of Fault
            With the row (from 1, or of the file where a column "row" tells it) and the column.
        """
        faults = []
        for column in self.columns:
            if column.name in frame.columns:
                faults += self._column_faults(frame, column)
            elif column.required:
                faults.append(
                    Fault("a column is missing", f"{self.name}, column {column.name}",
                          do=f"it holds {column.meaning}")
                )  # fmt: skip
        if not self.extra:
            for name in frame.columns:
                if name not in self.names:
                    faults.append(
                        Fault("unknown column", f"{self.name}, column {name}",
                              allowed=", ".join(self.names),
                              do=meant(str(name), self.names, "take it out"))
                    )  # fmt: skip
        return faults

    def require(self, frame: pd.DataFrame) -> pd.DataFrame:
        """Return the table where it keeps the contract.

        Raises
        ------
        InputError
            With every fault of `check`.
        """
        raise_any(self.check(frame))
        return frame

    def _column_faults(self, frame: pd.DataFrame, column: Column) -> list[Fault]:
        values = frame[column.name]
        faults = []
        missing = values.isna()
        if not column.nullable and bool(missing.any()):
            faults.append(self._rows("a value is missing", frame, column, missing))
        wrong = self._wrong_kind(values, column)
        if wrong is not None:
            return [*faults, wrong]
        if column.kind in ("number", "whole"):
            outside = ~missing & ~values.between(column.lower, column.upper)
            if bool(outside.any()):
                faults.append(self._rows("out of range", frame, column, outside, _range(column)))
            if column.kind == "whole":
                broken = ~missing & ~outside & (values % 1 != 0)
                if bool(broken.any()):
                    faults.append(self._rows("not a whole number", frame, column, broken))
        if column.kind == "week":
            unlike = ~missing & ~values.astype(str).str.match(_ISO_WEEK)
            if bool(unlike.any()):
                told = "such as 2027-W03"
                faults.append(self._rows("not an ISO week", frame, column, unlike, told))
        return faults

    def _wrong_kind(self, values: pd.Series, column: Column) -> Fault | None:
        import pandas as pd

        where = f"{self.name}, column {column.name}"
        if column.kind in ("number", "whole"):
            sound = pd.api.types.is_numeric_dtype(values) and not pd.api.types.is_bool_dtype(values)
            allowed = "numbers"
        elif column.kind == "time":
            sound = pd.api.types.is_datetime64_dtype(values)
            allowed = "times in UTC without a zone of their own"
        elif column.kind == "day":
            sound = pd.api.types.is_datetime64_dtype(values) or (
                pd.api.types.infer_dtype(values, skipna=True) in ("date", "empty")
            )
            allowed = "calendar days"
        else:
            sound = pd.api.types.infer_dtype(values, skipna=True) in (
                "string",
                "empty",
                "categorical",
            )
            allowed = "texts"
        return (
            None if sound else Fault("the wrong kind of value", where, str(values.dtype), allowed)
        )

    def _rows(
        self,
        what: str,
        frame: pd.DataFrame,
        column: Column,
        at: pd.Series,
        allowed: str = "",
    ) -> Fault:
        """Return one fault for all rows that share it, the first few named."""
        places = at.to_numpy().nonzero()[0]
        lines = frame["row"].to_numpy() if "row" in frame.columns else range(1, len(frame) + 1)
        named = ", ".join(str(lines[place]) for place in places[:_SHOWN_ROWS])
        more = ", ..." if len(places) > _SHOWN_ROWS else ""
        rows = "row" if len(places) == 1 else "rows"
        return Fault(
            f"{what} in {len(places)} {rows}",
            f"{self.name}, {rows} {named}{more}, column {column.name}",
            None if what == "a value is missing" else _plain(frame[column.name].iloc[places[0]]),
            allowed,
        )


def _plain(value: object) -> object:
    """Return a NumPy scalar as the Python value that a reader knows."""
    item = getattr(value, "item", None)
    return item() if callable(item) else value


def _range(column: Column) -> str:
    unit = f" {column.unit}" if column.unit not in ("", "1") else ""
    return f"{column.lower:.10g} to {column.upper:.10g}{unit}"
