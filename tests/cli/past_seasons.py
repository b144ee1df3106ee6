"""Past seasons of the invented climate with picks that the model itself made, for the commands."""

import json
import shutil
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from phenocast.cli import running
from phenocast.io import InputFile, OutputFolder, to_json, write_manifest
from phenocast.parameters import ParameterSet, parameter_toml
from phenocast.parameters.library import shipped
from phenocast.simulation import block_setup, simulate_block

SEASON = """
[site]
name = "Home Field"
latitude = 29.3
longitude = -15.6
elevation_m = 35
time_zone = "Atlantic/Canary"

[weather]
observed = {{ file = "tamarind_coast.parquet", time_zone = "UTC", stamp = "start", wind_height_m = 2 }}

[bed]
top_width_m = 0.7
height_m = 0.25
row_spacing_m = 1.5
soil = "sandy loam"
"""  # noqa: E501
BLOCK = """
[[block]]
name = "{cultivar} {film}"
cultivar = "{cultivar}"
film = "{film}"
planting_date = {year}-09-20
season_end = {after}-04-15
plants_per_ha = 50_000
area_ha = 1.0
transplant = "bare-root"
"""
CULTIVARS, FILMS = ("Gneiss", "Marl"), ("black", "silver")


def write_seasons(folder: Path, years=(2014, 2016)) -> tuple[Path, list[Path]]:
    """Season files and one file of weekly picks beside the weather of the demo."""
    shutil.copy(shipped("demo_weather", "tamarind_coast.parquet"), folder)
    paths, rows = [], []
    for year in years:
        path = folder / f"{year}.toml"
        blocks = [
            BLOCK.format(cultivar=c, film=f, year=year, after=year + 1)
            for c in CULTIVARS
            for f in FILMS
        ]
        path.write_text(SEASON.format() + "".join(blocks), encoding="utf-8")
        paths.append(path)
        loaded = running.load(path)
        for block in loaded.season.blocks:
            grown = simulate_block(block_setup(loaded.season, block), loaded.weather.observed)
            upto = np.concatenate([[0.0], np.cumsum(grown.plant.marketable_g)])
            days = np.arange(28, len(upto) - 1, 4)
            taken = np.diff(upto[days], prepend=0.0)
            rows += [
                {"season": str(year), "block": block.name,
                 "date": block.planting_date + timedelta(days=int(day)),
                 "marketable_g_per_plant": round(float(grams), 3)}
                for day, grams in zip(days, taken, strict=True)
            ]  # fmt: skip
    records = folder / "picks.csv"
    pd.DataFrame(rows).to_csv(records, index=False)
    return records, paths


def write_fit(folder: Path, records: Path, seasons: list[Path], **verdict) -> Path:
    """Folder as a fit leaves it: Marl twice as sensitive to heat as Gneiss."""
    loaded = running.load(seasons[0])
    rng = np.random.default_rng(1)
    cultivars = [loaded.season.cultivar(name) for name in CULTIVARS]
    draws = pd.concat(
        [
            pd.DataFrame({"cultivar": name, "draw": np.arange(120),
                          "heat_sensitivity": np.clip(rng.normal(mean, 0.1, 120), 0.2, 3.0)})
            for name, mean in zip(CULTIVARS, (0.8, 1.6), strict=True)
        ],
        ignore_index=True,
    )  # fmt: skip
    document = {
        "schema_version": 2,
        "command": "fit",
        "cultivars": [{"cultivar": name} for name in (*CULTIVARS, "Tuff")],
        "transplants": [],
        "seasons": [],
        "identifiability": {
            "rankable": True, "why_not": [], "records_that_would_settle_it": [], **verdict,
        },
        "records": {"seasons": [path.stem for path in seasons]},
        "warnings": [],
    }  # fmt: skip
    tuff = replace(loaded.season.cultivar("Tuff"))
    with OutputFolder(folder / "fit") as out:
        out.write("fit.json", to_json(document))
        named = [ParameterSet(one.name, one.parameters, one.labels) for one in (*cultivars, tuff)]
        out.write("cultivars.toml", parameter_toml("cultivar", named, []))
        draws.to_parquet(out.path / "draws.parquet")
        pd.DataFrame({"rows": ["2"]}).to_parquet(out.path / "records_used.parquet")
        inputs = [InputFile("records", records), *(InputFile("season", one) for one in seasons)]
        write_manifest(out, "fit", options={}, inputs=inputs)
    return folder / "fit"


def read_json(path: Path) -> dict:
    return json.loads(path.read_text(encoding="utf-8"))


def shifted(records: Path, days: int) -> None:
    """Move every pick by some days."""
    table = pd.read_csv(records)
    moved = pd.to_datetime(table["date"]) + pd.Timedelta(days=days)
    table.assign(date=moved.dt.date).to_csv(records, index=False)


FIRST = date(2014, 9, 20)
