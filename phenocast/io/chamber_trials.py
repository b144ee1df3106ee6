"""Chamber trials read from a table: how many plants flowered after so many days of a treatment."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from phenocast.calibration.likelihood import plants_of_percentage
from phenocast.errors import InputError, unknown_name
from phenocast.io.files import reading
from phenocast.io.gathered import Gathered
from phenocast.io.table_files import read_table
from phenocast.tables import CHAMBER_TRIALS


def read_chamber_trials(path: str | os.PathLike[str], cultivars: Iterable[str]) -> pd.DataFrame:
    r"""Trials of a CSV or Parquet file.

    Parameters
    ----------
    path : str or path
    cultivars : iterable of str
        Names that the season files use.

    Returns
    -------
    DataFrame
        Columns ``cultivar, temperature_c, photoperiod_h, days, plants, flowering, row``; a
        percentage has become whole plants.

    Raises
    ------
    InputError
        With every fault and its row: an unknown cultivar, neither or both of a number and a
        percentage, more that flowered than there were, a percentage that no number of plants gives.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     place = Path(folder, "chamber.csv")
    ...     _ = place.write_text("cultivar,temperature_c,photoperiod_h,days,plants,flowering_pct\n"
    ...                          "Marl,18,10,21,12,83\n")
    ...     read_chamber_trials(place, ["Marl"])["flowering"].tolist()
    [10.0]
    """
    with reading(path, "chamber trials"):
        return _trials(path, cultivars)


def _trials(path: str | os.PathLike[str], cultivars: Iterable[str]) -> pd.DataFrame:
    table = read_table(path, CHAMBER_TRIALS)
    found = Gathered(Path(path).name)
    known = sorted(set(cultivars))
    for name in ("flowering", "flowering_pct"):
        if name not in table:
            table[name] = np.nan
    flowering = table["flowering"].to_numpy(dtype=np.float64).copy()
    rows: list[Any] = list(table.itertuples(index=False))
    for i, one in enumerate(rows):
        row = int(one.row)
        if one.cultivar not in known:
            fault = unknown_name("cultivar", str(one.cultivar), known)
            found.add(fault.what, row=row, column="cultivar", value=one.cultivar,
                      allowed=fault.allowed, do=fault.do)  # fmt: skip
        percent = float(one.flowering_pct)
        if np.isfinite(percent) == np.isfinite(flowering[i]):
            found.add("not one of a number and a percentage", row=row,
                      do="fill in flowering or flowering_pct")  # fmt: skip
        elif np.isfinite(percent):
            try:
                flowering[i] = float(plants_of_percentage(percent, one.plants))
            except InputError as error:
                found.add(error.faults[0].what, row=row, column="flowering_pct", value=percent)
        elif flowering[i] > one.plants:
            found.add("more flowered than there were", row=row, column="flowering",
                      value=flowering[i], allowed=f"at most {one.plants:g}")  # fmt: skip
    found.raise_any()
    table["flowering"] = flowering
    columns = ["cultivar", "temperature_c", "photoperiod_h", "days", "plants", "flowering", "row"]
    return table[columns]
