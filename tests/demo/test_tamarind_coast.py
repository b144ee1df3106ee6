"""The invented weather is what its script and its statistics say it is.

Nothing here checks the model: the weather is invented.
"""

import importlib.util
import re
import tomllib
from calendar import month_abbr

import numpy as np
import pandas as pd
import pvlib
import pytest

from phenocast.parameters.library import shipped

FOLDER = shipped("demo_weather")


@pytest.fixture(scope="module")
def maker():
    spec = importlib.util.spec_from_file_location("maker", FOLDER / "make_tamarind_coast.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def stats():
    return tomllib.loads((FOLDER / "tamarind_coast.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def history():
    table = pd.read_parquet(FOLDER / "tamarind_coast.parquet")
    table["time"] = table["time"].dt.tz_localize(None)
    return table


@pytest.fixture(scope="module")
def days(history):
    groups = history.set_index("time").resample("D")
    return pd.DataFrame(
        {
            "max": groups["air_c"].max().astype(float),
            "min": groups["air_c"].min().astype(float),
            "wind": groups["wind_m_s"].mean().astype(float),
            "rain": groups["rain_mm"].sum().astype(float),
            "solar": groups["solar_w_m2"].mean().astype(float),
        }
    )


# ------------------------------------------------------------------ made again
@pytest.mark.parametrize("month", ["2002-07", "2012-02", "2019-10", "2026-06"])
def test_a_month_made_again_equals_the_stored_one(maker, stats, history, month):
    period = pd.Period(month, "M")
    again = maker.hours_of_month(stats, stats["seed"]["history"], maker.history_days(stats), period)
    stored = history[history["time"].dt.to_period("M") == period]
    assert len(stored) == period.days_in_month * 24
    assert (again["time"].to_numpy() == stored["time"].to_numpy()).all()
    for name in maker.DECIMALS:
        made = again[name].to_numpy(dtype=np.float32)
        assert (made == stored[name].to_numpy()).all(), name


def test_the_season_files_made_again_equal_the_stored_ones(maker, stats, tmp_path):
    season = maker.season_so_far(stats)
    maker.write_csv(season, tmp_path / "low_quay_observed.csv")
    maker.write_csv(maker.outlook(stats), tmp_path / "low_quay_outlook.csv")
    maker.write_csv(maker.grower_logger(stats, season), tmp_path / "low_quay_logger.csv")
    for path in tmp_path.iterdir():
        assert path.read_bytes() == (FOLDER / path.name).read_bytes(), path.name


def test_another_seed_gives_other_weather(maker, stats, history):
    other = {**stats, "seed": {**stats["seed"], "history": 1}}
    made = maker.hours_of_month(other, 1, maker.history_days(other), pd.Period("2012-02", "M"))
    stored = history[history["time"].dt.to_period("M") == pd.Period("2012-02", "M")]
    assert np.abs(made["air_c"].to_numpy() - stored["air_c"].to_numpy()).mean() > 0.5


# ------------------------------------------------------------------ consistent
def test_the_history_is_whole_and_small(history):
    assert (FOLDER / "tamarind_coast.parquet").stat().st_size < 2e6
    assert sum(path.stat().st_size for path in FOLDER.iterdir() if path.is_file()) < 4e6
    assert history["time"].iloc[0] == pd.Timestamp("2002-07-01")
    assert history["time"].iloc[-1] == pd.Timestamp("2026-06-30 23:00")
    assert (history["time"].diff().dropna() == pd.Timedelta(hours=1)).all()
    assert not history.isna().any().any()


def test_every_hour_is_physically_possible(history):
    assert (history["dew_point_c"] <= history["air_c"]).all()
    assert (history["rain_mm"] >= 0).all()
    assert (history["wind_m_s"] > 0).all()
    assert history["air_c"].between(-4, 40).all()


def test_solar_is_zero_at_night_and_at_most_clear_sky(stats, history):
    """Against pvlib's clear sky minute by minute, for one year."""
    site = stats["site"]
    year = history[history["time"].dt.year == 2015]
    minutes = pd.date_range("2015-01-01", "2016-01-01", freq="2min", inclusive="left", tz="UTC")
    place = pvlib.location.Location(site["latitude"], site["longitude"], "UTC", site["elevation_m"])
    sun = place.get_solarposition(minutes)
    turbidity = np.array(stats["sky"]["linke_turbidity"])[minutes.month.to_numpy() - 1]
    airmass = place.get_airmass(solar_position=sun)["airmass_absolute"]
    clear = pvlib.clearsky.ineichen(
        sun["apparent_zenith"], airmass.fillna(100.0), turbidity, site["elevation_m"]
    )["ghi"]
    mean = clear.to_numpy().reshape(-1, 30).mean(axis=1)
    up = (sun["apparent_zenith"].to_numpy().reshape(-1, 30) < 90.0).any(axis=1)
    solar = year["solar_w_m2"].to_numpy()
    assert (solar[~up] == 0).all()
    # 2 W m-2: the hour's mean of four instants against thirty
    assert (solar <= mean + 2.0).all()
    assert solar[up].mean() > 250


def test_the_day_has_its_minimum_near_sunrise_and_its_maximum_after_noon(history):
    april = history[history["time"].dt.month == 4].set_index("time")["air_c"]
    by_day = april.groupby(april.index.date)
    coldest = by_day.idxmin().dt.hour
    warmest = by_day.idxmax().dt.hour
    # sunrise near 7, solar noon near 13 UTC at 15.6 W; a cold front puts some minima at midnight
    assert coldest.median() in (6, 7)
    assert warmest.median() in (15, 16)


# ------------------------------------------------------------------ as stated
def by_month(series, how):
    return getattr(series.groupby(series.index.month), how)().to_numpy()


@pytest.mark.parametrize("kind", ["max", "min"])
def test_monthly_means_are_as_stated(stats, days, kind):
    stated = np.array(stats["temperature"][f"{kind}_c"])
    year_sd = np.array(stats["temperature"][f"{kind}_year_sd_c"])
    # three standard errors of the mean of 24 years; 0.3 for the spline's own course in the month
    bound = 3.0 * year_sd / np.sqrt(24) + 0.3
    assert (np.abs(by_month(days[kind], "mean") - stated) < bound).all()


@pytest.mark.parametrize("kind", ["max", "min"])
def test_spread_between_years_is_as_stated(days, stats, kind):
    monthly = days[kind].resample("MS").mean()
    measured = by_month(monthly, "std")
    stated = np.array(stats["temperature"][f"{kind}_year_sd_c"])
    # a single month: chi-square with 23 degrees of freedom, 0.1 % each side, gives 0.56 to 1.50
    assert (measured / stated > 0.56).all()
    assert (measured / stated < 1.50).all()
    assert np.sqrt((measured**2).mean() / (stated**2).mean()) == pytest.approx(1.0, abs=0.15)


@pytest.mark.parametrize("kind", ["max", "min"])
def test_day_to_day_spread_and_memory_are_as_stated(days, stats, kind):
    anomaly = days[kind] - days[kind].groupby(days.index.day_of_year).transform("mean")
    inside = anomaly - anomaly.groupby(anomaly.index.to_period("M")).transform("mean")
    t = stats["temperature"]
    total = np.sqrt(
        np.mean(np.array(t[f"{kind}_day_sd_c"]) ** 2)
        + np.mean(np.array(t[f"{kind}_year_sd_c"]) ** 2)
    )
    assert inside.std() < anomaly.std() < total
    assert anomaly.std() == pytest.approx(
        np.sqrt(np.mean(np.array(t[f"{kind}_day_sd_c"]) ** 2)), rel=0.15
    )
    # the slow anomaly adds a little memory to the stated day-to-day one
    assert 0.60 < anomaly.autocorr(1) < 0.75


def test_cloud_wind_and_rain_are_as_stated(maker, stats, history, days):
    reference = pd.date_range("2015-01-01", "2016-01-01", freq="h", inclusive="left")
    clear = pd.Series(maker.clear_sky_w_m2(stats, reference), index=reference).resample("D").mean()
    clear_by_month = by_month(clear, "mean")
    index = by_month(days["solar"], "mean") / clear_by_month
    # the cut at the clear sky takes a little off clear days
    assert (np.abs(index - np.array(stats["sky"]["clear_index"])) < 0.05).all()
    wind = by_month(days["wind"], "mean") / np.array(stats["wind"]["mean_m_s"])
    assert (np.abs(wind - 1.0) < 0.08).all()
    wet = days["rain"] > 0.0
    share = wet.groupby(wet.index.month).mean().to_numpy()
    stated = np.array(stats["rain"]["wet_day_share"])
    # 720 days a month; rain under 0.05 mm an hour rounds to nothing, which costs up to a tenth
    bound = 3.5 * np.sqrt(stated * (1 - stated) / 720)
    assert (share <= stated + bound).all()
    assert (share >= 0.9 * stated - bound).all()


def test_the_climate_is_the_one_the_demo_needs(days):
    september = days[days.index.month == 9]["max"]
    january = days[days.index.month == 1]["min"]
    assert 30.0 < september.mean() < 33.0
    assert 9.0 < january.mean() < 12.0
    cold_nights_a_year = (january < 4.0).sum() / 24.0
    assert 0.2 < cold_nights_a_year < 3.0


def test_the_table_of_the_readme_is_the_table_of_the_script(stats):
    text = (FOLDER / "README.md").read_text(encoding="utf-8")
    table = re.search(r"<!-- statistics -->\n(.*?)<!-- end -->", text, re.DOTALL).group(1)
    rows = [[c.strip() for c in line.strip("|").split("|")] for line in table.splitlines()[2:]]
    t = stats["temperature"]
    columns = [
        t["max_c"], t["min_c"], t["max_day_sd_c"], t["min_day_sd_c"], t["max_year_sd_c"],
        t["min_year_sd_c"], stats["sky"]["clear_index"], stats["rain"]["wet_day_share"],
        stats["rain"]["wet_day_mm"], stats["wind"]["mean_m_s"], stats["dew_point"]["depression_c"],
    ]  # fmt: skip
    assert [row[0] for row in rows] == list(month_abbr)[1:]
    for i, row in enumerate(rows):
        assert [float(cell) for cell in row[1:]] == [column[i] for column in columns]


# ------------------------------------------------------------------ season so far, outlook, logger
def test_the_season_so_far_starts_hot_and_stops_before_the_outlook(stats):
    observed = pd.read_csv(FOLDER / "low_quay_observed.csv", parse_dates=["time"])
    outlook = pd.read_csv(FOLDER / "low_quay_outlook.csv", parse_dates=["time"])
    early = observed[observed["time"].dt.strftime("%m-%d").between("09-21", "10-11")]
    assert 30.0 < early.set_index("time")["air_c"].resample("D").max().mean() < 33.0
    assert outlook["time"].min() - observed["time"].max() == pd.Timedelta(hours=1)
    assert outlook.groupby("member").size().tolist() == [240] * stats["span"]["outlook_members"]
    outlook["day"] = outlook["time"].dt.date
    daily = outlook.pivot_table(index="day", columns="member", values="air_c", aggfunc="max")
    spread = daily.std(axis=1)
    assert 0.0 < spread.iloc[0] < spread.iloc[-3:].mean()  # members drift apart


def test_the_logger_file_has_the_faults_its_readme_names():
    table = pd.read_csv(FOLDER / "low_quay_logger.csv")
    assert list(table) == [
        "Logged at", "Air temp [degF]", "Humidity [%]", "Wind [mph]", "Solar [W m-2]", "Rain [in]",
    ]  # fmt: skip
    assert len(table) == 28 * 24 - 4
    assert (table["Logged at"] == "2026-10-25 01:00").sum() == 2  # end of summer time
    assert table["Air temp [degF]"].isna().sum() == 14
    assert table["Solar [W m-2]"].isna().sum() == 15
    assert (table["Air temp [degF]"] > 110).sum() == 1
