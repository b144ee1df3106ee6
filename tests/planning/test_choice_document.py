"""The document of a small comparison: its options are plain data as they are made."""

from datetime import date, timedelta

import pytest

from phenocast.cli.running import load
from phenocast.forecast.options import run_options
from phenocast.forecast.packout import packout_of
from phenocast.io import plain_data, read_prices
from phenocast.parameters.library import shipped
from phenocast.planning.comparison.digest import digest_of
from phenocast.planning.comparison.document import compare_document

FIRST = date(2026, 9, 20)
DEMO = shipped("demo_weather", "low_quay.toml")


@pytest.fixture(scope="module")
def compared():
    """Season of the demo and two ways to plant it, late enough that the last weeks bear nothing."""
    loaded = load(DEMO)
    seasons = run_options(
        loaded.told, loaded.weather, loaded.season.blocks[0],
        plantings=[FIRST, FIRST + timedelta(days=30)], films=["black"], cultivars=["Marl"],
        transplants=["bare-root"], issue_date=FIRST - timedelta(days=1), draws=2,
    )  # fmt: skip
    return loaded, seasons


@pytest.mark.parametrize("priced", [True, False])
def test_every_option_is_plain_data_already(compared, priced: bool) -> None:
    loaded, seasons = compared
    curve = read_prices(loaded.season, DEMO.parent, seasons.weeks) if priced else None
    packout = packout_of(loaded.season.labour, draws=2, seed=0)
    digest = digest_of(seasons, packout, seed=0, curve=curve, costs=loaded.season.costs)
    document = compare_document(
        loaded.told, digest, weather=loaded.weather, issue_date=FIRST - timedelta(days=1)
    )
    options = document["options"]
    # As a common list they are gone through number by number.
    assert repr(plain_data(list(options))) == repr(list(options))
    assert plain_data(document)["options"] is options
    assert [one["planting_date"] for one in options] == ["2026-09-20", "2026-10-20"]
    assert all(("tilted" in one) == priced and one["weekly"] for one in options)
