"""Faults of a file, gathered so that the user hears of all of them at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np

from phenocast.errors import Fault, InputError

SHOWN_PER_KIND = 5


class Gathered:
    """Faults of one file; of each kind the first few are shown and the rest are counted.

    Parameters
    ----------
    source : str
        Name of the file.

    Examples
    --------
    >>> found = Gathered("station.csv")
    >>> _ = found.add_rows("not a number", rows=range(2, 30), column="air", values=["hot"] * 28)
    >>> print(str(found.error()).splitlines()[0])
    station.csv, row 2, column 'air': not a number (value 'hot')
    >>> print(str(found.error()).splitlines()[-1])
    station.csv, column 'air': not a number: in 28 rows, of which the first 5 are shown
    """

    def __init__(self, source: str) -> None:
        self.source = source
        self._faults: list[Fault] = []
        self._seen: Counter[tuple[str, str | None]] = Counter()

    def __bool__(self) -> bool:
        return bool(self._faults)

    def place(self, row: int | None = None, column: str | None = None) -> str:
        """File, row and column as a message shows them."""
        text = self.source
        if row is not None:
            text += f", row {row}"
        if column is not None:
            text += f", column '{column}'"
        return text

    def add(
        self,
        what: str,
        *,
        row: int | None = None,
        column: str | None = None,
        value: object = None,
        allowed: str = "",
        do: str = "",
    ) -> None:
        """Note one fault."""
        self._note(Fault(what, self.place(row, column), value, allowed, do), column)

    def _note(self, fault: Fault, column: str | None = None) -> None:
        key = (fault.what, column)
        self._seen[key] += 1
        if self._seen[key] <= SHOWN_PER_KIND:
            self._faults.append(fault)

    def add_rows(
        self,
        what: str,
        *,
        rows: Sequence[int] | np.ndarray,
        values: Sequence[object] | np.ndarray | None = None,
        column: str | None = None,
        allowed: str = "",
        do: str = "",
    ) -> bool:
        """Note the same fault of many rows, and return whether there are any."""
        for position in range(min(len(rows), SHOWN_PER_KIND)):
            value = None if values is None else plain(values[position])
            row = int(rows[position])
            self.add(what, row=row, column=column, value=value, allowed=allowed, do=do)
        self._seen[(what, column)] += max(0, len(rows) - SHOWN_PER_KIND)
        return len(rows) > 0

    def extend(self, faults: Iterable[Fault]) -> None:
        """Take faults that were made elsewhere."""
        for fault in faults:
            self._note(fault)

    def error(self) -> InputError:
        """Error that holds what was gathered, with a count where not all is shown."""
        rest = [
            Fault(
                f"{what}: in {times} rows, of which the first {SHOWN_PER_KIND} are shown",
                self.place(column=column),
            )
            for (what, column), times in self._seen.items()
            if times > SHOWN_PER_KIND
        ]
        return InputError([*self._faults, *rest])

    def raise_any(self) -> None:
        """Raise what was gathered, if anything was.

        Raises
        ------
        InputError
        """
        if self._faults:
            raise self.error()


def plain(value: object) -> object:
    """Value as a message shows it: numpy scalars as Python's, floats without noise.

    Examples
    --------
    >>> plain(np.float64(37.22222222222222))
    37.2222
    """
    if isinstance(value, np.generic):
        value = value.item()
    return float(f"{value:.6g}") if isinstance(value, float) else value
