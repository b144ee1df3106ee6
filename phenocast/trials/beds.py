"""Whether beds named in the records are what the blocks say: one bed of each film in each block.

A bed that was cut into pieces and called several replicates is still one bed: its pieces share
whatever that bed has, and counting them as replicates is the pseudo-replication of Hurlbert (1984),
Ecol. Monogr. 54:187-211. The names of beds give it away.
"""

from __future__ import annotations

import pandas as pd

from phenocast.errors import Fault, InputError
from phenocast.trials._checks import named_rows


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
    if faults:
        raise InputError(faults)
