"""The yardstick of the speed ratios does the job it is compared on."""

import pandas as pd
import pytest

from phenocast.parameters.library import shipped
from tests.benchmarks import plain_numba, plain_script


@pytest.fixture(scope="module")
def rows():
    history = shipped("demo_weather") / "tamarind_coast.parquet"
    return plain_script.forecast(history, years=2, draws=3, seed=1, blocks=plain_script.BLOCKS[:3])


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


def test_compiled_loops_say_the_same(rows):
    history = shipped("demo_weather") / "tamarind_coast.parquet"
    again = plain_numba.forecast(history, years=2, draws=3, seed=1, blocks=plain_script.BLOCKS[:3])
    for one, other in zip(rows, again, strict=True):
        assert one["median"] == other["median"]
        assert one["season_g"] == pytest.approx(other["season_g"], rel=1e-4)
        pd.testing.assert_frame_equal(one["weekly_g"], other["weekly_g"], rtol=1e-4, atol=1e-3)
