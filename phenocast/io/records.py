"""Records of picks, flowers and dates, and chamber trials: each row checked, each slip told."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from phenocast.calibration.cultivar.likelihood import plants_of_percentage
from phenocast.errors import Fault, Gathered, InputError, cautions_first, unknown_name
from phenocast.forecast.packout import tray_of
from phenocast.io.files import reading
from phenocast.io.pick_doubts import pick_doubts
from phenocast.io.raw_table import read_raw_table
from phenocast.io.tables import read_table
from phenocast.io.weather.quantities import split_header
from phenocast.season import Season
from phenocast.tables import CHAMBER_TRIALS, HARVEST_RECORDS

EVENTS = ("first pick", "no first pick", "first flower", "no first flower")

NONE_RIPE = "none ripe"

# Why ripe fruit was left: such a visit is no pick of 0.
FRUIT_LEFT = ("people", "rain", "price", "closed")

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

NOT_OF_A_FIT = (
    "plants_counted",
    "green_fruit_per_plant",
    "ripe_fruit_per_plant",
    "plants_lost_pct",
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
    found = Gathered(Path(path).name)
    refuse_without_unit(path)
    table = read_table(path, HARVEST_RECORDS)
    for name in ("season", "plot", "event", "not_picked"):
        if name not in table:
            table[name] = None
    check_words(table, "event", EVENTS, found)
    check_words(table, "not_picked", (NONE_RIPE, *FRUIT_LEFT), found)
    table["season"] = _seasons_of(table, seasons, found)
    found.extend(_twice(table, found.source))
    found.raise_any()
    for name in (*VALUES, "green_fruit_per_plant"):
        if name not in table:
            table[name] = np.nan
    weigh_per_plant(table, seasons, found)
    hear_not_picked(table, found)
    found.raise_any()
    notes = []
    if table["cull_g_per_plant"].notna().any():
        notes.append("cull_g_per_plant is used only where it makes the weight of all fruit")
    _hear_bloom(table)
    unused = [name for name in NOT_OF_A_FIT if name in table and table[name].notna().any()]
    if unused:
        notes.append(f"not used by a fit: {', '.join(unused)}")
    notes += pick_doubts(table, found.source)
    checked = {kind for season in seasons.values() for kind in season.checked}
    columns = ["season", "block", "plot", "date", "row", "event", *VALUES,
               "green_fruit_per_plant"]  # fmt: skip
    return HarvestRecords(
        table[columns].reset_index(drop=True), found.source, cautions_first(notes, checked)
    )


def refuse_without_unit(path: str | os.PathLike[str]) -> None:
    """Refuse a file whose weights of whole plots have no unit.

    Raises
    ------
    InputError
    """
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


def hear_not_picked(table: pd.DataFrame, found: Gathered) -> None:
    """Take what ``not_picked`` says into the weights, in place: 0, or no weight of a visit."""
    grams = ["marketable_g_per_plant", "fruit_g_per_plant"]
    weighed = (table[grams] > 0.0).any(axis=1) & table["not_picked"].notna()
    found.add_rows(
        "fruit is weighed and nothing was picked", rows=table.loc[weighed, "row"].to_numpy(),
        values=table.loc[weighed, "not_picked"].to_numpy(), column="not_picked",
        do="take out the weight or the reason",
    )  # fmt: skip
    table.loc[table["not_picked"].isin(FRUIT_LEFT) | weighed, grams] = np.nan
    none_ripe = (table["not_picked"] == NONE_RIPE) & ~weighed
    table.loc[none_ripe & table[grams].isna().all(axis=1), grams[0]] = 0.0
    table.loc[weighed, "not_picked"] = None


def _hear_bloom(table: pd.DataFrame) -> None:
    """Where no event is stated, say whether half of the plants looked at were in bloom."""
    if "plants_seen" in table and "plants_in_bloom" in table:
        half = 2.0 * table["plants_in_bloom"] >= table["plants_seen"]
        known = table["event"].isna() & table[["plants_seen", "plants_in_bloom"]].notna().all(
            axis=1
        )
        words = np.where(half, "first flower", "no first flower")
        table["event"] = table["event"].mask(known, pd.Series(words, index=table.index))


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


def check_words(table: pd.DataFrame, column: str, allowed: Sequence[str], found: Gathered) -> None:
    """Lower case of the words of a column, in place; a word that is not allowed is left out."""
    texts = [one.strip().lower() if isinstance(one, str) else None for one in table[column]]
    for row, one in zip(table["row"], texts, strict=True):
        if one is not None and one not in allowed:
            fault = unknown_name(column, one, allowed)
            found.add(fault.what, row=int(row), column=column, value=one,
                      allowed=", ".join(allowed), do=fault.do)  # fmt: skip
    known = [one if one in allowed else None for one in texts]
    table[column] = pd.Series(known, index=table.index, dtype="object")


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


def weigh_per_plant(table: pd.DataFrame, seasons: Mapping[str, Season], found: Gathered) -> None:
    """Turn weights and trays of whole plots into weights per plant, in place.

    A weight that no plants can bear is left out.
    """
    of_row = [seasons[label] for label in table["season"]]
    plants = np.array(
        [
            season.block(str(name)).plants
            for season, name in zip(of_row, table["block"], strict=True)
        ]
    )
    if "plants" in table:
        own = table["plants"].to_numpy(dtype=np.float64)
        plants = np.where(np.isfinite(own), own, plants)
    weights = {}
    if "trays" in table:
        held = np.array([tray_of(season.labour).fruit_kg for season in of_row])
        weights["trays"] = table["trays"] * held
    weights |= {name: table[name] for name in PER_PLOT if name in table}
    for name, kg in weights.items():
        per_plant = PER_PLOT.get(name, "marketable_g_per_plant")
        picked = kg.to_numpy(dtype=np.float64)
        weight = 1000.0 * picked / plants
        most = HARVEST_RECORDS.column(per_plant).upper
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
        weight = np.where(beyond, np.nan, weight)
        table[per_plant] = np.where(np.isfinite(weight), weight, table[per_plant])


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
