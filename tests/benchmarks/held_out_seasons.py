"""How often intervals hold what a season that no fit has seen truly bore.

    python tests/benchmarks/held_out_seasons.py SEEDS RESULTS.jsonl [FIRST_SEED] [SEASONS]
    python tests/benchmarks/held_out_seasons.py report RESULTS.jsonl

Truth as in `synthetic_truth.py`: three cultivars on two films at two planting dates, three seasons
(or SEASONS) with weekly picks for the fit and two held out, whose weather is known. The same draws
of the fitted numbers are taken three times: alone, with effects of season and block from the
likeliest spreads, and with those that `phenocast forecast` draws from the file of the fit.
What it found stands in `calibration/fits/held_out_seasons.md`.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from phenocast.calibration.cultivar.document import draws_table, fitted_cultivars
from phenocast.calibration.cultivar.estimator import CultivarCalibrator
from phenocast.calibration.cultivar.model import FIRST_PICKED, MARKETABLE
from phenocast.calibration.cultivar.parameters import PLOT_LEVEL, SEASON_SHIFT, layout_of
from phenocast.calibration.cultivar.pooling import fitted_spreads
from phenocast.forecast.season_effects import season_effects
from phenocast.parameters import FIELD_SPREADS, ParameterSet
from tests.benchmarks import synthetic_truth as truth_of

FITTED = (2020, 2021, 2022, 2017, 2016, 2015, 2014, 2013)
HELD_OUT = (2018, 2019)
DRAWS = 400
LEVELS = (0.8, 0.9)
# Weeks count where half the draws of the bare numbers bear at least this. [g per plant]
LEAST_G = 5.0
Levels = dict[str, Any]


def one_seed(seed: int, seasons: int = 3) -> dict[str, Any]:
    """Fit to records of some seasons and ask about two others."""
    years = FITTED[:seasons]
    whole = truth_of.trial_of(3, years=(*years, *HELD_OUT))
    rng = np.random.default_rng([seed, 20261127])
    truth = truth_of.true_vector(whole, rng)
    seen = [block for block in whole.blocks if int(block.season) in years]
    trial = truth_of.Trial(tuple(seen), layout_of(seen, truth_of.NUMBERS, truth_of.AT_PLANTING))
    own = _shared(whole, trial, truth)
    rows = truth_of.weekly_rows(trial)
    y = truth_of.picked(truth_of.expected(trial, rows, own), rng)
    fitted = CultivarCalibrator(trial.blocks, select=False, seeds=()).fit(rows, y)
    held = [block for block in whole.blocks if int(block.season) in HELD_OUT]
    unseen = truth_of.Trial(tuple(held), layout_of(held, truth_of.NUMBERS, truth_of.AT_PLANTING))
    asked = _asked(unseen)
    right = truth_of.expected(unseen, asked, _shared(whole, unseen, truth))
    noisy = truth_of.picked(np.maximum(right, 0.0), rng)
    found: dict[str, Any] = {"seed": seed, "seasons": seasons}
    alone = None
    for name, effects in _ways(fitted, trial).items():
        drawn = _predicted(fitted, unseen, asked, effects)
        alone = drawn if alone is None else alone
        found[name] = _held(asked, drawn, alone, right, noisy)
    found["spreads"] = {one.name: [one.middle, one.sd] for one in fitted_spreads(fitted)}
    return found


def _shared(whole: Any, part: Any, vector: Any) -> Any:
    """Entries of a part of a trial, out of those of the whole."""
    at = {(one.group, one.owner, one.name): i for i, one in enumerate(whole.layout.entries)}
    return np.array([vector[at[one.group, one.owner, one.name]] for one in part.layout.entries])


def _asked(trial: Any) -> pd.DataFrame:
    """Season fruit and first pick of every block, and its weeks."""
    whole = pd.DataFrame(
        {
            "block": range(len(trial.blocks)), "kind": MARKETABLE, "start_d": 0.0,
            "stop_d": [float(block.n_days) for block in trial.blocks], "what": "season fruit",
        }
    )  # fmt: skip
    first = whole.assign(kind=FIRST_PICKED, stop_d=0.0, what="first pick")
    weeks = truth_of.weekly_rows(trial).assign(what="week")
    weeks = weeks[weeks["start_d"] > 0.0]
    return pd.concat([whole, first, weeks], ignore_index=True)


def _ways(fitted: Any, trial: Any) -> dict[str, Callable[[Any, int], tuple[Any, Any]]]:
    """Effects on a block of a season, ``late`` and ``level`` ``[draws]``, in three ways."""
    spreads = fitted_spreads(fitted)
    table = draws_table(fitted, DRAWS, 0, spreads)
    own = table[table["cultivar"] == table["cultivar"].iloc[0]]
    (cultivar, *_) = fitted_cultivars(fitted, trial.blocks, "invented", spreads)
    joint = {name: own[name].to_numpy() for name in FIELD_SPREADS}
    drawn = ParameterSet(cultivar.name, cultivar.parameters, cultivar.labels, joint)
    likeliest = dict(zip(FIELD_SPREADS, (
        fitted.scatter_.season_shift, fitted.scatter_.season_level, fitted.scatter_.plot_level,
    ), strict=True))  # fmt: skip
    plain = ParameterSet(
        cultivar.name,
        {name: replace(cultivar[name], value=value, sd=0.0) for name, value in likeliest.items()},
    )

    def nothing(block: Any, season: int) -> tuple[Any, Any]:
        return np.zeros(DRAWS), np.ones(DRAWS)

    def of(numbers: ParameterSet) -> Callable[[Any, int], tuple[Any, Any]]:
        def effects(block: Any, season: int) -> tuple[Any, Any]:
            made = season_effects(numbers, block.key, len(HELD_OUT), DRAWS, 11)
            assert made is not None
            return made.late[season], made.level[season]

        return effects

    return {"alone": nothing, "likeliest spread": of(plain), "as forecast": of(drawn)}


def _predicted(fitted: Any, trial: Any, asked: pd.DataFrame, effects: Any) -> Any:
    """Every row asked for under every draw, ``[draws, rows]``."""
    drawn = fitted.draws(DRAWS, 0)
    at = {(one.group, one.owner, one.name): i for i, one in enumerate(fitted.layout_.entries)}
    vectors = np.zeros((DRAWS, len(trial.layout.entries)))
    keys = {block.key: block for block in trial.blocks}
    for i, one in enumerate(trial.layout.entries):
        key = (one.group, one.owner, one.name)
        if key in at:
            vectors[:, i] = drawn[:, at[key]]
        elif one.group == SEASON_SHIFT:
            block = next(b for b in trial.blocks if b.season == one.owner)
            vectors[:, i] = effects(block, HELD_OUT.index(int(one.owner)))[0]
        elif one.group == PLOT_LEVEL:
            block = keys[one.owner]
            vectors[:, i] = np.log(effects(block, HELD_OUT.index(int(block.season)))[1])
    runs = truth_of.runs_of(trial, asked)
    return np.stack([runs.predict(vector) for vector in vectors])


def _held(asked: pd.DataFrame, drawn: Any, alone: Any, right: Any, noisy: Any) -> dict[str, Any]:
    """Shares of truths inside the intervals, by what is asked."""
    told: dict[str, Any] = {}
    what = asked["what"].to_numpy()
    borne = (what != "week") | (np.median(alone, axis=0) >= LEAST_G)
    for name in ("season fruit", "first pick", "week"):
        own = (what == name) & borne
        for level in LEVELS:
            low, high = np.quantile(drawn[:, own], [0.5 - level / 2, 0.5 + level / 2], axis=0)
            label = f"{name}, {100 * level:.0f} %"
            told[label] = float(np.mean((right[own] >= low) & (right[own] <= high)))
            if name == "week":
                inside = (noisy[own] >= low) & (noisy[own] <= high)
                told[f"{label}, as picked"] = float(np.mean(inside))
    return told


def report(results: list[dict[str, Any]]) -> str:
    """Table of coverage, its error over seeds in brackets, as Markdown."""
    ways = [key for key, one in results[0].items() if isinstance(one, dict) and key != "spreads"]
    lines = [
        f"| interval ({len(results)} seeds) | {' | '.join(ways)} |\n",
        "|---" * (len(ways) + 1) + "|\n",
    ]
    for label in results[0][ways[0]]:
        cells = []
        for way in ways:
            shares = np.array([one[way][label] for one in results])
            error = shares.std(ddof=1) / np.sqrt(len(shares)) if len(shares) > 1 else np.nan
            cells.append(f"{100 * shares.mean():.0f} % (± {100 * error:.0f})")
        lines.append(f"| {label} | {' | '.join(cells)} |\n")
    for name in FIELD_SPREADS:
        middle = np.array([one["spreads"][name] for one in results])
        lines.append(
            f"\n* `{name}`: mean of the middles {middle[:, 0].mean():.3f}, stated sd "
            f"{middle[:, 1].mean():.3f}, scatter over seeds {middle[:, 0].std():.3f}"
        )
    return "".join(lines) + "\n"


def main() -> None:
    """Run seeds, or report on them."""
    if sys.argv[1] == "report":
        lines = Path(sys.argv[2]).read_text(encoding="utf-8").splitlines()
        sys.stdout.write(report([json.loads(line) for line in lines]))
        return
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    seasons = int(sys.argv[4]) if len(sys.argv) > 4 else 3
    for seed in range(first, first + int(sys.argv[1])):
        found = one_seed(seed, seasons)
        with Path(sys.argv[2]).open("a", encoding="utf-8") as stream:
            stream.write(json.dumps(found) + "\n")


if __name__ == "__main__":
    main()
