"""The crown document against the hourly table that it is made of."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from phenocast.cli import running
from phenocast.forecast.crown_summary import COMPARED_DAYS, crown_document
from phenocast.harvest import iso_week
from phenocast.parameters.library import shipped

ISSUED = date(2026, 10, 31)


@pytest.fixture(scope="module")
def loaded():
    return running.load(shipped("demo_weather", "low_quay.toml"))


@pytest.fixture(scope="module")
def table(loaded):
    return running.crown_rows(loaded, ISSUED)


@pytest.fixture(scope="module")
def document(loaded, table):
    return crown_document(loaded.told, table, issue_date=ISSUED, observed_until=ISSUED)


def test_heat_of_weeks_and_season_is_that_of_the_hours(document, table) -> None:
    for block in document["blocks"]:
        days = block["crown"]["season"]["days"]
        crown = table.loc[table["block"] == block["block"], "crown_c"].iloc[: 24 * days]
        heat = float((crown - 30.0).clip(lower=0.0).sum())
        assert block["crown"]["season"]["degree_hours_above_30c"] == pytest.approx(heat, abs=0.51)
        weeks = sum(row["degree_hours_above_30c"] for row in block["weekly"])
        assert weeks == pytest.approx(heat, abs=0.5 * len(block["weekly"]))
        highest = block["crown"]["season"]["max_c"]
        assert highest == pytest.approx(crown.max(), abs=0.05)
        assert max(row["crown_max_c"] for row in block["weekly"]) == highest
        bloom = crown.iloc[: 24 * block["crown"]["to_first_bloom"]["days"]]
        heat = float((bloom - 30.0).clip(lower=0.0).sum())
        told = block["crown"]["to_first_bloom"]["degree_hours_above_30c"]
        assert told == pytest.approx(heat, abs=0.51)


def test_no_bed_is_named_hottest_for_a_day_after_its_crop(document) -> None:
    # The weather of the demo goes on into July and August, which are its hottest months.
    days = document["heat_compared"]["days"]
    assert days == min(b["crown"]["to_first_bloom"]["days"] for b in document["blocks"])
    for block in document["blocks"]:
        planted = date.fromisoformat(block["planting_date"])
        told = block["crown"]["compared"]
        assert told["days"] == days
        assert 0 <= (date.fromisoformat(told["max_day"]) - planted).days < days
        if block["season_end"]["rule"] == "fruit":
            assert block["last_day"] < "2027-07-10" < block["season_end"]["simulated_to"]
        assert max(row["week"] for row in block["weekly"]) <= iso_week(
            date.fromisoformat(block["last_day"])
        )


def test_the_mean_day_is_of_the_same_days_for_every_bed(document, table) -> None:
    first, last = (pd.Timestamp(document["compared"][end]) for end in ("from", "to"))
    assert (last - first).days == COMPARED_DAYS - 1
    assert first.date() == max(
        date.fromisoformat(block["planting_date"]) for block in document["blocks"]
    )
    # Standard time of the site is UTC, so the table's own clock serves here.
    hours = table[(table["time_utc"] >= first) & (table["time_utc"] < last + pd.Timedelta(days=1))]
    block = document["blocks"][0]
    own = hours[hours["block"] == block["block"]]
    assert len(own) == 24 * COMPARED_DAYS
    means = own.groupby(own["time_utc"].dt.hour)["crown_c"].mean()
    told = [row["crown_c"] for row in block["mean_day"]]
    assert [row["hour"] for row in block["mean_day"]] == list(range(24))
    assert np.abs(np.array(told) - means.to_numpy()).max() < 0.051
    air = [[row["air_c"] for row in one["mean_day"]] for one in document["blocks"]]
    assert all(one == air[0] for one in air)


def test_beds_that_share_no_day_are_not_compared(loaded, table) -> None:
    names = [block.name for block in loaded.season.blocks[:2]]
    stamps = table["time_utc"]
    early = (table["block"] == names[0]) & (stamps < "2026-10-20")
    late = (table["block"] == names[1]) & (stamps >= "2026-11-20")
    part = table[early | late]
    part.attrs["course"] = "observed"
    told = crown_document(loaded.told, part, issue_date=ISSUED, observed_until=None)
    assert told["compared"] is None
    assert [block["mean_day"] for block in told["blocks"]] == [[], []]
    assert told["weather"]["observed_until"] is None
