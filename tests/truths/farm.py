"""A world of `tests.truths.plants` as files: season files and records to learn from."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pandas as pd

from tests.truths.plants import (
    LATITUDE,
    PLANTS_SEEN,
    WEATHER,
    TrueSeason,
    World,
    records_of,
)

STAMPS = 'stamp = "start", wind_height_m = 2'
SITE = f"""[site]
name = "Truth"
latitude = {LATITUDE}
longitude = -15.6
elevation_m = 35
time_zone = "Atlantic/Canary"
[weather]
observed = {{ file = "{WEATHER.as_posix()}", time_zone = "UTC", {STAMPS} }}
[bed]
top_width_m = 0.7
height_m = 0.25
row_spacing_m = 1.5
soil = "sandy loam"
"""


def season_text(seasons: tuple[TrueSeason, ...], *, fitted: Path | None = None) -> str:
    """Season file of one year of a world; ``fitted`` names the cultivars of a fit."""
    text = SITE if fitted is None else f'cultivar_file = "{fitted.as_posix()}"\n' + SITE
    for one in seasons:
        block = one.block
        end = block.planting_date + timedelta(days=len(one.ripe_g) - 1)
        text += f"""[[block]]
name = "{block.name}"
cultivar = "{block.cultivar}"
film = "{block.film}"
planting_date = {block.planting_date}
season_end = {end}
plants_per_ha = 50000
area_ha = 1.0
transplant = "{block.transplant}"
first_pick_g_per_plant = 10
"""
    return text


def past_records(world: World) -> pd.DataFrame:
    """Records of the seasons to learn from, as a grower keeps them for a fit."""
    tables = []
    for year in world.learnt:
        for season in world.seasons[year]:
            own = records_of(season, world.seed)
            own.insert(0, "season", str(year))
            bloom = own["plants_in_bloom"] * 2 >= PLANTS_SEEN
            first = int(bloom.to_numpy().argmax())
            own["event"] = None
            own.loc[own.index[first], "event"] = "first flower"
            tables.append(own)
    return pd.concat(tables, ignore_index=True)


def write_past(world: World, folder: Path) -> tuple[Path, list[Path]]:
    """Write the season files to learn from and their records; return where they are."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for year in world.learnt:
        path = folder / f"{year}.toml"
        path.write_text(season_text(world.seasons[year]), encoding="utf-8")
        paths.append(path)
    records = folder / "records.csv"
    table = past_records(world)
    columns = ["season", "block", "date", "event", "open_flowers_per_plant",
               "green_fruit_per_plant", "marketable_g_per_plant"]  # fmt: skip
    table[columns].to_csv(records, index=False)
    return records, paths
