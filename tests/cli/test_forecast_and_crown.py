"""Forecast and crown from a season file to the files and the words that come out."""

import json
from datetime import date

import pandas as pd
import pytest

from phenocast.cli.running import default_issue_date
from phenocast.io import read_season
from phenocast.tables import CROWN_TEMPERATURES
from phenocast.weather import SeasonWeather, constant_weather

FAST = ("--draws", "5")


def test_json_is_one_document_and_the_same_as_the_file(call, season, tmp_path, entries):
    path = season()
    before = entries(tmp_path)
    printed = call("forecast", path, *FAST, "--json")
    assert printed.exit_code == 0
    document = json.loads(printed.stdout)
    assert document["schema_version"] == 2
    assert entries(tmp_path) == before
    out = tmp_path / "out"
    written = call("forecast", path, *FAST, "--json", "--out", out)
    assert written.exit_code == 0
    assert written.stdout == printed.stdout
    assert (out / "forecast.json").read_bytes() == printed.stdout_bytes
    assert entries(out) == ["forecast.json", "forecast.txt", "manifest.json", "report.html"]


def test_the_document_has_the_promised_keys(call, season):
    (block,) = json.loads(call("forecast", season(), *FAST, "--json").stdout)["blocks"]
    assert {
        "block", "cultivar", "film", "planting_date", "first_pick", "crown", "stages", "weekly",
        "warnings",
    } <= set(block)  # fmt: skip
    assert {
        "median", "p10", "p90", "mean", "week_probabilities", "not_reached_probability",
    } <= set(block["first_pick"])  # fmt: skip
    assert {"to_first_bloom", "season", "compared", "by_month"} <= set(block["crown"])
    for part in ("to_first_bloom", "season"):
        assert {
            "days", "hours_above_30c", "degree_hours_above_30c", "max_c",
        } <= set(block["crown"][part])  # fmt: skip
    assert set(block["stages"]) == {"flower_initiation", "anthesis"}
    chances = [week["probability"] for week in block["first_pick"]["week_probabilities"]]
    total = sum(chances) + block["first_pick"]["not_reached_probability"]
    assert total == pytest.approx(1.0, abs=2e-4 * len(chances))
    for week in block["weekly"]:
        for kind in ("g_per_plant", "trays"):
            quantiles = week[kind]
            assert quantiles["p10"] <= quantiles["p50"] <= quantiles["p90"]


def test_text_tells_the_week_the_weather_and_how_to_list_what_is_assumed(call, season):
    done = call("forecast", season(), *FAST)
    assert done.exit_code == 0
    assert done.stderr == ""
    assert "As of 31 October 2026" in done.stdout
    told = " ".join(done.stdout.split())
    assert "observed to 31 October 2026, then 23 past years" in told
    assert "not validated with field data" in done.stdout
    assert "--assumed" in done.stdout
    assert "solar_reflectance" not in done.stdout
    assert "solar_reflectance" in call("forecast", season(), *FAST, "--assumed").stdout


def test_an_earlier_issue_date_knows_less(call, season):
    document = json.loads(
        call("forecast", season(), *FAST, "--as-of", "2026-10-10", "--json").stdout
    )
    assert document["issue_date"] == "2026-10-10"
    assert document["weather"]["observed_until"] == "2026-10-10"


def test_an_issue_date_after_the_observations_is_told(call, season):
    done = call("forecast", season(), *FAST, "--as-of", "2026-12-24", "--json")
    assert done.exit_code == 0
    assert "later than the observed weather" in " ".join(done.stderr.split())
    assert json.loads(done.stdout)["weather"]["observed_until"] == "2026-10-31"


def test_the_seed_decides_and_nothing_else(call, season):
    path = season()
    first = call("forecast", path, *FAST, "--seed", "1", "--json").stdout
    assert call("forecast", path, *FAST, "--seed", "1", "--json").stdout == first
    assert call("forecast", path, *FAST, "--seed", "2", "--json").stdout != first


@pytest.mark.parametrize(
    ("zone", "first_hour", "hours", "expected"),
    [
        ("Atlantic/Canary", "2026-09-01T00", 24 * 3, date(2026, 9, 3)),
        ("Atlantic/Canary", "2026-09-01T00", 24 * 3 - 1, date(2026, 9, 2)),
        ("Atlantic/Canary", "2026-09-01T12", 24, date(2026, 9, 27)),  # no complete day
        ("Australia/Sydney", "2026-09-01T00", 24 * 3, date(2026, 9, 3)),  # ends 10 h local
        ("America/Los_Angeles", "2026-09-01T08", 24 * 2, date(2026, 9, 2)),
    ],
)
def test_the_default_issue_date_is_the_last_complete_local_day(
    season, zone, first_hour, hours, expected
):
    longitude = {"Australia/Sydney": "151.2", "America/Los_Angeles": "-122.4"}.get(zone, "-15.6")
    text = season().read_text(encoding="utf-8")
    path = season()
    path.write_text(
        text.replace('"Atlantic/Canary"', f'"{zone}"').replace("longitude = -15.6",
                                                               f"longitude = {longitude}"),
        encoding="utf-8",
    )  # fmt: skip
    stated = read_season(path)
    observed = constant_weather(stated.site, hours, 20.0).restamped(first_hour)
    assert default_issue_date(stated, SeasonWeather(observed=observed)) == expected


def test_without_observations_the_issue_date_is_the_day_before_planting(season):
    assert default_issue_date(read_season(season()), SeasonWeather()) == date(2026, 9, 27)


@pytest.mark.parametrize("suffix", ["csv", "parquet"])
def test_crown_writes_the_columns_of_its_contract(call, season, tmp_path, suffix):
    out = tmp_path / f"crown.{suffix}"
    done = call("crown", season(), "--out", out)
    assert done.exit_code == 0
    assert done.stdout == ""
    assert "observed to 2026-10-31, then 2024/25" in " ".join(done.stderr.split())
    table = pd.read_parquet(out) if suffix == "parquet" else pd.read_csv(out)
    assert list(table.columns) == [
        "block", "time_utc", "air_c", "film_surface_c", "air_above_film_c", "crown_c",
        "soil_5cm_c", "soil_10cm_c", "canopy_cover", "filled",
    ]  # fmt: skip
    table["time_utc"] = pd.to_datetime(table["time_utc"]).dt.tz_localize(None)
    assert CROWN_TEMPERATURES.check(table) == []
    assert str(table["time_utc"].iloc[0]) == "2026-09-28 00:00:00"
    steps = table["time_utc"].diff().dropna().unique()
    assert len(steps) == 1


def test_crown_takes_no_other_kind_of_table(call, season, tmp_path, entries):
    path = season()
    before = entries(tmp_path)
    done = call("crown", path, "--out", tmp_path / "crown.xlsx")
    assert done.exit_code == 3
    assert ".csv, .parquet" in " ".join(done.stderr.split())
    assert entries(tmp_path) == before
