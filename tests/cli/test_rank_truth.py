"""From the demo's records through the fit to the ranking: the losses that made the records.

The records are invented, made by the model with noise (calibration/records/), so this shows that
the chain of fit and rank finds what was put in. It is no check of the model.
"""

import importlib.util
import json
from dataclasses import replace

import numpy as np
import pytest

from phenocast.calibration.ranking.heat_response import (
    drawn_plants,
    standard_heat,
    warmed,
)
from phenocast.cli.past_blocks import scenario_block
from phenocast.parameters.library import shipped
from phenocast.simulation import DrawnBlock, run_blocks, site_weather
from phenocast.simulation.setup import physics_records
from phenocast.weather.hourly import local_midnight_utc

RECORDS = shipped("calibration", "records")


@pytest.fixture(scope="module")
def maker():
    spec = importlib.util.spec_from_file_location(
        "make_low_quay_records", RECORDS / "make_low_quay_records.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def true_loss(maker):
    """Loss of each cultivar with the numbers that made the records, bed at its central values."""
    loaded, setup, years = scenario_block(RECORDS / f"low_quay_{maker.YEARS[0]}.toml", None)
    moved = {
        name: setup.transplant[name].value + shift * setup.transplant[name].sd
        for (owner, name), shift in maker.TRUE.items()
        if owner == setup.transplant.name
    }
    setup = replace(setup, transplant=setup.transplant.with_values(moved))
    start = local_midnight_utc(setup.block.planting_date, setup.site.time_zone)
    found = {}
    for name in maker.CULTIVARS:
        own = replace(setup, cultivar=loaded.season.cultivar(name))
        numbers = {
            key: np.array([own.cultivar[key].value + shift * own.cultivar[key].sd])
            for (owner, key), shift in maker.TRUE.items()
            if owner == name
        }
        plants, tables = drawn_plants(own, numbers, 1, as_fitted=True)
        grams = np.zeros(2)
        for year in years:
            for regime, air in enumerate(
                (year.weather, warmed(year.weather, start, standard_heat()))
            ):
                block = DrawnBlock(own, plants, tables, physics_records(own), 1)
                ((_, seasons),) = run_blocks(
                    [block], [site_weather(air, own.site)], early_days=[0], detailed=False
                )
                grams[regime] += seasons.weekly_g.sum()
        found[name] = 1.0 - grams[1] / grams[0]
    return found


@pytest.mark.slow
def test_the_ranking_finds_the_losses_that_made_the_records(call, maker, tmp_path):
    seasons = [RECORDS / f"low_quay_{year}.toml" for year in maker.YEARS]
    done = call("fit", RECORDS / "low_quay_records.csv", *seasons, "--out", tmp_path / "fit")
    assert done.exit_code == 0, done.stderr
    done = call("rank", tmp_path / "fit", "--json")
    assert done.exit_code == 0, done.stderr
    document = json.loads(done.stdout)
    truth = true_loss(maker)
    assert [one["cultivar"] for one in document["cultivars"]] == sorted(truth, key=truth.get)
    for one in document["cultivars"]:
        low, high = one["interval_95"]
        assert low <= truth[one["cultivar"]] <= high
        # the intervals say something: they are far narrower than the loss itself
        assert high - low < 0.8 * truth[one["cultivar"]]
    assert not document["cultivars"][-1]["may_be_best"]
    # no film did anything but change the crown's temperature
    assert not any(one["earned"] for one in document["films"]["splits"])
