"""Refusals of records that are not the trial they are said to be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError, nearest

_SHOWN_ROWS = 12


def named_rows(records: pd.DataFrame, at: NDArray[np.bool_]) -> str:
    """Rows of the records, by the column "row" (line in the file) where there is one, else from 1.

    Examples
    --------
    >>> named_rows(pd.DataFrame({"row": [2, 3, 5]}), np.array([True, False, True]))
    'rows 2, 5'
    """
    lines = (records["row"].to_numpy() if "row" in records else np.arange(1, len(records) + 1))[
        at
    ].tolist()
    more = ", ..." if len(lines) > _SHOWN_ROWS else ""
    shown = ", ".join(str(line) for line in lines[:_SHOWN_ROWS])
    return f"row{'s' if len(lines) > 1 else ''} {shown}{more}"


def require_columns(records: pd.DataFrame, columns: Sequence[str]) -> None:
    """Refuse records without the columns named, suggesting the nearest names."""
    known = [str(column) for column in records.columns]
    faults = []
    for column in columns:
        if column not in known:
            close = nearest(column, known)
            faults.append(
                Fault(
                    "no such column",
                    value=column,
                    allowed=", ".join(known),
                    do=f"did you mean '{close}'?" if close else "",
                )
            )
    if faults:
        raise InputError(faults)


def require_one_spelling(column: str, levels: tuple[str, ...]) -> None:
    """Refuse levels that differ in case only."""
    folded: dict[str, str] = {}
    for level in levels:
        other = folded.setdefault(level.casefold(), level)
        if other != level:
            raise InputError(
                Fault(
                    "two names that differ in case only",
                    where=f"column {column}",
                    value=(other, level),
                    do="write them alike if they are one, apart if they are two",
                )
            )


def require_two(column: str, levels: tuple[str, ...]) -> None:
    """Refuse a factor with fewer than two levels."""
    if len(levels) < 2:
        raise InputError(
            Fault(
                "fewer than two levels leave nothing to compare",
                where=f"column {column}",
                value=levels,
                allowed="2 or more",
            )
        )


def require_replicates(
    factor: str, levels: tuple[str, ...], blocks_of_level: NDArray[np.int64], records: pd.DataFrame
) -> None:
    """Refuse levels that stand in one block only, with the rows of the records."""
    alone = [
        level for level, count in zip(levels, blocks_of_level.tolist(), strict=True) if count < 2
    ]
    if alone:
        at = records[factor].astype(str).str.strip().isin(alone).to_numpy()
        raise InputError(
            Fault(
                f"not replicated: each of these stands in one block only, so its effect cannot be "
                f"told from that of its place: {', '.join(alone)}",
                where=f"{named_rows(records, at)}, column {factor}",
                allowed="every level in 2 or more blocks",
                do="samples within a plot do not make up for it; say what was seen, without a test",
            )
        )


def require_cells(
    whole: str,
    sub: str,
    wholes: tuple[str, ...],
    subs: tuple[str, ...],
    present: NDArray[np.bool_],
) -> None:
    """Refuse combinations of both factors that no plot holds."""
    absent = [f"{wholes[i]} with {subs[j]}" for i, j in np.argwhere(~present)]
    if absent:
        raise InputError(
            Fault(
                f"combinations of {whole} and {sub} that no plot holds: {', '.join(absent)}",
                do=f"leave out the {whole} or the {sub} that is not in all combinations",
            )
        )
