"""Records of picks, flowers and dates as the rows of a fit, each held against its block.

Chamber trials stand beside them: how many plants came to flower at one temperature and day length.
They speak of induction alone, and speak of it plainly, for nothing else varies. The expected share
is that of the field's equations under constant conditions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast._typing import FloatArray, IntArray
from phenocast.calibration.cultivar.blocks import FitBlock
from phenocast.calibration.cultivar.likelihood import share_log_likelihood
from phenocast.calibration.cultivar.model import (
    FIRST_FLOWER,
    FIRST_PICKED,
    FRUIT,
    FRUIT_MASS,
    FRUIT_NUMBER,
    KINDS,
    MARKETABLE,
    OPEN_FLOWERS,
)
from phenocast.calibration.cultivar.parameters import CULTIVAR, Layout
from phenocast.errors import Fault, raise_any
from phenocast.harvest.kernels import FLOWER_OPEN_D
from phenocast.parameters import Parameter, ParameterSet
from phenocast.phenology.induction import (
    photoperiod_response_long_day_promoted,
    photoperiod_response_short_day,
    share_induced,
)
from phenocast.thermal_time import wang_engel

# block, kind, start, stop, value, lines of the file; and line, season, block, date, reason
_Row = tuple[int, int, float, float, float, str]
_Left = tuple[int, str, str, object, str]

COLUMNS = ("block", "kind", "start_d", "stop_d")
"""Columns of X: number of the block, kind of record, and its window in days since planting."""

PICKS = {
    "marketable_g_per_plant": MARKETABLE,
    "fruit_g_per_plant": FRUIT,
    "fruits_per_plant": FRUIT_NUMBER,
    "fruit_mass_g": FRUIT_MASS,
}
VALUES = (*PICKS, "open_flowers_per_plant")
EVENTS = {"first pick": FIRST_PICKED, "first flower": FIRST_FLOWER}
# Ripe fruit does not wait on the plant for longer: such a pick is not all that ripened.
LONGEST_WAIT_D = 21.0
# Where no earlier visit is recorded, a stage that was seen came within this time; this is told.
USUAL_VISIT_D = 7.0
_NOON = 0.5


@dataclass(frozen=True)
class FitRows:
    """Rows of a fit, and what became of every record.

    Parameters
    ----------
    X : DataFrame ``[rows]`` with `COLUMNS`
    y : array ``[rows]``
        Weight [g per plant], number per plant, mass [g], or for a date the first visit that saw it
        [d since planting; inf for never].
    season : array of str ``[rows]``
    used : DataFrame
        Of each row: lines in the file, season, block, date, kind and value.
    left_out : DataFrame
        Of each record or value that is not used: line, season, block, date and the reason.
    notes : tuple of str
    """

    X: pd.DataFrame
    y: FloatArray
    season: NDArray[Any]
    used: pd.DataFrame
    left_out: pd.DataFrame
    notes: tuple[str, ...] = ()


def fit_rows(
    records: pd.DataFrame,
    blocks: Sequence[FitBlock],
    *,
    without: Mapping[tuple[str, str], str] | None = None,
) -> FitRows:
    """Turn records into the rows of a fit.

    Parameters
    ----------
    records : DataFrame
        Columns ``season, block, date, row`` and any of ``plot, marketable_g_per_plant,
        fruit_g_per_plant, fruits_per_plant, fruit_mass_g, open_flowers_per_plant, event``, as
        `phenocast.io.read_harvest_records` gives them. NaN is a value that was not recorded.
    blocks : block-seasons that could be run.
    without : block-seasons that could not, ``(season, block)`` to the reason.

    Returns
    -------
    FitRows

    Raises
    ------
    InputError
        With every fault and its rows: a block that no season has, a pick before planting.

    Notes
    -----
    A pick holds what ripened since the visit before it. Several plots of a block are averaged day
    by day: they share their block's bed, so they are no further evidence on it. First pick counts
    as a date of its own only where the block has no weights.
    """
    number = {(one.season, one.name): i for i, one in enumerate(blocks)}
    reasons = dict(without or {})
    _refuse(records, blocks, number, reasons)
    rows: list[_Row] = []
    left: list[_Left] = []
    notes: list[str] = []
    for (season, name), own in records.groupby(["season", "block"], sort=True):
        key = (str(season), str(name))
        if key in reasons:
            left += [(int(r), *key, d, reasons[key]) for r, d in zip(own["row"], own["date"],
                                                                     strict=True)]  # fmt: skip
            continue
        block = blocks[number[key]]
        own = own.assign(day=(own["date"] - pd.Timestamp(block.planting)).dt.days.astype(float))
        late = own["day"] + 1.0 > block.n_days
        left += [
            (int(r), *key, d, "after the last day of the season or of its weather")
            for r, d in zip(own.loc[late, "row"], own.loc[late, "date"], strict=True)
        ]
        own = own[~late]
        rows += _pick_rows(own, number[key], left, key)
        rows += _flower_rows(own, number[key])
        rows += _event_rows(own, number[key], block, left, notes, key)
        silent = ~own[[c for c in VALUES if c in own]].notna().any(axis=1)
        if "event" in own:
            silent &= own["event"].isna()
        left += [
            (int(r), *key, d, "a visit without a value; it tells when a stage was not yet seen")
            for r, d in zip(own.loc[silent, "row"], own.loc[silent, "date"], strict=True)
        ]
    X = pd.DataFrame([row[:4] for row in rows], columns=list(COLUMNS))
    X = X.astype({"block": np.int64, "kind": np.int64, "start_d": float, "stop_d": float})
    y = np.array([row[4] for row in rows], dtype=np.float64)
    at = [blocks[row[0]] for row in rows]
    used = pd.DataFrame(
        {
            "rows": [row[5] for row in rows],
            "season": [one.season for one in at],
            "block": [one.name for one in at],
            "cultivar": [one.cultivar for one in at],
            "film": [one.film for one in at],
            "date": [
                pd.Timestamp(one.planting) + pd.Timedelta(days=int(row[3]))
                if np.isfinite(row[3])
                else pd.NaT
                for one, row in zip(at, rows, strict=True)
            ],
            "kind": [KINDS[row[1]] for row in rows],
            "value": y,
        }
    )
    unused = pd.DataFrame(left, columns=["row", "season", "block", "date", "reason"])
    seasons = np.array([one.season for one in at], dtype=object)
    return FitRows(X, y, seasons, used, unused, tuple(dict.fromkeys(notes)))


def _refuse(
    records: pd.DataFrame,
    blocks: Sequence[FitBlock],
    number: Mapping[tuple[str, str], int],
    reasons: Mapping[tuple[str, str], str],
) -> None:
    faults: list[Fault] = []
    known = sorted({name for _, name in (*number, *reasons)})
    for (season, name), own in records.groupby(["season", "block"], sort=True):
        key = (str(season), str(name))
        row = int(own["row"].iloc[0])
        if key not in number and key not in reasons:
            seasons = sorted({s for s, b in (*number, *reasons) if b == key[1]})
            faults.append(
                Fault("no season file has this block", f"records, row {row}", f"{season}: {name}",
                      f"{key[1]} in {', '.join(seasons)}" if seasons else ", ".join(known),
                      "name blocks as the season files do, or give the season file")
            )  # fmt: skip
            continue
        if key in number:
            block = blocks[number[key]]
            early = own[own["date"] < pd.Timestamp(block.planting)]
            if len(early):
                faults.append(
                    Fault(f"picked before planting in {len(early)} rows",
                          f"records, row {int(early['row'].iloc[0])}",
                          str(early["date"].iloc[0].date()),
                          f"{block.planting} or later ({key[1]}, {key[0]})",
                          "mend the date, or the planting date of the season file")
                )  # fmt: skip
    raise_any(faults)


def _pick_rows(
    own: pd.DataFrame, block: int, left: list[_Left],
    key: tuple[str, str],
) -> list[_Row]:  # fmt: skip
    rows: list[_Row] = []
    columns = [column for column in PICKS if column in own]
    picked = own[own[columns].notna().any(axis=1)] if columns else own[:0]
    days = np.unique(picked["day"].to_numpy(dtype=np.float64))
    for number, day in enumerate(days):
        one = picked[picked["day"] == day]
        start = 0.0 if number == 0 else float(days[number - 1]) + _NOON
        stop = float(day) + _NOON
        if number > 0 and stop - start > LONGEST_WAIT_D:
            left += [
                (int(r), *key, d,
                 f"{stop - start:.0f} days after the pick before it: not all that ripened")
                for r, d in zip(one["row"], one["date"], strict=True)
            ]  # fmt: skip
            continue
        for kind, values in _told_by(one, columns):
            if kind != FRUIT_MASS or values.mean() > 0.0:
                lines = _lines(one.loc[values.index, "row"])
                rows.append((block, kind, start, stop, float(values.mean()), lines))
    return rows


def _told_by(one: pd.DataFrame, columns: Sequence[str]) -> list[tuple[int, pd.Series[Any]]]:
    """What a pick tells apart: a weight once, a number of fruit as the mass of one.

    Marketable fruit stands for all fruit where both were weighed, and a number of fruit beside the
    weight of the same fruit is a mean mass: the two err together, the mass does not.
    """
    told = []
    known = {column: one[column].dropna() for column in columns}
    known = {column: values for column, values in known.items() if len(values)}
    for column in ("marketable_g_per_plant", "fruit_g_per_plant"):
        if column in known:
            told.append((PICKS[column], known[column]))
            break
    mass, number = known.get("fruit_mass_g"), known.get("fruits_per_plant")
    whole = known.get("fruit_g_per_plant")
    if mass is None and number is not None and whole is not None:
        mass = (whole / number.where(number > 0.0)).dropna()
    if mass is not None and len(mass):
        told.append((FRUIT_MASS, mass))
    if number is not None and not told:
        told.append((FRUIT_NUMBER, number))
    return told


def _flower_rows(own: pd.DataFrame, block: int) -> list[_Row]:
    if "open_flowers_per_plant" not in own:
        return []
    counted = own[own["open_flowers_per_plant"].notna()]
    days = counted.groupby("day", sort=True).agg(
        value=("open_flowers_per_plant", "mean"), row=("row", _lines)
    )
    return [
        (block, OPEN_FLOWERS, max(0.0, float(day) + _NOON - FLOWER_OPEN_D), float(day) + _NOON,  # type: ignore[arg-type]
         float(one["value"]), str(one["row"]))
        for day, one in days.iterrows()
    ]  # fmt: skip


def _event_rows(
    own: pd.DataFrame,
    block: int,
    about: FitBlock,
    left: list[_Left],
    notes: list[str],
    key: tuple[str, str],
) -> list[_Row]:
    if "event" not in own:
        return []
    rows = []
    weights = any(c in own and own[c].notna().any() for c in ("marketable_g_per_plant",
                                                              "fruit_g_per_plant"))  # fmt: skip
    for event, kind in EVENTS.items():
        for _, plot in own.groupby("plot", dropna=False, sort=True):
            seen = plot[plot["event"] == event]
            never = plot[plot["event"] == f"no {event}"]
            if seen.empty and never.empty:
                continue
            if kind == FIRST_PICKED and weights:
                left += [
                    (int(r), *key, d, "the weights of the block already say when picking began")
                    for r, d in zip(seen["row"], seen["date"], strict=True)
                ]
                continue
            if seen.empty:
                last = never.sort_values("day").iloc[-1]
                rows.append((block, kind, float(last["day"]) + _NOON, np.inf, np.inf,
                             str(int(last["row"]))))  # fmt: skip
                continue
            first = seen.sort_values("day").iloc[0]
            upper = float(first["day"]) + _NOON
            before = plot[(plot["day"] < first["day"])]
            if len(before):
                lower = float(before["day"].max()) + _NOON
            else:
                lower = max(0.0, upper - USUAL_VISIT_D)
                notes.append(
                    f"{about.key}: no visit is recorded before the {event}; it is taken to have "
                    f"come within {USUAL_VISIT_D:.0f} days"
                )
            rows.append((block, kind, lower, upper, upper, str(int(first["row"]))))
    return rows


def _lines(rows: pd.Series[Any]) -> str:
    """Lines of the file in words: several plots of one day are averaged."""
    return ", ".join(str(int(one)) for one in rows)


# What of induction a fit may move, and the chance that a plant flowers, or does not, whatever the
# treatment: without it one odd plant would rule out a whole set of numbers. Own assumption.
INDUCTION = ("induction_requirement", "critical_photoperiod_18", "induction_ceiling")
ODD_PLANT = 0.01
_STEP = 0.05


@dataclass(frozen=True)
class ChamberTerms:
    """Log-likelihood of the trials of one cultivar, with slope and information on its entries."""

    entries: IntArray
    log_likelihood: float
    slope: FloatArray
    information: FloatArray


class Chambers:
    """Chamber trials of the cultivars of a fit.

    Parameters
    ----------
    trials : DataFrame
        Columns ``cultivar, temperature_c, photoperiod_h, days, plants, flowering``.
    sets : mapping of cultivar to ParameterSet
    layout : Layout of the fit.
    """

    def __init__(
        self, trials: pd.DataFrame, sets: Mapping[str, ParameterSet], layout: Layout
    ) -> None:
        self.parts = []
        for name, own in trials.groupby("cultivar", sort=True):
            if str(name) not in sets:
                continue
            moved = {
                i: (one.name, one.prior)
                for i, one in enumerate(layout.entries)
                if one.group == CULTIVAR and one.owner == name and one.prior is not None
                and one.name in INDUCTION
            }  # fmt: skip
            self.parts.append((sets[str(name)], own, moved))

    def terms(self, vector: FloatArray) -> list[ChamberTerms]:
        """Terms of each cultivar under a vector."""
        found = []
        for cultivar, trials, moved in self.parts:
            values = _values(moved, vector)
            share = expected_share(cultivar, trials, values)
            plants = trials["plants"].to_numpy(dtype=np.float64)
            flowering = trials["flowering"].to_numpy(dtype=np.float64)
            log_l = float(share_log_likelihood(flowering, plants, share).sum())
            jacobian = np.empty((len(trials), len(moved)))
            for k, (name, prior) in enumerate(moved.values()):
                step = _STEP * prior.sd
                up, down = (
                    expected_share(cultivar, trials, {**values, name: values[name] + d})
                    for d in (step, -step)
                )
                jacobian[:, k] = (up - down) / (2.0 * _STEP)
            pull = flowering / share - (plants - flowering) / (1.0 - share)
            weight = plants / (share * (1.0 - share))
            entries = np.array(list(moved), dtype=np.int64)
            found.append(
                ChamberTerms(
                    entries, log_l, jacobian.T @ pull, (jacobian * weight[:, None]).T @ jacobian
                )
            )
        return found

    def log_likelihood(self, vector: FloatArray) -> float:
        """Log-likelihood of every trial."""
        total = 0.0
        for cultivar, trials, moved in self.parts:
            share = expected_share(cultivar, trials, _values(moved, vector))
            total += float(share_log_likelihood(trials["flowering"], trials["plants"], share).sum())
        return total


def _values(moved: Mapping[int, tuple[str, Parameter]], vector: FloatArray) -> dict[str, float]:
    """Parameters of a cultivar under a vector, by name."""
    return {name: p.value + p.sd * float(vector[i]) for i, (name, p) in moved.items()}


def expected_share(
    cultivar: ParameterSet, trials: pd.DataFrame, values: Mapping[str, float]
) -> FloatArray:
    """Share of plants that flower in each trial.

    Parameters
    ----------
    cultivar : ParameterSet
    trials : DataFrame
        Columns ``temperature_c`` [degC], ``photoperiod_h`` [h] and ``days`` [d].
    values : numbers that go before those of the set.

    Examples
    --------
    >>> from phenocast.parameters import cultivars
    >>> trials = pd.DataFrame({"temperature_c": [18.0, 30.0], "photoperiod_h": [10.0, 10.0],
    ...                        "days": [28.0, 28.0]})
    >>> expected_share(cultivars()["Basalt"], trials, {}).round(2).tolist()
    [0.98, 0.01]
    """
    known = {**cultivar.numbers(), **values}
    warm = trials["temperature_c"].to_numpy(dtype=np.float64)
    light = trials["photoperiod_h"].to_numpy(dtype=np.float64)
    rate = np.asarray(
        wang_engel(
            warm, known["induction_base"], known["induction_optimum"], known["induction_ceiling"]
        )
    )
    if cultivar.labels.get("flowering") == "day-neutral":
        felt = photoperiod_response_long_day_promoted(
            light, warm, known["critical_photoperiod_18"], known["photoperiod_width"],
            known["long_day_neutral"], known["long_day_plateau_from"],
            known["long_day_plateau_to"], known["long_day_obligate"], known["long_day_plateau"],
        )  # fmt: skip
    else:
        felt = photoperiod_response_short_day(
            light, warm, known["critical_photoperiod_18"], known["critical_photoperiod_slope"],
            known["photoperiod_width"],
        )  # fmt: skip
    total = rate * felt * trials["days"].to_numpy(dtype=np.float64)
    share = share_induced(total, known["induction_requirement"], known["induction_spread"])
    return np.asarray(ODD_PLANT + (1.0 - 2.0 * ODD_PLANT) * share)


def unused_trials(trials: pd.DataFrame, cultivars: Sequence[str]) -> list[str]:
    """Words on trials of cultivars that no block with records has."""
    missing = trials[~trials["cultivar"].isin(cultivars)]
    return [
        f"chamber trials of {name} (rows {', '.join(str(int(r)) for r in own['row'])}) are not "
        "used: no block of it has records"
        for name, own in missing.groupby("cultivar", sort=True)
    ]
