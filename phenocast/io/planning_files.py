"""Prices and tallies that a season names, read into a price curve and a picking line."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from phenocast.errors import Fault, InputError, NoAnswerError, raise_any, unknown_name
from phenocast.forecast.packout import Tray
from phenocast.io.tables import read_table
from phenocast.planning.picking import TallyFit, fit_tallies
from phenocast.planning.prices import PriceCurve, curve_from_table, curve_stated
from phenocast.season import Season
from phenocast.tables import PRICES, TALLIES


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
    empty = [
        Fault(f"not above zero in {int(bad.sum())} row{'s' if bad.sum() > 1 else ''}",
              f"{name}, row {int(table.loc[bad, 'row'].iloc[0])}, column {column}",
              float(table.loc[bad, column].iloc[0]), "above 0", "take the row out")
        for column in ("trays", "picker_hours")
        if (bad := ~(table[column] > 0.0)).any()
    ]  # fmt: skip
    raise_any(empty)
    area = [areas[str(block)] for block in table["block"]]
    kg = table["trays"].to_numpy(dtype=np.float64) * tray.fruit_kg
    try:
        return fit_tallies(table["picker_hours"].to_numpy(dtype=np.float64), kg, area)
    except (InputError, NoAnswerError) as told:
        raise type(told)(
            [Fault(f.what, f"{name}: {f.where}" if f.where else name, f.value, f.allowed, f.do)
             for f in told.faults]
        ) from None  # fmt: skip
