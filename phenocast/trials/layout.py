"""From the records of a trial to one value per plot, or a refusal.

The unit of a trial is the plot to which a treatment was given by lot, not the plant or the pick.
Many records of one plot tell how well that plot was measured and nothing about how plots differ;
counted as replicates they make differences look surer than they are (pseudo-replication). Records
are therefore averaged only when asked for, and a film that stands in one bed only is refused.

A bed that was cut into pieces and called several replicates is still one bed: its pieces share
whatever that bed has, and counting them as replicates is the pseudo-replication of Hurlbert (1984),
Ecol. Monogr. 54:187-211. The names of beds give it away (`require_beds`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, meant, raise_any, refuse

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
    raise_any(
        [
            Fault("no such column", value=column, allowed=", ".join(known), do=meant(column, known))
            for column in columns
            if column not in known
        ]
    )


def require_one_spelling(column: str, levels: tuple[str, ...]) -> None:
    """Refuse levels that differ in case only."""
    folded: dict[str, str] = {}
    for level in levels:
        other = folded.setdefault(level.casefold(), level)
        refuse(
            (
                other != level,
                Fault(
                    "two names that differ in case only",
                    where=f"column {column}",
                    value=(other, level),
                    do="write them alike if they are one, apart if they are two",
                ),
            )
        )


def require_two(column: str, levels: tuple[str, ...]) -> None:
    """Refuse a factor with fewer than two levels."""
    refuse(
        (
            len(levels) < 2,
            Fault(
                "fewer than two levels leave nothing to compare",
                where=f"column {column}",
                value=levels,
                allowed="2 or more",
            ),
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
    refuse(
        (
            absent,
            Fault(
                f"combinations of {whole} and {sub} that no plot holds: {', '.join(absent)}",
                do=f"leave out the {whole} or the {sub} that is not in all combinations",
            ),
        )
    )


Subsamples = Literal["refuse", "mean"]


@dataclass(frozen=True)
class SplitPlots:
    """One value per plot of a split-plot trial in randomised blocks.

    Parameters
    ----------
    response : str
        What was measured.
    block, whole, sub : str
        Names of the block, the whole-plot factor (such as film) and the sub-plot factor (such as
        cultivar).
    blocks, wholes, subs : tuples of str
        Their levels.
    values : array ``[block, whole, sub]``
        Value of each plot; NaN where a plot is missing.
    notes : tuple of str
        What was done to the records on the way.
    """

    response: str
    block: str
    whole: str
    sub: str
    blocks: tuple[str, ...]
    wholes: tuple[str, ...]
    subs: tuple[str, ...]
    values: FloatArray
    notes: tuple[str, ...] = ()

    @property
    def complete(self) -> bool:
        """Whether no plot is missing."""
        return not bool(np.isnan(self.values).any())


@dataclass(frozen=True)
class BlockPlots:
    """One value per plot, ``values[block, treatment]``, of one factor in randomised blocks."""

    response: str
    block: str
    treatment: str
    blocks: tuple[str, ...]
    treatments: tuple[str, ...]
    values: FloatArray
    notes: tuple[str, ...] = ()


def split_plots(
    records: pd.DataFrame,
    response: str,
    *,
    block: str = "block",
    whole: str = "film",
    sub: str = "cultivar",
    subsamples: Subsamples = "refuse",
) -> SplitPlots:
    """Plots of a split-plot trial from its records.

    Parameters
    ----------
    records : one row per plot, with the columns named below.
    response : column measured; an empty cell is a missing plot.
    block, whole, sub : columns of the block, whole-plot factor and sub-plot factor.
    subsamples : "mean" averages several records of one plot; "refuse" takes them for a mistake.

    Returns
    -------
    SplitPlots

    Raises
    ------
    InputError : a column missing or empty, a response that is not a number, several records of a
        plot (with "refuse"), fewer than two levels, a film without replicates, or a combination of
        film and cultivar that never occurs.

    Examples
    --------
    >>> rows = [(b, f, c, 10.0 + i) for i, (b, f, c) in enumerate(
    ...     (b, f, c) for b in "12" for f in ("black", "silver") for c in ("Marl", "Tuff"))]
    >>> table = pd.DataFrame(rows, columns=["block", "film", "cultivar", "yield"])
    >>> split_plots(table, "yield").values.shape
    (2, 2, 2)
    """
    plots, notes = _one_value_per_plot(records, response, (block, whole, sub), subsamples)
    levels = [_levels(plots[column]) for column in (block, whole, sub)]
    for column, found in zip((block, whole, sub), levels, strict=True):
        require_two(column, found)
    values = _as_array(plots, response, (block, whole, sub), levels)
    blocks_of_film = np.isfinite(values).any(axis=2).sum(axis=0)
    require_replicates(whole, levels[1], blocks_of_film, records)
    require_cells(whole, sub, levels[1], levels[2], np.asarray(np.isfinite(values).any(axis=0)))
    absent = int(np.isnan(values).sum())
    if absent:
        notes = (*notes, f"{absent} of {values.size} plots are missing")
    return SplitPlots(response, block, whole, sub, levels[0], levels[1], levels[2], values, notes)


def block_plots(
    records: pd.DataFrame,
    response: str,
    *,
    block: str = "block",
    treatment: str = "film",
    subsamples: Subsamples = "refuse",
) -> BlockPlots:
    """Plots of a one-factor trial in randomised blocks from its records.

    Parameters
    ----------
    records, response, block, subsamples : as `split_plots`.
    treatment : column of the factor.

    Returns
    -------
    BlockPlots

    Raises
    ------
    InputError : as `split_plots`; a plot missing.

    Examples
    --------
    >>> rows = [("1", "black", 5.0), ("1", "white", 6.0), ("2", "black", 4.0), ("2", "white", 7.0)]
    >>> table = pd.DataFrame(rows, columns=["block", "film", "yield"])
    >>> block_plots(table, "yield").values.tolist()
    [[5.0, 6.0], [4.0, 7.0]]
    """
    plots, notes = _one_value_per_plot(records, response, (block, treatment), subsamples)
    levels = [_levels(plots[column]) for column in (block, treatment)]
    for column, found in zip((block, treatment), levels, strict=True):
        require_two(column, found)
    values = _as_array(plots, response, (block, treatment), levels)
    require_replicates(treatment, levels[1], np.isfinite(values).sum(axis=0), records)
    if np.isnan(values).any():
        at = np.argwhere(np.isnan(values))[0]
        raise InputError(
            Fault(
                "a plot is missing",
                where=f"{block} {levels[0][at[0]]}, {treatment} {levels[1][at[1]]}",
                do="leave the block out and say so: one-factor trials are analysed complete",
            )
        )
    return BlockPlots(response, block, treatment, levels[0], levels[1], values, notes)


def _one_value_per_plot(
    records: pd.DataFrame, response: str, keys: Sequence[str], subsamples: str
) -> tuple[pd.DataFrame, tuple[str, ...]]:
    require_columns(records, (response, *keys))
    plots = records.loc[:, [*keys, response]].copy()
    numbers = pd.to_numeric(plots[response], errors="coerce")
    wrong = numbers.isna() & plots[response].notna()
    empty = plots[list(keys)].isna().any(axis=1)
    each, names = np.arange(len(records)), ", ".join(keys)
    faults = [
        Fault("not a number", f"{named_rows(records, each == row)}, column {response}", value)
        for row, value in zip(np.flatnonzero(wrong), plots.loc[wrong, response], strict=True)
    ]
    faults += [
        Fault("block or treatment is empty", named_rows(records, each == row), allowed=names)
        for row in np.flatnonzero(empty)
    ]
    raise_any(faults)
    plots[response] = numbers
    for key in keys:
        plots[key] = plots[key].astype(str).str.strip()
        require_one_spelling(key, _levels(plots[key]))
    grouped = plots.groupby(list(keys), sort=False)[response]
    counts = grouped.size()
    most = int(counts.max())
    if most == 1:
        return plots, ()
    if subsamples != "mean":
        fullest = dict(zip(keys, counts.index[int(counts.to_numpy().argmax())], strict=True))
        at = np.all([(plots[key] == level).to_numpy() for key, level in fullest.items()], axis=0)
        plot = ", ".join(f"{key} {level}" for key, level in fullest.items())
        more = int((counts > 1).sum()) - 1
        others = f" (and so in {more} other plots)" if more else ""
        raise InputError(
            Fault(
                f"{most} records of one plot{others}; plants, samples and picks are no replicates",
                where=f"{named_rows(records, at)}: {plot}",
                do="average or sum them to one value per plot first, or ask for means of plots; "
                "if they are different plots, give each its block",
            )
        )
    return grouped.mean().reset_index(), (
        f"up to {most} records of a plot were averaged; the plot is the unit",
    )


def _as_array(
    plots: pd.DataFrame,
    response: str,
    keys: Sequence[str],
    levels: Sequence[tuple[str, ...]],
) -> FloatArray:
    values = np.full(tuple(len(found) for found in levels), np.nan)
    places = tuple(
        plots[key].map({level: i for i, level in enumerate(found)}).to_numpy()
        for key, found in zip(keys, levels, strict=True)
    )
    values[places] = plots[response].to_numpy(dtype=np.float64)
    return values


def _levels(column: pd.Series[str]) -> tuple[str, ...]:
    return tuple(str(level) for level in pd.unique(column))


def require_beds(records: pd.DataFrame, *, block: str, whole: str, bed: str = "whole_plot") -> None:
    """Refuse beds that hold two films, stand in two blocks, or repeat a film within a block.

    Parameters
    ----------
    records : one row per record, with the columns named below as texts; a column "row" gives the
        line in the file for messages.
    block, whole, bed : columns of the block, the whole-plot factor and the name of the whole plot.

    Raises
    ------
    InputError : with every such bed and its rows.

    Notes
    -----
    Beds may be named anew in each block ("1", "2", ...), which shows when one name carries
    different films in different blocks; a name that never does is taken for one bed everywhere.

    Examples
    --------
    >>> cut = pd.DataFrame({"replicate": ["1", "2", "1", "2"], "whole_plot": ["A", "A", "B", "B"],
    ...                     "film": ["black", "black", "silver", "silver"]})
    >>> require_beds(cut, block="replicate", whole="film")
    Traceback (most recent call last):
    phenocast.errors.InputError: rows 1, 2: pseudo-replication: the one whole plot A ...
    """
    table = pd.DataFrame(
        {name: records[name].astype(str).str.strip() for name in {block, whole, bed}}
    )
    films_within = table.groupby([block, bed], sort=False)[whole].nunique()
    faults = []
    for place, name in films_within.index[films_within > 1]:
        at = ((table[block] == place) & (table[bed] == name)).to_numpy()
        films = ", ".join(pd.unique(table.loc[at, whole]))
        faults.append(
            Fault(
                f"whole plot {name} of {block} {place} holds more than one {whole}: {films}",
                named_rows(records, at),
                do=f"{whole} was given to whole plots: each holds one",
            )
        )
    beds_within = table.groupby([block, whole], sort=False)[bed].nunique()
    for place, film in beds_within.index[beds_within > 1]:
        at = ((table[block] == place) & (table[whole] == film)).to_numpy()
        beds = ", ".join(pd.unique(table.loc[at, bed]))
        faults.append(
            Fault(
                f"{whole} {film} stands on more than one whole plot of {block} {place}: {beds}",
                named_rows(records, at),
                do=f"a {block} holds one whole plot of each {whole}; if it holds more, it is more "
                f"than one {block}",
            )
        )
    films_of_name = table.groupby(bed, sort=False)[whole].nunique()
    if not bool((films_of_name > 1).any()):  # else the names are those of each block
        blocks_of_name = table.groupby(bed, sort=False)[block].nunique()
        for name in blocks_of_name.index[blocks_of_name > 1]:
            at = (table[bed] == name).to_numpy()
            film = table.loc[at, whole].iloc[0]
            faults.append(
                Fault(
                    f"pseudo-replication: the one whole plot {name} ({whole} {film}) is counted as "
                    f"{blocks_of_name[name]} replicates ({block} "
                    f"{', '.join(pd.unique(table.loc[at, block]))})",
                    named_rows(records, at),
                    do="parts of one whole plot are no replicates of it; if they are different "
                    "whole plots, give each a name of its own",
                )
            )
    raise_any(faults)
