"""Records of picks, flowers and dates, each row put to a block of a season."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from phenocast.errors import Fault, InputError, cautions_first, unknown_name
from phenocast.io.columns import split_header
from phenocast.io.files import reading
from phenocast.io.gathered import Gathered
from phenocast.io.pick_doubts import pick_doubts
from phenocast.io.raw_table import read_raw_table
from phenocast.io.table_files import read_table
from phenocast.season import Season
from phenocast.tables import HARVEST_RECORDS

EVENTS = ("first pick", "no first pick", "first flower", "no first flower")
# What is weighed for a whole plot, and what it is for one plant.
PER_PLOT = {"marketable": "marketable_g_per_plant", "fruit": "fruit_g_per_plant"}
VALUES = (
    "marketable_g_per_plant",
    "cull_g_per_plant",
    "fruit_g_per_plant",
    "fruits_per_plant",
    "fruit_mass_g",
    "open_flowers_per_plant",
)
_LONGEST_SEASON_D = 366


@dataclass(frozen=True)
class HarvestRecords:
    """Records as a fit takes them.

    Parameters
    ----------
    table : DataFrame
        Columns ``season`` (label of the season file), ``block, plot, date, row, event`` and the
        values of `VALUES`, NaN where not recorded.
    source : str
        Name of the file.
    notes : tuple of str
    """

    table: pd.DataFrame
    source: str
    notes: tuple[str, ...] = ()


def season_labels(paths: Sequence[str | os.PathLike[str]]) -> tuple[str, ...]:
    """Label of each season file: its name without ending.

    Raises
    ------
    InputError
        Where two files have one name.

    Examples
    --------
    >>> season_labels(["farm/2024.toml", "farm/2025.toml"])
    ('2024', '2025')
    """
    labels = tuple(Path(one).stem for one in paths)
    twice = sorted({one for one in labels if labels.count(one) > 1})
    if twice:
        raise InputError(
            Fault("two season files have one name", "SEASON", twice[0],
                  do="rename one: the name tells which season a record is of")
        )  # fmt: skip
    return labels


def read_harvest_records(
    path: str | os.PathLike[str], seasons: Mapping[str, Season]
) -> HarvestRecords:
    r"""Read a table of picks and put each row to its season.

    Parameters
    ----------
    path : str or path
        CSV or Parquet with the columns of `phenocast.tables.HARVEST_RECORDS`.
    seasons : mapping of str to Season
        By label, `season_labels`.

    Returns
    -------
    HarvestRecords

    Raises
    ------
    InputError
        With every fault and its row: a column or block that is not known, a value that cannot be,
        a weight of a whole plot without a unit, a row that may be of several seasons, a plot
        recorded twice on one day.

    Notes
    -----
    ``season`` is a label or the year of planting; without it a row is of the season whose block of
    that name was planted in the year before its date.
    """
    with reading(path, "harvest records"):
        return _records(path, seasons)


def _records(path: str | os.PathLike[str], seasons: Mapping[str, Season]) -> HarvestRecords:
    raw = read_raw_table(path)
    found = Gathered(raw.source)
    for header in raw.frame.columns:
        split = split_header(str(header))
        if split.name in PER_PLOT and not (split.unit or raw.units.get(str(header))):
            found.add(
                "the weight of a plot has no unit", column=str(header),
                do=f"write it into the header: {split.name} [kg] or {split.name} [lb]",
            )  # fmt: skip
    found.raise_any()
    table = read_table(path, HARVEST_RECORDS)
    for name in ("season", "plot", "event"):
        if name not in table:
            table[name] = None
    _check_events(table, found)
    table["season"] = _seasons_of(table, seasons, found)
    found.extend(_twice(table, raw.source))
    found.raise_any()
    _weigh_per_plant(table, seasons, found)
    found.raise_any()
    notes = []
    if "cull_g_per_plant" in table and table["cull_g_per_plant"].notna().any():
        notes.append("cull_g_per_plant is used only where it makes the weight of all fruit")
    for name in VALUES:
        if name not in table:
            table[name] = np.nan
    notes += pick_doubts(table, raw.source)
    checked = {kind for season in seasons.values() for kind in season.checked}
    columns = ["season", "block", "plot", "date", "row", "event", *VALUES]
    return HarvestRecords(
        table[columns].reset_index(drop=True), raw.source, cautions_first(notes, checked)
    )


def _twice(table: pd.DataFrame, source: str) -> list[Fault]:
    """Faults of rows that say a second time what a plot gave on a day, as a paste leaves them."""
    keys = ["season", "block", "plot", "date", "event"]
    again = table[table.duplicated(keys, keep=False) & table["season"].notna()]
    faults = []
    for _, own in again.groupby(keys, dropna=False):
        one = own.iloc[0]
        plot = "" if pd.isna(one["plot"]) else f" plot {one['plot']}"
        faults.append(
            Fault("a plot is recorded twice on one day",
                  f"{source}, rows {', '.join(str(row) for row in own['row'])}",
                  f"{one['season']}: {one['block']}{plot} {one['date'].date()}",
                  do="remove one, or name the plots in a column plot")
        )  # fmt: skip
    return faults


def _check_events(table: pd.DataFrame, found: Gathered) -> None:
    texts = [one.strip().lower() if isinstance(one, str) else None for one in table["event"]]
    table["event"] = pd.Series(texts, index=table.index, dtype="object")
    for row, one in zip(table["row"], texts, strict=True):
        if one is not None and one not in EVENTS:
            fault = unknown_name("event", one, EVENTS)
            found.add(fault.what, row=int(row), column="event", value=one,
                      allowed=", ".join(EVENTS), do=fault.do)  # fmt: skip


def _seasons_of(
    table: pd.DataFrame, seasons: Mapping[str, Season], found: Gathered
) -> list[str | None]:
    planted: dict[str, list[tuple[str, date]]] = {}
    for label, season in seasons.items():
        for block in season.blocks:
            planted.setdefault(block.name, []).append((label, block.planting_date))
    labels: list[str | None] = []
    for row, name, day, stated in zip(
        table["row"], table["block"], table["date"], table["season"], strict=True
    ):
        found_label = _season_of(planted.get(str(name)), day.date(), stated)
        if isinstance(found_label, Fault):
            fault, column = found_label, "season"
            if planted.get(str(name)) is None:
                fault, column = unknown_name("block", str(name), planted), "block"
            found.add(fault.what, row=int(row), column=column,
                      value=fault.value, allowed=fault.allowed, do=fault.do)  # fmt: skip
            labels.append(None)
        else:
            labels.append(found_label)
    return labels


def _season_of(planted: list[tuple[str, date]] | None, day: date, stated: object) -> str | Fault:
    if planted is None:
        return Fault("unknown block")
    if isinstance(stated, str) and stated:
        for label, planting in planted:
            if stated in (label, str(planting.year)):
                return label
        return Fault("no season file of this name has the block", value=stated,
                     allowed=", ".join(label for label, _ in planted))  # fmt: skip
    if len(planted) == 1:
        return planted[0][0]
    near = [label for label, p in planted if 0 <= (day - p).days < _LONGEST_SEASON_D]
    if len(near) == 1:
        return near[0]
    return Fault(
        "the row may be of several seasons" if near else "the row is of no season given",
        value=day.isoformat(), allowed=", ".join(label for label, _ in planted),
        do="state it in a column season",
    )  # fmt: skip


def _weigh_per_plant(table: pd.DataFrame, seasons: Mapping[str, Season], found: Gathered) -> None:
    """Turn weights of whole plots into weights per plant, in place; none is beyond the contract."""
    if not any(name in table for name in PER_PLOT):
        return
    plants = np.array(
        [seasons[label].block(str(name)).plants
         for label, name in zip(table["season"], table["block"], strict=True)]
    )  # fmt: skip
    if "plants" in table:
        own = table["plants"].to_numpy(dtype=np.float64)
        plants = np.where(np.isfinite(own), own, plants)
    for name, per_plant in PER_PLOT.items():
        if name in table:
            picked = table[name].to_numpy(dtype=np.float64)
            weight = 1000.0 * picked / plants
            most = next(one for one in HARVEST_RECORDS.columns if one.name == per_plant).upper
            beyond = weight > most
            found.add_rows(
                "more fruit than plants can bear at one pick",
                rows=table.loc[beyond, "row"].to_numpy(),
                values=[f"{kg:,.6g} kg of {n:,.0f} plants, {g:,.0f} g a plant"
                        for kg, n, g in zip(picked[beyond], plants[beyond], weight[beyond],
                                            strict=True)],
                column=name, allowed=f"up to {most:g} g a plant",
                do="look at the unit in the header, the decimal mark and the number of plants",
            )  # fmt: skip
            if per_plant in table:
                weight = np.where(np.isfinite(weight), weight, table[per_plant])
            table[per_plant] = weight
