"""The outcome of a fit as plain values, as parameter sets and as draws."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from phenocast import __version__
from phenocast.calibration.cultivar.baselines import date_rules, first_pick_intervals, rules_plain
from phenocast.calibration.cultivar.blocks import FitBlock, frost_not_stated
from phenocast.calibration.cultivar.diagnostics import (
    directions,
    discrepancy_plain,
    heat_in_the_data,
    lack_of_fit,
    verdict,
)
from phenocast.calibration.cultivar.estimator import CultivarCalibrator
from phenocast.calibration.cultivar.likelihood import scatter_words
from phenocast.calibration.cultivar.model import FIRST_FLOWER, KINDS, MARKETABLE
from phenocast.calibration.cultivar.parameters import (
    CARRIED,
    CULTIVAR,
    PLOT_LEVEL,
    SEASON_LEVEL,
    SEASON_SHIFT,
    TRANSPLANT,
)
from phenocast.calibration.cultivar.pooling import (
    Spread,
    fitted_spreads,
    spread_parameters,
    spreads_plain,
)
from phenocast.calibration.cultivar.records import FitRows
from phenocast.calibration.cultivar.selection import Step
from phenocast.errors import InputError, applying, cautions_first
from phenocast.parameters import Parameter, ParameterSet
from phenocast.tables import PAST_SEASONS

SCHEMA_VERSION = 2
SOURCE = "own records"
GREEN_FRUIT = "green_fruit_per_plant"
FEW_SEASONS = 3
"""Seasons under which an error on seasons left out is itself hardly known."""


def fit_document(
    fitted: CultivarCalibrator,
    rows: FitRows,
    blocks: Sequence[FitBlock],
    *,
    source: str,
    warnings: Sequence[str] = (),
    uncertainty: Mapping[str, Any] | None = None,
    spreads: Sequence[Spread] | None = None,
) -> dict[str, Any]:
    """Return the document of a fit.

    Parameters
    ----------
    fitted : after its fit to ``rows``.
    rows : what was used and what was not.
    blocks : every block-season, with records or without.
    source : name of the file of records.
    warnings : told by readers.
    uncertainty : what else was found about spreads (profile likelihood, bootstrap), as it is.
    spreads : between seasons and blocks, where they are at hand already.

    Returns
    -------
    dict
        Plain values; see the keys below. ``schema_version`` 1.
    """
    values = fitted.values()
    judged = verdict(fitted, rows.X["kind"].unique().tolist())
    known = fitted_spreads(fitted) if spreads is None else spreads
    told = [
        *warnings, *rows.notes, *frost_not_stated(blocks), *_cautions(fitted, rows, blocks),
        *(f"{one.name} stays as assumed before the fit: {one.units} {one.between} tells no spread"
          for one in known if not one.told),
    ]  # fmt: skip
    return {
        "schema_version": SCHEMA_VERSION,
        "engine_version": __version__,
        "command": "fit",
        "records_file": source,
        "cultivars": [
            _cultivar(name, values, rows, blocks)
            for name in sorted({block.cultivar for block in blocks})
        ],
        "transplants": _parameters(values[values["group"] == "transplant"], owner=True),
        "seasons": _seasons(fitted),
        "plots": _plots(fitted),
        "scatter": {
            "kinds": scatter_words(fitted.scatter_, rows.X["kind"].to_numpy()),
            "student_df": fitted.scatter_.student_df,
            "between_seasons": {
                "shift_d": fitted.scatter_.season_shift,
                "level": fitted.scatter_.season_level,
            },
            "between_plots": {"level": fitted.scatter_.plot_level},
            "spreads": spreads_plain(known),
            "alike": dict(fitted.scatter_.alike),
        },
        "selection": [_step(step) for step in fitted.selection_],
        "date_rules": _date_rules(rows, blocks),
        "identifiability": {
            "rankable": judged.rankable,
            "why_not": list(judged.why_not),
            "records_that_would_settle_it": list(judged.records_that_would_settle_it),
            "heat_in_the_data": heat_in_the_data(fitted.blocks_),
            "directions": directions(fitted),
        },
        "curves": discrepancy_plain(fitted),
        "uncertainty": dict(uncertainty or {}),
        "convergence": {
            "converged": fitted.converged_,
            "starts_agree": fitted.starts_agree_,
            "starts": fitted.starts_,
            "log_likelihood": fitted.log_likelihood_,
            "units": fitted.units_,
            "at_bound": [
                f"{row.owner}: {row.name}" for row in _rows(values) if row.at_bound
            ],
        },
        "records": {
            "used": len(rows.X),
            "used_by_kind": {
                KINDS[kind]: int(count)
                for kind, count in enumerate(np.bincount(rows.X["kind"], minlength=len(KINDS)))
                if count
            },
            "seasons": sorted(set(rows.season.tolist())),
            "block_seasons": len(fitted.blocks_),
            "not_used": [
                {
                    "row": int(one.row), "season": one.season, "block": one.block,
                    "date": None if pd.isna(one.date) else one.date.date(), "reason": one.reason,
                }
                for one in _rows(rows.left_out)
            ],
        },
        "warnings": list(cautions_first(told)),
    }  # fmt: skip


def _step(step: Step) -> dict[str, Any]:
    """One step for a document."""
    return {
        "step": step.name,
        "frees": list(step.frees),
        "parameters": step.parameters,
        "log_likelihood": step.log_likelihood,
        "bic": step.bic,
        "left_out_loss": step.left_out_loss,
        "left_out_error": dict(step.left_out),
        "kept": step.kept,
        "why": step.why,
    }


def _date_rules(rows: FitRows, blocks: Sequence[FitBlock]) -> dict[str, Any]:
    """Plain rules for the day of first pick, or why they could not be judged."""
    block, kind = (rows.X[name].to_numpy(dtype=np.int64) for name in ("block", "kind"))
    start, stop = (rows.X[name].to_numpy(dtype=np.float64) for name in ("start_d", "stop_d"))
    intervals = first_pick_intervals(blocks, block, kind, start, stop, rows.y)
    try:
        return {"rules": rules_plain(date_rules(blocks, intervals)), "why_none": ""}
    except InputError as error:
        return {"rules": [], "why_none": str(error.faults[0])}


def _rows(values: pd.DataFrame) -> list[Any]:
    # "name" is a column here, so the tuples must not be named by it
    return list(values.itertuples(index=False, name="Row"))


def _cultivar(
    name: str, values: pd.DataFrame, rows: FitRows, blocks: Sequence[FitBlock]
) -> dict[str, Any]:
    own = rows.used[rows.used["cultivar"] == name]
    grown = [block for block in blocks if block.cultivar == name]
    values = values[(values["group"] == "cultivar") & (values["owner"] == name)]
    return {
        "cultivar": name,
        "records": len(own),
        "seasons": sorted(set(own["season"])),
        "films": sorted(set(own["film"])),
        "block_seasons": len(grown),
        "parameters": _parameters(values),
        "note": "" if len(own) else "no records: every number is as before the fit",
    }


def _parameters(values: pd.DataFrame, *, owner: bool = False) -> list[dict[str, Any]]:
    found = []
    for row in _rows(values):
        one = {
            "name": row.name,
            "unit": row.unit,
            "value": row.value,
            "sd": row.sd,
            "interval_80": list(row.interval_80),
            "interval_95": list(row.interval_95),
            "prior": {"value": row.prior, "sd": row.prior_sd},
            "lower": row.lower,
            "upper": row.upper,
            "contraction": row.contraction,
            "at_bound": bool(row.at_bound),
        }
        found.append({"transplant": row.owner, **one} if owner else one)
    return found


def _seasons(fitted: CultivarCalibrator) -> list[dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for i, one in enumerate(fitted.layout_.entries):
        if one.group not in (SEASON_SHIFT, SEASON_LEVEL):
            continue
        entry = found.setdefault(one.owner, {"season": one.owner})
        sd = float(np.sqrt(fitted.covariance_[i, i]))
        if one.group == SEASON_SHIFT:
            entry["later_d"] = {"value": float(fitted.vector_[i]), "sd": sd}
        else:
            level = float(np.exp(fitted.vector_[i]))
            entry["supply_factor"] = {"value": level, "sd": level * sd}
    return [found[name] for name in sorted(found)]


def _plots(fitted: CultivarCalibrator) -> list[dict[str, Any]]:
    found = []
    names = {block.key: block for block in fitted.blocks_}
    for i, one in enumerate(fitted.layout_.entries):
        if one.group == PLOT_LEVEL:
            block = names[one.owner]
            level = float(np.exp(fitted.vector_[i]))
            found.append(
                {
                    "season": block.season,
                    "block": block.name,
                    "cultivar": block.cultivar,
                    "film": block.film,
                    "supply_factor": {
                        "value": level,
                        "sd": level * float(np.sqrt(fitted.covariance_[i, i])),
                    },
                }
            )
    return found


def _cautions(fitted: CultivarCalibrator, rows: FitRows, blocks: Sequence[FitBlock]) -> list[str]:
    seasons, films = set(rows.season.tolist()), {block.film for block in fitted.blocks_}
    seen = {block.key for block in fitted.blocks_}
    silent = sorted(block.key for block in blocks if block.key not in seen)
    idle = sorted({b.cultivar for b in blocks} - {b.cultivar for b in fitted.blocks_})
    return [
        *applying(
            (len(seasons) == 1, ("one season: no season could be left out, so nothing says how "
             "well the fit carries over")),
            (1 < len(seasons) < FEW_SEASONS,
             f"{len(seasons)} seasons: the error on a season left out is hardly known"),
            (len(films) == 1, (f"one film only ({min(films)}): what other films do rests on the "
             "shipped numbers")),
            (silent, f"no usable record of {', '.join(silent)}"),
            (idle, f"no usable record of any block of {', '.join(idle)}: left as before the fit"),
            (not fitted.converged_, "the search ran out of steps: take no number from this fit"),
            (not fitted.starts_agree_, ("the starts ended in different places: the best is kept; "
             "see starts for how far apart")),
        ),
        *lack_of_fit(fitted),
        ("bed temperatures are taken as right: what is not known about film optics is not in the "
        "intervals"),
    ]  # fmt: skip


def past_table(
    fitted: CultivarCalibrator, rows: FitRows, blocks: Sequence[FitBlock], records: pd.DataFrame
) -> pd.DataFrame:
    """Past seasons as forecasts lean on them, each record beside what a fit without it expects.

    Parameters
    ----------
    fitted : after its fit to ``rows``.
    rows, blocks : what was fitted.
    records : all records, for counts of green fruit, which a fit does not use.

    Returns
    -------
    DataFrame
        Columns of `phenocast.tables.PAST_SEASONS`.
    """
    at = [blocks[number] for number in rows.X["block"]]
    told = rows.X[["start_d", "stop_d"]].assign(
        season=[one.season for one in at], block=[one.name for one in at],
        kind=[KINDS[kind] for kind in rows.X["kind"]], value=rows.y,
        left_out_expected=fitted.top_.expected,
    )  # fmt: skip
    told = told[told["kind"].isin([KINDS[MARKETABLE], KINDS[FIRST_FLOWER]]) & np.isfinite(rows.y)]
    grown = pd.DataFrame(
        [(one.season, one.name, one.cultivar, one.film, one.transplant, pd.Timestamp(one.planting))
         for one in blocks],
        columns=["season", "block", "cultivar", "film", "transplant", "planting_date"],
    )  # fmt: skip
    green = records[records[GREEN_FRUIT].notna()] if GREEN_FRUIT in records else records[:0]
    counted = green.groupby(["season", "block", "date"], as_index=False)[GREEN_FRUIT].mean()
    counted = counted.merge(grown, on=["season", "block"])
    day = (counted["date"] - counted["planting_date"]).dt.days + 0.5
    counted = counted.assign(kind=GREEN_FRUIT, start_d=day, stop_d=day).rename(
        columns={GREEN_FRUIT: "value"}
    )
    table = pd.concat([told.merge(grown, on=["season", "block"]), counted])
    return pd.DataFrame(table[[one.name for one in PAST_SEASONS.columns]]).reset_index(drop=True)


def fitted_cultivars(
    fitted: CultivarCalibrator,
    blocks: Sequence[FitBlock],
    conditions: str,
    spreads: Sequence[Spread],
) -> list[ParameterSet]:
    """Return every cultivar of the blocks with its fitted numbers, each certified.

    A number that stands in for others (phyllochron for flowers per truss and the like) takes their
    spread over: they are held at their value. The spreads between seasons and between blocks are
    those of the field and the same for every cultivar, records or none.

    Parameters
    ----------
    fitted : after its fit.
    blocks : every block-season.
    conditions : of the records, for the certificates.
    spreads : as `fitted_spreads` gives them.
    """
    values = fitted.values()
    of_field = spread_parameters(spreads, conditions, SOURCE)
    sets = {block.cultivar: block.cultivar_set for block in blocks}
    found = []
    for name in sorted(sets):
        own = values[(values["group"] == "cultivar") & (values["owner"] == name)]
        changed = _certified(own, sets[name], conditions)
        for fitted_number in [number for number in CARRIED if number in changed]:
            for number in CARRIED[fitted_number]:
                held = sets[name][number]
                changed[number] = replace(
                    held, sd=0.0,
                    conditions=f"{held.conditions}; held in a fit: its spread is in "
                    f"{fitted_number}",
                )  # fmt: skip
        parameters = {**sets[name].parameters, **changed, **of_field}
        found.append(ParameterSet(name, parameters, dict(sets[name].labels)))
    return found


def fitted_transplants(fitted: CultivarCalibrator, conditions: str) -> list[ParameterSet]:
    """Return the types of transplant whose state at planting was fitted, each number certified.

    Parameters
    ----------
    fitted : after its fit.
    conditions : of the records, for the certificates.
    """
    values = fitted.values()
    sets = {block.transplant: block.transplant_set for block in fitted.blocks_}
    own = values[values["group"] == "transplant"]
    return [
        ParameterSet(name, _certified(own[own["owner"] == name], sets[name], conditions))
        for name in sorted(set(own["owner"]))
    ]


def _certified(values: pd.DataFrame, prior: ParameterSet, conditions: str) -> dict[str, Parameter]:
    """Fitted parameters of one cultivar or transplant type with their provenance."""
    return {
        row.name: replace(
            prior[row.name], value=float(row.value), sd=float(row.sd), basis="fitted",
            conditions=conditions, source=SOURCE, read=True,
            where=f"fit.json, {row.owner}{'; at its bound' if row.at_bound else ''}",
        )
        for row in _rows(values)
    }  # fmt: skip


def transplant_draws(fitted: CultivarCalibrator, n: int, seed: int) -> pd.DataFrame:
    """Return draws of the fitted state at planting, one row a type and draw.

    Row ``draw`` belongs to the same row of `draws_table` with this seed: what first picks tell of
    the plants' start and of their pace is told of both together.

    Parameters
    ----------
    fitted, n, seed : as in `draws_table`.

    Returns
    -------
    DataFrame
        Columns ``transplant, draw`` and the fitted numbers, in their units.
    """
    return _drawn(fitted, n, seed, TRANSPLANT, "transplant", {})


def draws_table(
    fitted: CultivarCalibrator, n: int, seed: int, spreads: Sequence[Spread]
) -> pd.DataFrame:
    """Return draws of the fitted cultivar numbers, one row a cultivar and draw.

    The draws of one number go together with those of every other cultivar: row ``draw`` is one
    possible world, with its own spreads between seasons and blocks.

    Parameters
    ----------
    fitted : after its fit.
    n : number of draws.
    seed : of the draws.
    spreads : as `fitted_spreads` gives them.

    Returns
    -------
    DataFrame
        Columns ``cultivar, draw``, the fitted numbers and the spreads, in their units.
    """
    of_field = {one.name: one.draws(n, seed) for one in spreads}
    return _drawn(fitted, n, seed, CULTIVAR, "cultivar", of_field)


def _drawn(
    fitted: CultivarCalibrator,
    n: int,
    seed: int,
    group: int,
    kind: str,
    more: Mapping[str, np.ndarray[Any, Any]],
) -> pd.DataFrame:
    """Draws of the numbers of one group, one row an owner and draw."""
    drawn = fitted.draws(n, seed)
    columns: dict[str, dict[str, Any]] = {}
    for i in fitted.free_:
        one = fitted.layout_.entries[int(i)]
        if one.group == group and one.prior is not None:
            own = columns.setdefault(one.owner, {})
            own[one.name] = one.in_unit(drawn[:, int(i)])
    parts = [
        pd.DataFrame({kind: name, "draw": np.arange(n), **own, **more})
        for name, own in sorted(columns.items())
    ]
    if not parts:
        return pd.DataFrame({kind: pd.Series(dtype=str), "draw": pd.Series(dtype=np.int64)})
    return pd.concat(parts, ignore_index=True)
