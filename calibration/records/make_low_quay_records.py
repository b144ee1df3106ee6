"""Make the demo's harvest records: INVENTED, from the model itself, with noise of known size.

    python calibration/records/make_low_quay_records.py

writes four season files and `low_quay_records.csv` beside this script. The Low Quay Growers and the
Tamarind Coast do not exist. Because the records come from the model, a fit to them shows that the
fitting works; it can never show that the model is right.

The three cultivars are the shipped archetypes with their numbers moved by `TRUE`, in standard
deviations of the shipped priors. A fit should find these again, within its intervals.
"""

from __future__ import annotations

import sys
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from phenocast.calibration.cultivar.blocks import FitBlock, fit_block
from phenocast.calibration.cultivar.model import FRUIT_MASS, MARKETABLE, OPEN_FLOWERS, Runs
from phenocast.calibration.cultivar.parameters import (
    AT_PLANTING,
    CULTIVAR,
    HEAT,
    PLOT_LEVEL,
    SEASON_LEVEL,
    SEASON_SHIFT,
    SIZE,
    SUPPLY,
    TIMING,
    TRANSPLANT,
    layout_of,
)
from phenocast.io import read_season, season_weather
from phenocast.weather import season_tables

HERE = Path(__file__).resolve().parent
YEARS = (2021, 2022, 2023, 2024)
CULTIVARS = ("Marl", "Basalt", "Gneiss")
FILMS = ("black", "metallised-striped")
PLANTED = ((9, 6), (10, 2))
LAST = (5, 10)
PLANTS_PER_HA, AREA_HA = 50_000, 0.4
SEED = 20260711
NUMBERS = (*TIMING, *SUPPLY, *SIZE, *HEAT)
# What the growers do not know: numbers away from the shipped ones [standard deviations of priors].
TRUE = {
    ("Marl", "initiation_to_anthesis"): -0.8,
    ("Marl", "anthesis_to_ripe"): 0.6,
    ("Marl", "phyllochron"): 0.5,
    ("Marl", "heat_sensitivity"): 1.0,
    ("Basalt", "initiation_to_anthesis"): 0.4,
    ("Basalt", "anthesis_to_ripe"): -0.5,
    ("Basalt", "phyllochron"): -0.6,
    ("Basalt", "heat_sensitivity"): -1.2,
    ("Gneiss", "initiation_to_anthesis"): 0.9,
    ("Gneiss", "anthesis_to_ripe"): 0.7,
    ("Gneiss", "phyllochron"): 0.2,
    ("Gneiss", "heat_sensitivity"): 0.6,
    ("Gneiss", "fruit_mass_15"): 0.8,
    ("bare-root", "truss_progress"): 0.3,
    ("bare-root", "trusses_at_planting"): -0.4,
}
# Noise: sd of what seasons and blocks share, and of each pick about its expectation.
SEASON_SHIFT_D, SEASON_LOG, BLOCK_LOG = 2.0, 0.10, 0.07
PICK_SHARE, PICK_FLOOR_G, MASS_SHARE, FLOWER_SHARE = 0.20, 0.8, 0.06, 0.25
FLOWER_FLOOR = 0.08

HEAD = """\
# Season {year}/{next} of the Low Quay Growers: INVENTED, made by make_low_quay_records.py.
[site]
name = "Low Quay Growers, Tamarind Coast"
latitude = 29.3
longitude = -15.6
elevation_m = 35
time_zone = "Atlantic/Canary"

[weather.observed]
file = "../../demo_weather/tamarind_coast.parquet"
time_zone = "UTC"
stamp = "start"
wind_height_m = 2

[bed]
top_width_m = 0.7
height_m = 0.25
row_spacing_m = 1.5
soil = "sandy loam"
"""
BLOCK = """
[[block]]
name = "{name}"
cultivar = "{cultivar}"
film = "{film}"
planting_date = {planted}
season_end = {last}
plants_per_ha = {plants}
area_ha = {area}
transplant = "bare-root"
sprinkling = {{ days = 8, hours = [10, 16], water_ph = 7.6 }}
"""
NOTE = """\
# Harvest records of the Low Quay Growers, four seasons: INVENTED, made by make_low_quay_records.py.
# One row for each block and pick. marketable: of the whole block. Every fourth week a sample of
# fruit was weighed; early in the season open flowers were counted.
"""


def season_text(year: int) -> str:
    """Season file of one year."""
    blocks = [
        BLOCK.format(
            name=f"{cultivar} {film} {date(year, month, day):%d %b}",
            cultivar=cultivar,
            film=film,
            planted=date(year, month, day),
            last=date(year + 1, *LAST),
            plants=PLANTS_PER_HA,
            area=AREA_HA,
        )
        for cultivar in CULTIVARS
        for film in FILMS
        for month, day in PLANTED
    ]
    return HEAD.format(year=year, next=(year + 1) % 100) + "".join(blocks)


def block_seasons(folder: Path) -> list[FitBlock]:
    """Every block-season, its bed run under the invented weather."""
    blocks = []
    for year in YEARS:
        path = folder / f"low_quay_{year}.toml"
        season = read_season(path)
        weather = season_tables(season_weather(season, path.parent).parts(), season.site)
        blocks += [fit_block(season, block, weather, path.stem) for block in season.blocks]
    return blocks


def records_text(blocks: list[FitBlock]) -> str:
    """Table of records, as text."""
    rng = np.random.default_rng(SEED)
    layout = layout_of(blocks, NUMBERS, AT_PLANTING)
    spread = {SEASON_SHIFT: SEASON_SHIFT_D, SEASON_LEVEL: SEASON_LOG, PLOT_LEVEL: BLOCK_LOG}
    truth = np.array(
        [
            TRUE.get((one.owner, one.name), 0.0)
            if one.group in (CULTIVAR, TRANSPLANT)
            else spread[one.group] * rng.standard_normal()
            for one in layout.entries
        ]
    )
    lines = ["season,block,date,marketable [kg],fruit_mass_g,open_flowers_per_plant"]
    for number, block in enumerate(blocks):
        picks = np.arange(40.0, block.n_days - 1, 7.0)
        rows = [(0.0 if i == 0 else picks[i - 1] + 0.5, day + 0.5) for i, day in enumerate(picks)]
        start, stop = (np.array(column) for column in zip(*rows, strict=True))
        found = {}
        for kind in (MARKETABLE, FRUIT_MASS, OPEN_FLOWERS):
            begin = stop - 3.0 if kind == OPEN_FLOWERS else start
            one = np.full(len(picks), number), np.full(len(picks), kind), begin, stop
            found[kind] = Runs(blocks, layout, *one).predict(truth)
        weight = found[MARKETABLE]
        noise = rng.standard_normal((3, len(picks)))
        weight = np.maximum(weight + noise[0] * np.hypot(PICK_SHARE * weight, PICK_FLOOR_G), 0.0)
        weight[found[MARKETABLE] < 0.05] = 0.0
        mass = found[FRUIT_MASS] * (1.0 + MASS_SHARE * noise[1])
        scatter = np.hypot(FLOWER_SHARE * found[OPEN_FLOWERS], FLOWER_FLOOR)
        flowers = np.maximum(found[OPEN_FLOWERS] + scatter * noise[2], 0.0)
        for i, day in enumerate(picks):
            kilos = weight[i] * block.plants / 1000.0
            shown = f"{mass[i]:.1f}" if i % 4 == 3 and weight[i] > 1.0 else ""
            seen = f"{flowers[i]:.2f}" if i < 6 else ""
            at = block.planting + timedelta(days=int(day))
            lines.append(f"{block.season},{block.name},{at},{kilos:.0f},{shown},{seen}")
    return NOTE + "\n".join(lines) + "\n"


def main(folder: Path) -> None:
    """Write the season files and the records."""
    for year in YEARS:
        (folder / f"low_quay_{year}.toml").write_text(season_text(year), encoding="utf-8")
    text = records_text(block_seasons(folder))
    (folder / "low_quay_records.csv").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
