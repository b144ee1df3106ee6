"""Seasons of data frames, and the list of names that the package offers."""

import importlib
from datetime import date

import matplotlib as mpl
import pandas as pd
import pytest

import phenocast
from phenocast.errors import InputError
from phenocast.parameters import shipped

mpl.use("Agg")
FILE = shipped("demo_weather", "tamarind_coast.parquet")
TABLES = {
    "site": {
        "name": "Home Field", "latitude": 29.3, "longitude": -15.6, "elevation_m": 35.0,
        "time_zone": "Atlantic/Canary",
    },
    "bed": {"top_width_m": 0.7, "height_m": 0.25, "row_spacing_m": 1.5, "soil": "sandy loam"},
}  # fmt: skip
BLOCKS = pd.DataFrame(
    {
        "name": ["East", "West"],
        "cultivar": "Marl",
        "film": ["black", "silver"],
        "planting_date": pd.Timestamp("2026-09-28"),
        "plants_per_ha": 50_000,
        "area_ha": [1.0, 0.8],
        "transplant": "bare-root",
        "season_end": [date(2027, 1, 20), None],
    }
)


def past_years() -> pd.DataFrame:
    past = pd.read_parquet(FILE)
    return past[past["time"] >= "2022-07-01"]


def test_frames_give_the_weather_that_their_file_gives():
    from_frame = phenocast.season_from_frames(TABLES, BLOCKS, {"history": pd.read_parquet(FILE)})
    site = from_frame.season.site
    from_file = phenocast.weather.to_hourly(phenocast.io.read_weather(FILE, site=site), site)
    assert from_frame.weather.history.air_c.tolist() == from_file.air_c.tolist()
    assert from_frame.weather.history.wind_m_s.tolist() == from_file.wind_m_s.tolist()


def test_an_empty_cell_of_a_block_is_a_key_left_out():
    east, west = phenocast.season_from_frames(
        TABLES, BLOCKS, {"history": past_years()}
    ).season.blocks
    assert (east.season_end, west.season_end) == (date(2027, 1, 20), None)


def test_a_frame_is_refused_with_its_name_and_row():
    bad = past_years().assign(
        air_c=lambda frame: frame["air_c"].where(frame.index != frame.index[4], 99.0)
    )
    with pytest.raises(InputError, match=r"history, row 5, column 'air_c'"):
        phenocast.season_from_frames(TABLES, BLOCKS, {"history": bad})


def test_a_forecast_of_frames_comes_as_a_frame_and_as_a_drawing():
    loaded = phenocast.season_from_frames(TABLES, BLOCKS, {"history": past_years()})
    result = phenocast.run_forecast(
        loaded.told, loaded.weather, issue_date=date(2026, 9, 27), draws=2, seed=1
    )
    weeks = result.to_frame()
    assert set(weeks["block"]) == {"East", "West"}
    assert (weeks["g_per_plant_p10"] <= weeks["g_per_plant_p90"]).all()
    stated = {block["block"]: block["weekly"] for block in result.to_dict()["blocks"]}
    assert len(weeks) == sum(map(len, stated.values()))
    axes = result.plot()
    assert [text.get_text() for text in axes.get_legend().get_texts()] == ["East", "West"]
    assert axes.get_ylabel().endswith("[g plant-1]")


def test_every_name_of_the_list_is_offered_by_its_module():
    for name, home in phenocast._PUBLIC.items():
        module = importlib.import_module(f"phenocast.{home}")
        assert getattr(phenocast, name) is getattr(module, name)
        assert name in phenocast.__all__
