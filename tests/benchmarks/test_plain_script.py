"""The yardstick of the speed ratios does the job it is compared on."""

import importlib.util
from pathlib import Path

import pytest

from phenocast.parameters.library import shipped


@pytest.fixture(scope="module")
def rows():
    path = Path(__file__).with_name("plain_script.py")
    spec = importlib.util.spec_from_file_location("plain_script", path)
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    history = shipped("demo_weather") / "tamarind_coast.parquet"
    return script.forecast(history, years=2, draws=3, seed=1, blocks=script.BLOCKS[:3])


def test_it_gives_a_date_a_week_and_fruit_for_each_block(rows):
    assert [row["block"] for row in rows] == ["Quay East", "Quay West", "Saltpan"]
    for row in rows:
        assert row["weeks"].sum() + row["not_reached"] == pytest.approx(1.0)
        assert row["median"].year in (2026, 2027)
        assert row["season_g"] > 50.0
        assert (row["weekly_g"][0.1] <= row["weekly_g"][0.9]).all()


def test_it_knows_that_black_film_is_hotter(rows):
    black, striped = rows[0], rows[1]
    assert black["heat_30_first_month"] > 2.0 * striped["heat_30_first_month"]
