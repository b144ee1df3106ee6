"""Prices and tallies that a season names, and records of a trial, each read into what uses it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from phenocast.errors import (
    Fault,
    Gathered,
    InputError,
    NoAnswerError,
    meant,
    raise_any,
    refuse,
    unknown_name,
)
from phenocast.forecast.packout import Tray
from phenocast.io.files import reading
from phenocast.io.raw_table import RawTable, read_raw_table
from phenocast.io.tables import read_table
from phenocast.io.weather.quantities import split_header
from phenocast.io.weather.stamps import stamps_of
from phenocast.planning.picking import TallyFit, fit_tallies
from phenocast.planning.prices import PriceCurve, curve_from_table, curve_stated
from phenocast.season import Season
from phenocast.tables import PRICES, TALLIES, TRIAL_PLOTS


def read_prices(
    season: Season, folder: str | os.PathLike[str], weeks: Sequence[str]
) -> PriceCurve | None:
    """Price curve of a season, from its file of weeks or from what the season itself states.

    Parameters
    ----------
    season : Season
    folder : str or path
        Of the season file; a price file is relative to it.
    weeks : sequence of str
        ISO weeks wanted where no file states its own.

    Returns
    -------
    PriceCurve or None
        None where the season states no prices.

    Raises
    ------
    InputError
        With every fault of the table: weeks missing or twice, mixed currencies, prices not above 0.
    """
    prices = season.prices
    if prices is None:
        return None
    if prices.file is None:
        return curve_stated(prices, weeks)
    table = read_table(Path(folder) / prices.file, PRICES)

    def column(name: str) -> list[float] | None:
        return table[name].tolist() if name in table else None

    try:
        curve = curve_from_table(
            [str(week) for week in table["week"]],
            table["price_per_kg"].to_numpy(dtype=np.float64),
            prices.currency,
            low=column("low_per_kg"),
            high=column("high_per_kg"),
            currencies=[str(c) for c in table["currency"]] if "currency" in table else None,
            season_sd=prices.season_sd,
            week_memory=prices.week_memory,
            supply_correlation=prices.supply_correlation,
        )
        return replace(curve, source=prices.file)
    except InputError as told:
        raise InputError(
            [Fault(f"{fault.where}: {fault.what}" if fault.where else fault.what,
                   where=prices.file, value=fault.value, allowed=fault.allowed, do=fault.do)
             for fault in told.faults]
        ) from None  # fmt: skip


def read_tallies(season: Season, folder: str | os.PathLike[str], tray: Tray) -> TallyFit | None:
    """Picking line of a season's own tallies.

    Parameters
    ----------
    season : Season
    folder : str or path
        Of the season file.
    tray : Tray
        What a tray of the tallies holds.

    Returns
    -------
    TallyFit or None
        None where the season names no tallies.

    Raises
    ------
    InputError
        Where a block is not in the season, or an entry is not above 0.
    NoAnswerError
        Where no line can be fitted.
    """
    if season.labour is None or season.labour.tallies is None:
        return None
    name = season.labour.tallies
    table = read_table(Path(folder) / name, TALLIES)
    areas = {block.name: block.area_ha for block in season.blocks}
    unknown = sorted({str(block) for block in table["block"]} - set(areas))
    if unknown:
        raise InputError([unknown_name("block", block, areas, name) for block in unknown])
    raise_any([
        Fault(f"not above zero in {int(bad.sum())} row{'s' if bad.sum() > 1 else ''}",
              f"{name}, row {int(table.loc[bad, 'row'].iloc[0])}, column {column}",
              float(table.loc[bad, column].iloc[0]), "above 0", "take the row out")
        for column in ("trays", "picker_hours")
        if (bad := ~(table[column] > 0.0)).any()
    ])  # fmt: skip
    area = [areas[str(block)] for block in table["block"]]
    kg = table["trays"].to_numpy(dtype=np.float64) * tray.fruit_kg
    try:
        return fit_tallies(table["picker_hours"].to_numpy(dtype=np.float64), kg, area)
    except (InputError, NoAnswerError) as told:
        raise type(told)(
            [Fault(f.what, f"{name}: {f.where}" if f.where else name, f.value, f.allowed, f.do)
             for f in told.faults]
        ) from None  # fmt: skip


# What the contract knows beside the three factors, whose columns may have other names.
OPTIONAL = tuple(one.name for one in TRIAL_PLOTS.columns if not one.required)
_SHOWN_ROWS = 5


@dataclass(frozen=True)
class TrialRecords:
    """Records of a trial as its file holds them.

    Parameters
    ----------
    table : DataFrame
        One row a record: the factors and, where the file has them, "season", "site",
        "whole_plot", "sub_plot" and "transplant" as texts and "planting_date" as a day; the
        response as number, NaN where missing; "row", the line in the file.
    source : str
        Name of the file.
    unit : str
        Unit of the response as the file states it; "" where it states none.
    notes : tuple of str
        What was skipped or taken for missing, and plots of one trial that were planted on other
        days or with other transplants than the rest.
    """

    table: pd.DataFrame
    source: str
    unit: str = ""
    notes: tuple[str, ...] = ()


def read_trial_records(
    path: str | os.PathLike[str], response: str, factors: Sequence[str]
) -> TrialRecords:
    r"""Read the columns of a trial from a tidy CSV or Parquet file.

    Parameters
    ----------
    path : str or path
    response : str
        Column that was measured; its header may state a unit, such as ``yield [g plant-1]``. Any
        quantity goes, so it is not converted.
    factors : sequence of str
        Columns of block, whole-plot factor and sub-plot factor, in this order.

    Returns
    -------
    TrialRecords

    Raises
    ------
    InputError
        With every fault: a column that is not there, with the nearest name; a factor without a
        value; a day that cannot be read; a sub-plot with two treatments; a response that is not a
        number.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     place = pathlib.Path(folder, "trial.csv")
    ...     _ = place.write_text("replicate,film,cultivar,yield [g]\n1,black,Marl,410\n")
    ...     records = read_trial_records(place, "yield", ("replicate", "film", "cultivar"))
    >>> records.table.to_dict("list"), records.unit
    ({'replicate': ['1'], 'film': ['black'], 'cultivar': ['Marl'], 'yield': [410.0], 'row': [2]},
     'g')
    """
    with reading(path, "trial records"):
        return _records(path, response, factors)


def _records(path: str | os.PathLike[str], response: str, factors: Sequence[str]) -> TrialRecords:
    raw = read_raw_table(path)
    found = Gathered(raw.source)
    headers = {split_header(str(h)).name: str(h) for h in raw.frame.columns}
    headers |= {str(h): str(h) for h in raw.frame.columns}
    wanted = (*factors, response)
    shown = [split_header(str(h)).name for h in raw.frame.columns]
    for column in wanted:
        if column not in headers:
            found.add(
                "no such column", value=column, allowed=", ".join(shown),
                do=meant(column, shown),
            )  # fmt: skip
    found.raise_any()
    columns: dict[str, object] = {}
    for column in dict.fromkeys((*OPTIONAL, *factors)):
        if column in headers:
            if column == "planting_date" and column not in factors:
                columns[column] = _days(raw, headers[column], found)
            else:
                columns[column] = _labels(raw, headers[column], column, found)
    values, codes = raw.numbers(headers[response], found)
    found.raise_any()
    table = pd.DataFrame({**columns, response: values, "row": raw.rows})
    _one_treatment_a_plot(table, factors, found)
    found.raise_any()
    notes = [*raw.notes, *_planted_otherwise(table, factors)]
    if codes > 0:
        notes.append(f"{codes} values of {response} are codes such as -9999 and count as missing")
    refuse(
        (
            not table[response].notna().any(),
            Fault("the response has no value", found.place(column=response)),
        )
    )
    unit = split_header(headers[response]).unit or raw.units.get(headers[response], "")
    return TrialRecords(table, raw.source, unit, tuple(notes))


def _labels(raw: RawTable, header: str, column: str, found: Gathered) -> pd.Series[str]:
    """Names of a factor, seasons, sites or beds; a whole number of a Parquet file stays one."""
    cells = raw.frame[header]
    if pd.api.types.is_float_dtype(cells) and bool((cells.dropna() % 1 == 0).all()):
        cells = cells.astype("Int64")
    texts = cells.astype("str").str.strip().where(cells.notna(), "")
    blank = (texts == "").to_numpy()
    found.add_rows(
        "a name is missing", rows=raw.rows[blank], column=column,
        do="fill it in, or take the row out",
    )  # fmt: skip
    return texts


def _days(raw: RawTable, header: str, found: Gathered) -> pd.DatetimeIndex:
    """Days of planting."""
    cells = raw.frame[header]
    if isinstance(cells.dtype, pd.DatetimeTZDtype):
        cells = cells.dt.tz_localize(None)  # the day of the clock that wrote it
    stamps = stamps_of(cells, raw.rows, header, found)
    return pd.DatetimeIndex([pd.NaT] * len(cells)) if stamps is None else stamps.time


def _one_treatment_a_plot(table: pd.DataFrame, factors: Sequence[str], found: Gathered) -> None:
    """Refuse a sub-plot that holds several treatments: one of its names is wrong."""
    if "sub_plot" not in table or "sub_plot" in factors:
        return
    sub = factors[-1]
    within = [one for one in ("season", "site", *factors[:-1], "whole_plot") if one in table]
    for names, own in table.groupby([*within, "sub_plot"], sort=False):
        held = own[sub].unique()
        if len(held) > 1:
            found.add(
                f"sub-plot {names[-1]} holds more than one {sub}", row=int(own["row"].iloc[-1]),
                column="sub_plot",
                value=", ".join(f"{a} (row {b})" for a, b in zip(own[sub], own["row"],
                                                                  strict=True)),
                do="give each plot its own name within its bed",
            )  # fmt: skip


def _planted_otherwise(table: pd.DataFrame, factors: Sequence[str]) -> list[str]:
    """Say of plots that differ in planting from most of their trial, where that is no factor."""
    told = []
    parts = [one for one in ("season", "site") if one in table]
    trials = table.groupby(parts, sort=False) if parts else [((), table)]
    for names, own in trials:
        place = " ".join(str(name) for name in names)
        for column in ("planting_date", "transplant"):
            if column not in own or column in factors or own[column].nunique() < 2:
                continue
            usual = own[column].mode().iloc[0]
            rows = own.loc[own[column].notna() & (own[column] != usual), "row"].tolist()
            shown = ", ".join(str(row) for row in rows[:_SHOWN_ROWS])
            more = f" and {len(rows) - _SHOWN_ROWS} more" if len(rows) > _SHOWN_ROWS else ""
            word = usual.date() if column == "planting_date" else usual
            told.append(
                f"{place + ': ' if place else ''}{column} is not {word} in rows {shown}{more}: "
                "what that did is counted to the treatments or the error, for it is no factor here"
            )
    return told
