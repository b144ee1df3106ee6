"""What a fit says when its records come of another model: counted over truths and seeds.

    python -m tests.benchmarks.wrong_model SEEDS RESULTS.jsonl [FIRST_SEED] [TRUTH ...]
    python -m tests.benchmarks.wrong_model report RESULTS.jsonl

Records are simulated with a curve that the package does not have, or with something that no curve
is, and fitted with the package's. Three cultivars in three seasons on two films at two planting
dates; noise as in `synthetic_truth.py`. What was found stands in `calibration/fits/wrong_model.md`.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy import stats

from phenocast.calibration.cultivar.blocks import FitBlock
from phenocast.calibration.cultivar.diagnostics import lack_of_fit
from phenocast.calibration.cultivar.estimator import CultivarCalibrator
from phenocast.calibration.cultivar.parameters import CULTIVAR, TRANSPLANT
from phenocast.phenology.daily import (
    AIR_DEVELOPMENT,
    AIR_MEAN,
    BRANCH_WARMTH,
    CROWN_DEVELOPMENT,
    CROWN_HEAT_30,
    CROWN_HEAT_33,
    CROWN_MEAN,
    LEAF_WARMTH,
    SOLAR,
)
from phenocast.simulation.responses import tabulate
from phenocast.thermal_time import trapezoid, wang_engel, yin_beta
from tests.benchmarks import synthetic_truth as truth_of

Array = np.ndarray[Any, Any]
Blocks = Sequence[FitBlock]

NARROW = (5.0, 12.0, 18.0, 22.0)
SHARE = 0.90


def trial_of() -> truth_of.Trial:
    """Three cultivars in three seasons on two films, two planting dates."""
    return truth_of.trial_of(3, years=(2020, 2021, 2022))


def _with_row(
    blocks: Blocks, rows: Sequence[int], given: Callable[[FitBlock], Array], times: float = 1.0
) -> list[FitBlock]:
    """Blocks whose daily rows follow something else, with the same sum over all blocks, times."""
    new = [given(block) for block in blocks]
    found = []
    for block, own in zip(blocks, new, strict=True):
        daily = block.daily.copy()
        for row in rows:
            whole = times * sum(b.daily[row].sum() for b in blocks)
            daily[row] = own * whole / sum(one.sum() for one in new)
        found.append(replace(block, daily=daily))
    return found


def _hours(block: FitBlock) -> Array:
    own = block.crown[block.first_hour : block.first_hour + 24 * block.n_days]
    return own.reshape(-1, 24)


def heat_as_a_step(blocks: Blocks) -> list[FitBlock]:
    """Heat counts by hours above a threshold, not by degrees; its sum over blocks times 4."""
    rows = (CROWN_HEAT_30, CROWN_HEAT_33)
    return _with_row(blocks, rows, lambda b: (_hours(b) > 36.0).sum(axis=1), 4.0)


def heat_as_squares(blocks: Blocks) -> list[FitBlock]:
    """Heat counts by the square of the degrees above 28; its sum over blocks doubled."""

    def given(block: FitBlock) -> Array:
        return np.asarray((np.maximum(_hours(block) - 28.0, 0.0) ** 2).sum(axis=1))

    return _with_row(blocks, (CROWN_HEAT_30, CROWN_HEAT_33), given, 2.0)


def ripening_as_a_beta(blocks: Blocks) -> list[FitBlock]:
    """Flowers and fruit follow a steep beta of the day's mean; the same sum over blocks."""

    def given(block: FitBlock) -> Array:
        return np.asarray(yin_beta(block.daily[AIR_MEAN], 10.0, 24.0, 32.0, 1.5))

    return _with_row(blocks, (AIR_DEVELOPMENT,), given)


def ripening_as_a_line(blocks: Blocks) -> list[FitBlock]:
    """Flowers and fruit follow the day's mean above 12 degC without end."""
    return _with_row(
        blocks, (AIR_DEVELOPMENT,), lambda b: np.maximum(b.daily[AIR_MEAN] - 12.0, 0.0)
    )


def leaves_by_light(blocks: Blocks) -> list[FitBlock]:
    """Leaves follow the light of the day, not its warmth."""
    return _with_row(blocks, (LEAF_WARMTH,), lambda b: b.daily[SOLAR])


def buds_by_a_root(blocks: Blocks) -> list[FitBlock]:
    """Buds and branches follow the square root of the crown's warmth above 2 degC."""
    return _with_row(
        blocks, (CROWN_DEVELOPMENT, BRANCH_WARMTH),
        lambda b: np.sqrt(np.maximum(b.daily[CROWN_MEAN] - 2.0, 0.0)),
    )  # fmt: skip


def narrow_induction(temperature: Array) -> Array:
    """Induction as a narrow trapezoid."""
    return np.asarray(trapezoid(temperature, *NARROW))


def beta_induction(temperature: Array) -> Array:
    """Induction as a beta from 3 over 15 to 24 degC."""
    return np.asarray(yin_beta(temperature, 3.0, 15.0, 24.0, 2.0))


def cut_induction(temperature: Array) -> Array:
    """Induction that ends at once at 24 degC."""
    curve = np.asarray(wang_engel(temperature, 0.0, 17.0, 35.0))
    return np.where(np.asarray(temperature) < 24.0, curve, 0.0)


def light_of_the_film(mean: Array, stop_d: Array, film: Array) -> Array:
    """Fruit of the first 100 days up by 35 % on every film but black: no curve does that."""
    return np.where((film != "black") & (stop_d < 100.0), 1.35 * mean, mean)


TRUTHS: dict[str, tuple[str, dict[str, Any]]] = {
    "right": ("the model itself", {}),
    "induction": ("induction: trapezoid 5, 12, 18, 22 degC", {"induction": narrow_induction}),
    "heat": ("heat: step at 36 degC, four times the sum", {"other": heat_as_a_step}),
    "ripening": ("ripening: steep beta of the day's mean", {"other": ripening_as_a_beta}),
    "induction beta": ("induction: beta 3, 15, 24 degC", {"induction": beta_induction}),
    "heat squares": ("heat: squares above 28 degC, twice the sum", {"other": heat_as_squares}),
    "ripening line": ("ripening: line above 12 degC", {"other": ripening_as_a_line}),
    "leaves": ("leaves by light", {"other": leaves_by_light}),
    "induction cut": ("induction: ends at once at 24 degC", {"induction": cut_induction}),
    "buds": ("buds and branches: square root above 2 degC", {"other": buds_by_a_root}),
    "film light": ("35 % more early fruit on the bright film", {"after": light_of_the_film}),
}


def fit_to(
    trial: truth_of.Trial,
    seed: int,
    *,
    other: Callable[[Blocks], list[FitBlock]] | None = None,
    induction: Callable[[Array], Array] | None = None,
    after: Callable[[Array, Array, Array], Array] | None = None,
) -> CultivarCalibrator:
    """Fit to records that other blocks, another induction or another mean of records gave.

    Parameters
    ----------
    trial : what is fitted.
    seed : of truth and records.
    other : makes the blocks that bear the records.
    induction : response of induction to temperature.
    after : changes the expected records ``(mean, stop_d, film)``.
    """
    rng = truth_of.drawing(seed)
    truth = truth_of.true_vector(trial, rng)
    rows = truth_of.weekly_rows(trial)
    runs = truth_of.runs_of(trial, rows, None if other is None else other(trial.blocks))
    if induction is not None:
        for part in runs.parts:
            assert not part.moves_induction  # or the table would be made again
            part.tables = tabulate(induction)[None, :]
    mean = runs.predict(truth)
    if after is not None:
        film = np.array([trial.blocks[i].film for i in rows["block"]], dtype=object)
        mean = after(mean, rows["stop_d"].to_numpy(), film)
    y = truth_of.picked(mean, rng)
    return CultivarCalibrator(trial.blocks, select=False, seeds=()).fit(rows, y)


def errors(fitted: CultivarCalibrator, trial: truth_of.Trial, seed: int) -> tuple[Array, Array]:
    """Error of every fitted number in prior standard deviations, and its entry in the vector."""
    truth = truth_of.true_vector(trial, truth_of.drawing(seed))
    place = {(one.owner, one.name): i for i, one in enumerate(trial.layout.entries)}
    numbers = fitted.layout_.entries
    own = np.array([i for i in fitted.free_ if numbers[i].group in (CULTIVAR, TRANSPLANT)])
    true = [truth[place[numbers[i].owner, numbers[i].name]] for i in own]
    return fitted.vector_[own] - np.array(true), own


def one_seed(trial: truth_of.Trial, name: str, seed: int) -> dict[str, Any]:
    """Fit once and count which intervals hold, without what bends add and with it."""
    fitted = fit_to(trial, seed, **TRUTHS[name][1])
    error, own = errors(fitted, trial, seed)
    whole = np.diag(fitted.covariance_)[own]
    bare = whole - np.diag(fitted.discrepancy_.covariance)[own]
    reach = float(stats.norm.ppf(0.5 + SHARE / 2.0))
    told = lack_of_fit(fitted)
    return {
        "truth": name,
        "seed": seed,
        "held_bare": float(np.mean(np.abs(error) <= reach * np.sqrt(bare))),
        "held": float(np.mean(np.abs(error) <= reach * np.sqrt(whole))),
        "worst_bare": float(np.max(np.abs(error) / np.sqrt(bare))),
        "worst": float(np.max(np.abs(error) / np.sqrt(whole))),
        "wider": float(np.mean(np.sqrt(whole / bare))),
        "gain": fitted.discrepancy_.gain,
        "told": bool(told),
        "told_of_a_curve": any("another form" in text for text in told),
    }


HEAD = """\
| truth | fits | 90 % intervals that hold | without bends | wider | worst error | without bends | \
told | of a curve | gain |
|---|---|---|---|---|---|---|---|---|---|
"""


def report(results: list[dict[str, Any]]) -> str:
    """Table of what intervals hold, a line a truth, as Markdown."""
    lines = [HEAD]
    for name, (words, _) in TRUTHS.items():
        own = [one for one in results if one["truth"] == name]
        if not own:
            continue
        held = np.array([one["held"] for one in own])
        lines.append(
            f"| {words} | {len(own)} | {100 * held.mean():.1f} % (± "
            f"{100 * held.std() / np.sqrt(len(own)):.1f}) | "
            f"{100 * np.mean([one['held_bare'] for one in own]):.1f} % | "
            f"{np.mean([one['wider'] for one in own]):.2f} | "
            f"{max(one['worst'] for one in own):.1f} | "
            f"{max(one['worst_bare'] for one in own):.1f} | {sum(one['told'] for one in own)} | "
            f"{sum(one['told_of_a_curve'] for one in own)} | "
            f"{min(one['gain'] for one in own):.1f} to {max(one['gain'] for one in own):.1f} |\n"
        )
    return "".join(lines)


def main() -> None:
    """Count, or report."""
    if sys.argv[1] == "report":
        lines = Path(sys.argv[2]).read_text(encoding="utf-8").splitlines()
        sys.stdout.write(report([json.loads(line) for line in lines]))
        return
    seeds, place = int(sys.argv[1]), Path(sys.argv[2])
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    trial = trial_of()
    for name in sys.argv[4:] or list(TRUTHS):
        for seed in range(first, first + seeds):
            with place.open("a", encoding="utf-8") as stream:
                stream.write(json.dumps(one_seed(trial, name, seed)) + "\n")


if __name__ == "__main__":
    main()
