"""What a ranking needs beside the fit itself: its past blocks grown again, and a block to heat.

Every heavy import stands inside a function, so that naming a command costs nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phenocast import io
from phenocast.cli import running
from phenocast.errors import Fault, InputError, NoAnswerError

if TYPE_CHECKING:
    import pandas as pd

    from phenocast.calibration.cultivar.blocks import FitBlock
    from phenocast.calibration.ranking.film_effect import GrownBlock
    from phenocast.io import InputFile
    from phenocast.io.output.fit_folder import FitFolder
    from phenocast.parameters import ParameterSet
    from phenocast.simulation import BlockSetup
    from phenocast.weather.traces import Trace

WEIGHTS = ("marketable_g_per_plant", "fruit_g_per_plant")
HEAT_DAYS = 60
"""Days after planting whose crown heat tells a hot regime from a mild one, as in the fit. [d]"""


@dataclass(frozen=True)
class PastBlocks:
    """Past blocks of a fit.

    Parameters
    ----------
    yields : DataFrame
        One row a block-season with weights: cultivar, season, film, planting_date, yield [g per
        plant], heat [degC h].
    grown : tuple of GrownBlock
        Those with any record of an amount.
    """

    yields: pd.DataFrame
    grown: tuple[GrownBlock, ...]


def scenario_block(season: Path, name: str | None) -> tuple[io.Loaded, BlockSetup, list[Trace]]:
    """Season, block and past years of the heat scenario.

    Parameters
    ----------
    season : file of the season.
    name : of the block; None for the first.

    Raises
    ------
    InputError
        A block that the season lacks.
    NoAnswerError
        No past year covers the block.
    """
    from phenocast.simulation import block_setup
    from phenocast.simulation.bed import spin_up_start
    from phenocast.weather.traces import year_traces

    loaded = running.load(season)
    stated = loaded.season
    block = stated.blocks[0] if name is None else stated.block(name)
    setup = block_setup(stated, block)
    # a file of past weather often holds the years around the season as well
    history = loaded.weather.history or loaded.weather.observed
    if history is not None:
        years, _ = year_traces(history, spin_up_start(setup), setup.last_day)
        if years:
            return loaded, setup, years
    raise NoAnswerError(
        Fault(
            "no past year covers the block of the scenario",
            f"{season}: {block.name}",
            do="name a season with past years as `history` (--season), or state a season_end",
        )
    )


def with_fitted_transplant(setup: BlockSetup, document: Mapping[str, Any]) -> BlockSetup:
    """Block with the state at planting that the fit found for its type of transplant."""
    own = {
        one["name"]: one
        for one in document.get("transplants", ())
        if one["transplant"] == setup.transplant.name
    }
    changed: dict[str, Any] = {
        name: replace(
            setup.transplant[name], value=float(one["value"]), sd=float(one["sd"]), basis="fitted"
        )
        for name, one in own.items()
    }
    if not changed:
        return setup
    # a season that names a fit has joint draws of that fit
    joint = {name: rows for name, rows in setup.transplant.joint.items() if name not in changed}
    fitted: ParameterSet = replace(
        setup.transplant, parameters={**setup.transplant.parameters, **changed}, joint=joint
    )
    return replace(setup, transplant=fitted)


def past_blocks(fit: FitFolder) -> tuple[PastBlocks | str, tuple[InputFile, ...]]:
    """Past blocks of a fit with their records, or the sentence that says why there are none.

    Parameters
    ----------
    fit : FitFolder

    Returns
    -------
    PastBlocks or str, and the files that were read
    """
    from phenocast.calibration.cultivar.blocks import fit_block
    from phenocast.calibration.cultivar.records import fit_rows

    gone = [path for path in (fit.records_file, *fit.seasons) if not path.is_file()]
    if gone:
        return f"a file of the fit is not where it was: {gone[0]}", ()
    loaded = {
        label: running.load(path)
        for label, path in zip(io.season_labels(fit.seasons), fit.seasons, strict=True)
    }
    inputs = [io.InputFile("records", fit.records_file)]
    blocks, without = [], {}
    for label, one in loaded.items():
        inputs += one.inputs
        for block in one.season.blocks:
            try:
                blocks.append(fit_block(one.season, block, one.weather, label))
            except InputError as error:
                without[label, block.name] = str(error.faults[0])
    seasons = {label: one.season for label, one in loaded.items()}
    rows = fit_rows(
        io.read_harvest_records(fit.records_file, seasons).table, blocks, without=without
    )
    grown = tuple(
        _grown(loaded[block.season], block, rows.X[rows.X["block"] == number], rows.y, fit.document)
        for number, block in enumerate(blocks)
    )
    return PastBlocks(
        _yields(blocks, rows), tuple(one for one in grown if one.kind.size)
    ), tuple(inputs)  # fmt: skip


def _yields(blocks: list[FitBlock], rows: Any) -> pd.DataFrame:
    """Total weight of each block-season: of marketable fruit where all have it, else of all."""
    import pandas as pd

    kind = rows.used["kind"]
    weighed = next((one for one in WEIGHTS if (kind == one).any()), WEIGHTS[0])
    own = rows.used[kind == weighed]
    total = own.groupby(["season", "block"])["value"].sum()
    told = [
        {
            "cultivar": block.cultivar,
            "season": block.season,
            "film": block.film,
            "planting_date": block.planting.isoformat(),
            "yield": float(total[block.season, block.name]),
            "heat": block.heat(HEAT_DAYS),
        }
        for block in blocks
        if (block.season, block.name) in total.index
    ]
    columns = ["cultivar", "season", "film", "planting_date", "yield", "heat"]
    return pd.DataFrame(told, columns=columns)


def _grown(
    loaded: io.Loaded, block: FitBlock, windows: pd.DataFrame, values: Any,
    document: Mapping[str, Any],
) -> GrownBlock:  # fmt: skip
    import numpy as np

    from phenocast.calibration.ranking.film_effect import TOTALS, GrownBlock, cut_to_weather
    from phenocast.simulation import block_setup

    season = loaded.season
    setup = cut_to_weather(block_setup(season, season.block(block.name)), block.n_days)
    kind = windows["kind"].to_numpy(dtype=np.int64)
    own = np.isin(kind, TOTALS)
    shift = next(
        (one["later_d"] for one in document["seasons"] if one["season"] == block.season),
        {"value": 0.0, "sd": 0.0},
    )
    nursery = None
    if block.from_nursery and season.nursery is not None and loaded.weather.nursery is not None:
        nursery = (season.nursery, loaded.weather.nursery)
    assert loaded.weather.observed is not None
    return GrownBlock(
        season=block.season,
        setup=with_fitted_transplant(setup, document),
        weather=loaded.weather.observed,
        kind=kind[own],
        start=windows["start_d"].to_numpy(dtype=np.float64)[own],
        stop=windows["stop_d"].to_numpy(dtype=np.float64)[own],
        value=np.asarray(values)[windows.index.to_numpy()][own],
        nursery=nursery,
        later_d=float(shift["value"]),
        later_sd_d=float(shift["sd"]),
    )
