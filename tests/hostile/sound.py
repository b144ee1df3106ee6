"""Sound documents to make mutants of: a season with every table, its parameter files, a fit."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from phenocast.io import InputFile, OutputFolder, to_json, write_film, write_manifest
from phenocast.parameters import ParameterSet, cultivars, films, parameter_toml

SEASON = """
cultivar_file = "own.toml"
season_end = 2027-05-31
first_pick_g_per_plant = 3.0

[site]
name = "Home Field"
latitude = 29.3
longitude = -15.6
elevation_m = 35
time_zone = "Atlantic/Canary"

[weather]
history = "past.parquet"
outlook = "outlook.csv"
[weather.observed]
file = "station.csv"
columns = { air_c = "T1" }
units = { air_c = "degF" }
time_zone = "UTC"
stamp = "end"
time_format = "%d/%m/%Y %H:%M"
wind_height_m = 3
impossible = "blank"

[nursery]
latitude = 43.0
longitude = -8.0
elevation_m = 400.0
time_zone = "Europe/Madrid"
from = 2026-08-20
weather = { file = "nursery.csv" }
lighting = [{ from = 2026-08-21, to = 2026-09-01, hours = [18, 22] }]
blocks = ["East"]

[bed]
top_width_m = 0.7
height_m = 0.25
row_spacing_m = 1.5
soil = "sandy loam"
soil_water_m3_m3 = 0.2
plant_row_offset_m = 0.15

[[block]]
name = "East"
cultivar = "Marl"
film = "black"
planting_date = 2026-09-28
plants_per_ha = 50_000
area_ha = 1.2
transplant = "bare-root"
season_end = 2027-04-30
film_laid = 2026-09-20
sprinkling = { days = 10, hours = [10, 16], water_ph = 7.2, rate_mm_h = 3.0 }
row_cover = [{ from = 2026-12-15, to = 2027-02-15, hours = [18, 8] }]
lighting = [{ from = 2026-11-01, to = 2026-12-31, hours = ["22:00", "02:00"] }]
cover = [{ date = 2026-11-01, cover = 0.2 }, { date = 2026-12-01, cover = 0.4 }]

[[block]]
name = "West"
cultivar = "Slate"
film = "mine"
planting_date = 2026-10-05
plants_per_ha = 45_000
area_ha = 0.8
transplant = "plug"
stripe_width_m = 0.25

[film.mine]
solar_reflectance = 0.45
solar_transmittance = 0.02
longwave_emittance = 0.75
longwave_transmittance = 0.05
stripe_width_m = 0.2
shoulder = "black"
[film.fitted]
file = "film.toml"

[labour]
currency = "EUR"
wage_per_h = 9.5
hours_per_week = 40
most_hours_per_week = 48
overtime = { day = [[8, 1.5], [12, 2]], week = [[40, 1.5]], longest_week_h = 60 }
crew_most = 40
crew_so_far = [{ from = 2027-01-04, people = 12 }, { from = 2027-02-01, people = 15 }]
notice_weeks = 3
temporary_most = 5
temporary_wage_per_h = 14
work_hours = [6, "13:30"]

[prices]
currency = "EUR"
months = { dec = 4, jan = 3.2 }

[costs]
currency = "EUR"
film_per_ha = { black = 900 }
transplant_each = { bare-root = 0.14 }
planting_per_ha = 2000
"""

NUMBER = {
    "value": 3.5, "unit": "degC", "lower": 0.5, "upper": 5.0, "sd": 0.2, "basis": "fitted",
    "conditions": "own records", "source": "own", "where": "fit", "read": True,
}  # fmt: skip
OWN = {
    "cultivar": {
        "Slate": {"like": "Marl", "development_base": NUMBER},
        "Shale": {"flowering": "short-day", "leaf_base": NUMBER},
    },
    "transplant": {"plug": {"truss_progress": {**NUMBER, "value": 0.6, "unit": "1", "upper": 0.9}}},
}
DRAWN = "heat_sensitivity"


def season_tree() -> dict[str, Any]:
    """Tables of the season."""
    return tomllib.loads(SEASON)


def write_season(folder: Path) -> Path:
    """Write the season and the parameter files that it names."""
    (folder / "own.toml").write_text('[cultivar.Slate]\nlike = "Marl"\n', encoding="utf-8")
    write_film(folder / "film.toml", films()["silver"])
    place = folder / "season.toml"
    place.write_text(SEASON, encoding="utf-8")
    return place


def fit_document() -> dict[str, Any]:
    """What a ranking reads of the document of a fit."""
    return {
        "schema_version": 2,
        "command": "fit",
        "cultivars": [{"cultivar": "Marl"}, {"cultivar": "Gneiss"}],
        "transplants": [
            {"transplant": "bare-root", "name": "truss_progress", "value": 0.4, "sd": 0.1}
        ],
        "seasons": [{"season": "2014", "later_d": {"value": 1.5, "sd": 0.5}}],
        "identifiability": {
            "rankable": True, "why_not": [], "records_that_would_settle_it": ["weights"],
        },
        "records": {"seasons": ["2014"]},
        "warnings": ["few seasons"],
    }  # fmt: skip


def drawn() -> pd.DataFrame:
    """Draws of two cultivars."""
    draws = np.arange(20)
    return pd.concat(
        [
            pd.DataFrame({"cultivar": name, "draw": draws, DRAWN: 0.5 + 0.1 * draws})
            for name in ("Gneiss", "Marl")
        ],
        ignore_index=True,
    )


def write_fit(folder: Path) -> Path:
    """Write a folder as a fit leaves it."""
    records, season = folder / "picks.csv", folder / "2014.toml"
    records.write_text("block,date\n", encoding="utf-8")
    season.write_text(SEASON, encoding="utf-8")
    named = [
        ParameterSet(one.name, one.parameters, {**one.labels, "draws": "draws.parquet"})
        for one in (cultivars()["Gneiss"], cultivars()["Marl"])
    ]
    with OutputFolder(folder / "fit") as out:
        out.write("fit.json", to_json(fit_document()))
        out.write("cultivars.toml", parameter_toml("cultivar", named, []))
        drawn().to_parquet(out.path / "draws.parquet")
        out.write("records_used.parquet", "not read")
        write_manifest(
            out, "fit",
            options={"robust": False, "profile": False, "bootstrap": 0, "seed": 0,
                     "language": "en", "units": "metric"},
            inputs=[InputFile("records", records), InputFile("season", season)],
        )  # fmt: skip
    return folder / "fit"


def film_tree() -> dict[str, Any]:
    """Tables of a film file."""
    return tomllib.loads(parameter_toml("film", [films()["white-striped"]], []))


def manifest_tree(fit: Path) -> dict[str, Any]:
    """Document of a manifest."""
    tree: dict[str, Any] = json.loads((fit / "manifest.json").read_text(encoding="utf-8"))
    return tree
