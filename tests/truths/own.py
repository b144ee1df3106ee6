"""The engine's own plants as a world: what a forecast makes of records where its model is right.

A world has one draw of the shipped numbers of each cultivar and transplant, the same in every
season; seasons and blocks differ in level as those of the other worlds do.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd

from phenocast.forecast.run import run_forecast
from phenocast.io import read_season, season_weather
from phenocast.weather import season_tables
from tests.truths.farm import season_text
from tests.truths.plants import (
    FIRST_YEAR,
    FORECAST,
    LEARNT,
    N_YEARS,
    TrueBlock,
    TrueSeason,
    World,
    block_of,
    passed,
)

DRAWS = 24


@cache
def own_world(seed: int) -> World:
    """Make a world of the engine's own plants."""
    rng = np.random.default_rng([79, seed])
    start = FIRST_YEAR + int(rng.integers(0, N_YEARS - LEARNT - FORECAST + 1))
    years = tuple(range(start, start + LEARNT + FORECAST))
    usual = rng.normal(1.0, 0.10, 6)
    seasons = {}
    for year in years:
        blocks = []
        for number in range(6):
            block = block_of("A", number, year, new=False)
            day = block.planting_date + timedelta(days=int(rng.integers(-6, 7)))
            blocks.append(replace(block, planting_date=day))
        level = usual * np.exp(rng.normal(0.0, 0.14, 6))
        seasons[year] = _grown(tuple(blocks), seed, level)
    return World("own", seed, years[:LEARNT], years[LEARNT:], seasons, {})


def _grown(blocks: tuple[TrueBlock, ...], seed: int, level: np.ndarray) -> tuple[TrueSeason, ...]:
    last = date(blocks[0].planting_date.year + 1, 5, 10)
    empty = np.zeros(0)
    lengths = [(last - one.planting_date).days + 1 for one in blocks]
    sketch = tuple(
        TrueSeason(one, empty, np.zeros(n), empty, empty, empty, 0.0, 0.0)
        for one, n in zip(blocks, lengths, strict=True)
    )
    with TemporaryDirectory() as folder:
        path = Path(folder, "season.toml")
        path.write_text(season_text(sketch), encoding="utf-8")
        season = read_season(path)
        weather = season_tables(season_weather(season, path.parent).parts(), season.site)
    days = {one.name: list(range(n + 1)) for one, n in zip(blocks, lengths, strict=True)}
    made = run_forecast(season, weather, issue_date=last, draws=DRAWS, seed=0, state_at=days)
    draw = int(np.random.default_rng([80, seed]).integers(DRAWS))
    found = []
    for one, of, factor in zip(blocks, made.blocks, level, strict=True):
        states = of.states
        ripe = factor * np.diff(states.marketable_g[0, draw])
        flowers = factor * np.diff(states.open_flowers[0, draw].cumsum())
        fruits = ripe / 18.0
        found.append(
            TrueSeason(
                block=one, flowers=flowers, ripe_g=ripe,
                open_flowers=pd.Series(flowers).rolling(4, min_periods=1).sum().to_numpy(),
                green_fruit=factor * states.green_fruit[0, draw, 1:],
                ripe_fruit=pd.Series(fruits).rolling(3, min_periods=1).sum().to_numpy(),
                bloom=passed(flowers, 1.0), first_pick=passed(ripe, 10.0),
            )
        )  # fmt: skip
    return tuple(found)
