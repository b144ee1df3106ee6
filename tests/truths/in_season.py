"""Forecasts of plants that are not this engine's, scored as the season goes on.

``python -m tests.truths.in_season A 1 2 3 --out FOLDER`` fits each world's five seasons as a user
does, forecasts its three others at planting and every two weeks with the records known by then, and
writes a row a block, issue and quantity; ``--rows`` puts all worlds of the folder together. Rules
that need no model stand in every row.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast.cli.commands.fit import command as fit_command
from phenocast.forecast.hindcast import known_then
from phenocast.forecast.result import BlockForecast
from phenocast.forecast.run import run_forecast
from phenocast.io import load_season
from phenocast.phenology.work import FIRST_PICK
from phenocast.season import SeasonRecords
from tests.truths.farm import season_text, write_past
from tests.truths.own import own_world
from tests.truths.plants import TrueSeason, World, records_of, world

Array = NDArray[np.float64]

DRAWS = 40
EVERY_D = 14
FIRST_ISSUE, LAST_ISSUE = (10, 6), (2, 20)
PICKED_MOST = 0.6
"""Rows of fruit end where so much of the season's is picked."""


def world_of(name: str, seed: int) -> World:
    """World by its name; "own" are the engine's plants."""
    return own_world(seed) if name == "own" else world(name, seed)


def seen_table(season: TrueSeason, seed: int) -> pd.DataFrame:
    """Records of a season as the reader of `SeasonRecords` gives them, one row a visit."""
    own = records_of(season, seed)
    day = (own["date"] - pd.Timestamp(season.block.planting_date)).dt.days
    picked = own["marketable_g_per_plant"]
    return pd.DataFrame(
        {
            "day": day, "plants_seen": own["plants_seen"],
            "plants_in_bloom": own["plants_in_bloom"],
            "open_flowers": own["open_flowers_per_plant"],
            "green_fruit": own["green_fruit_per_plant"],
            "ripe_fruit": np.nan, "marketable_g": picked, "picked": picked.notna(),
            "fruit_left": False, "lost_share": np.nan,
        }
    )  # fmt: skip


@dataclass(frozen=True)
class Past:
    """What rules without a model know of a block: its past seasons as recorded."""

    days: list[Array]
    fruit: list[Array]
    planted: list[int]
    bloom: list[float]
    first_pick: list[float]

    def mean_at(self, days: Array, planted: int, *, calendar: bool) -> Array:
        """Mean fruit so far at days since planting, by days or by the calendar. [g per plant]"""
        moved = [planted - one if calendar else 0 for one in self.planted]
        return np.mean(
            [np.interp(days + later, at, fruit)
             for at, fruit, later in zip(self.days, self.fruit, moved, strict=True)], axis=0,
        )  # fmt: skip


def past_of(made: World, number: int) -> Past:
    """Past seasons of a block of a world by its number."""
    days, fruit, planted, bloom, first = [], [], [], [], []
    for year in made.learnt:
        season = made.seasons[year][number]
        table = seen_table(season, made.seed)
        picks = table[table["picked"]]
        at = np.concatenate([[0.0, picks["day"].iloc[0] - 6.5], picks["day"] + 0.5])
        sums = np.concatenate([[0.0, 0.0], picks["marketable_g"].cumsum()])
        days.append(at)
        fruit.append(sums)
        planted.append((season.block.planting_date - date(year, 9, 1)).days)
        half = table["plants_in_bloom"] >= table["plants_seen"] / 2
        bloom.append(float(table["day"][half.to_numpy().argmax()] - 3.0))
        first.append(float(np.interp(10.0, sums, at)))
    return Past(days, fruit, planted, bloom, first)


def crps(members: Array, truth: float) -> float:
    """Continuous ranked probability score of an ensemble (Gneiting and Raftery 2007)."""
    ordered = np.sort(members)
    n = len(ordered)
    weights = 2.0 * np.arange(1, n + 1) - n - 1.0
    return float(np.abs(ordered - truth).mean() - weights @ ordered / n**2)


def fitted(made: World, folder: Path) -> Path:
    """Fit the past seasons of a world as a user does; return the folder of the fit."""
    records, seasons = write_past(made, folder)
    out = folder / "fit"
    if not (out / "past_seasons.parquet").exists():
        paths = [str(one) for one in seasons]
        fit_command.main([str(records), *paths, "--out", str(out)], standalone_mode=False)
    return out


def scored(name: str, seed: int, folder: Path, *, leads: int = 99) -> pd.DataFrame:
    """Rows of one world."""
    made = world_of(name, seed)
    fit = fitted(made, folder)
    rows: list[dict[str, Any]] = []
    for year in made.forecast:
        seasons = made.seasons[year]
        path = folder / f"forecast-{year}.toml"
        path.write_text(season_text(seasons, fitted=fit / "cultivars.toml"), encoding="utf-8")
        loaded = load_season(path)
        start = min(one.block.planting_date for one in seasons) - timedelta(days=1)
        issues = [start]
        day = date(year, *FIRST_ISSUE)
        while day <= date(year + 1, *LAST_ISSUE):
            issues.append(day)
            day += timedelta(days=EVERY_D)
        for issue in issues[:leads]:
            known, _ = known_then(loaded.weather, loaded.season, issue, "earlier")
            tables = {}
            for one in seasons:
                table = seen_table(one, seed)
                since = (issue - one.block.planting_date).days
                if (table["day"] <= since).any():
                    tables[one.block.name] = table[table["day"] <= since]
            told = SeasonRecords(tables)
            with_records = run_forecast(
                loaded.season, known, issue_date=issue, draws=DRAWS, seed=seed, records=told,
                past=loaded.past,
            )  # fmt: skip
            without = run_forecast(loaded.season, known, issue_date=issue, draws=DRAWS, seed=seed)
            for number, one in enumerate(seasons):
                rows += rows_of(
                    one, tables.get(one.block.name), past_of(made, number), issue, issue == start,
                    with_records.blocks[number], without.blocks[number],
                )  # fmt: skip
        if name == "B":
            rows += weather_known(made, year, loaded)
    table = pd.DataFrame(rows)
    table.insert(0, "seed", seed)
    table.insert(0, "world", name)
    return table


def weather_known(made: World, year: int, loaded: Any) -> list[dict[str, Any]]:
    """First pick at planting where the weather of the season is known."""
    last = date(year + 1, 5, 10)
    told = run_forecast(
        loaded.season, loaded.weather, issue_date=last, draws=DRAWS, seed=made.seed,
        records=SeasonRecords(), past=loaded.past,
    )  # fmt: skip
    return [
        {"year": year, "block": one.block.name, "stage": "weather known", "what": "first pick",
         "truth": one.first_pick, "p50": float(np.median(block.dates[..., FIRST_PICK]))}
        for one, block in zip(made.seasons[year], told.blocks, strict=True)
    ]  # fmt: skip


def rows_of(
    season: TrueSeason,
    table: pd.DataFrame | None,
    past: Past,
    issue: date,
    at_planting: bool,
    made: BlockForecast,
    without: BlockForecast,
) -> list[dict[str, Any]]:
    """Rows of one block at one issue."""
    block = season.block
    since = (issue - block.planting_date).days
    planted = (block.planting_date - date(block.planting_date.year, 9, 1)).days
    truth = np.concatenate([[0.0], np.cumsum(season.ripe_g)])
    picks = 0 if table is None else int(table["picked"].sum())
    bloomed = table is not None and bool(
        (table["plants_in_bloom"] * 2 >= table["plants_seen"]).any()
    )
    stage = "planting" if at_planting else "picked" if picks else "bloom" if bloomed else "before"
    common = {"year": block.planting_date.year, "block": block.name, "transplant": block.transplant,
              "issue": issue, "picks": picks, "stage": stage}  # fmt: skip
    found = []

    def add(what: str, members: Array, plain: Array, real: float, **rules: float) -> None:
        low, under, middle, over, high = np.quantile(members, [0.1, 0.25, 0.5, 0.75, 0.9])
        found.append(
            {
                **common, "what": what, "truth": real, "p10": low, "p25": under, "p50": middle,
                "p75": over, "p90": high, "crps": crps(members, real),
                "none_p50": float(np.median(plain)), "none_crps": crps(plain, real),
                **{f"{rule}_p50": value for rule, value in rules.items()},
            }
        )  # fmt: skip

    n_days = len(season.ripe_g)
    if not picks:
        days, plain = (
            np.minimum(one.dates[..., FIRST_PICK].ravel(), n_days) for one in (made, without)
        )
        later = plain[plain > since]
        rules = {
            "days": float(np.mean(past.first_pick)),
            "calendar": float(np.mean(np.add(past.first_pick, past.planted)) - planted),
        }
        if bloomed:
            seen = made.leaning.seen.bloom_d  # type: ignore[union-attr]
            lags = np.subtract(past.first_pick, past.bloom)
            rules["lag"] = seen + float(lags.mean())
            rules["lag_crps"] = crps(seen + lags, season.first_pick)
        add("first pick", days, later if len(later) else plain, season.first_pick, **rules)
    weeks = np.asarray(made.weeks)
    monday = [date.fromisocalendar(int(week[:4]), int(week[-2:]), 1) for week in weeks]
    start = np.clip([(one - block.planting_date).days for one in monday], 0, n_days)
    stop = np.clip(np.array([(one - block.planting_date).days + 7 for one in monday]), 0, n_days)
    taken = 0.0
    open_from = 0.0
    if picks:
        assert table is not None
        open_from = float(table["day"][table["picked"]].iloc[-1]) + 0.5
        taken = float(table["marketable_g"].sum())
    if picks and truth[min(int(open_from), n_days)] > PICKED_MOST * truth[-1]:
        return found
    grid = np.arange(len(truth), dtype=np.float64)
    real = np.diff(np.interp(np.stack([np.maximum(start, open_from), np.maximum(stop, open_from)]),
                             grid, truth), axis=0)[0]  # fmt: skip
    weekly, plain = (one.weekly_g.reshape(-1, len(one.weeks))[:, : len(weeks)]
                     for one in (made, without))  # fmt: skip
    rules_at = {
        rule: np.diff(past.mean_at(np.stack([start, stop]).astype(float), planted,
                                   calendar=rule == "calendar"), axis=0)[0]
        for rule in ("days", "calendar")
    }  # fmt: skip
    if at_planting:
        for number in range(len(weeks)):
            add("week of season", weekly[:, number], plain[:, number], float(real[number]),
                **{rule: float(one[number]) for rule, one in rules_at.items()})  # fmt: skip
        return found
    if stage == "before":
        return found
    ahead = np.flatnonzero(start > since)[:4]
    if len(ahead) < 4 or not len(plain[0]) > ahead[-1]:
        return found
    level = taken / max(past.mean_at(np.array([open_from]), planted, calendar=False)[0], 1.0)
    so_far = taken / max(picks, 1)
    for number, week in enumerate(ahead):
        add(f"week {number + 1}", weekly[:, week], plain[:, week], float(real[week]),
            days=float(rules_at["days"][week]), calendar=float(rules_at["calendar"][week]),
            scaled=level * float(rules_at["days"][week]), mean=so_far)  # fmt: skip
    for label, of in (("two weeks", ahead[:2]), ("four weeks", ahead)):
        add(label, weekly[:, of].sum(axis=1), plain[:, of].sum(axis=1), float(real[of].sum()),
            days=float(rules_at["days"][of].sum()), calendar=float(rules_at["calendar"][of].sum()),
            scaled=level * float(rules_at["days"][of].sum()), mean=so_far * len(of))  # fmt: skip
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("world", choices=("A", "B", "C", "own"))
    parser.add_argument("seeds", type=int, nargs="+")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--rows", type=Path, help="one table of all worlds in the folder")
    asked = parser.parse_args()
    for seed in asked.seeds:
        folder = asked.out / f"{asked.world}{seed}"
        table = scored(asked.world, seed, folder)
        table.to_parquet(folder / "rows.parquet")
        print(asked.world, seed, len(table), flush=True)
    if asked.rows is not None:
        made = [pd.read_parquet(one) for one in sorted(asked.out.glob("*/rows.parquet"))]
        pd.concat(made).round(2).to_csv(asked.rows, index=False)


if __name__ == "__main__":
    main()
