"""Thirty springs of the Yoshino cherries in Washington, DC: the event fit on a long public series.

Dates of peak bloom (70 % of the blossoms open) at the Tidal Basin: National Park Service, told on
by the climate indicators of the Environmental Protection Agency. Daily extremes: Global Historical
Climatology Network, station USC00186350, National Arboretum. Both in data/, 1990 to 2020 without
2002, whose spring the station lacks; how they got there stands in data/README.md.

No published fit of these numbers was at hand to hold the model to: what is checked is that it is
sound and what it earns on years left out. For sour cherry a base of 4 degC is published (Anderson,
Richardson and Kesner 1986, Acta Hort. 184:71-78, recalled from memory), of hours, not daily means.

The start of the count is fitted. Figures below are as found; a count from a stated 1 February, with
a search for the base on daily means, had left 3.19 d on years left out.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from phenocast.calibration.events import EventModel, event_table

DATA = Path(__file__).parent / "data"
WINDOW_DAYS = 110  # to 20 April in every year, 19 April in leap years
FAR_C = 14.0  # a day's mean this far from the median of the six days around it is another season's
SPIKE_C = 10.0  # or this far, the same way, from both the day before and the day after


def faulty(weather: pd.DataFrame) -> pd.Series:
    """Days whose extremes cannot be theirs: summer days stand in winter, and extremes changed over.

    Settled before any fit. It looks at one winter at a time, and at temperatures only.
    """
    year = weather["date"].dt.year
    mean = (weather["tmax_c"] + weather["tmin_c"]).where(weather["tmin_c"] <= weather["tmax_c"]) / 2
    near = [mean.groupby(year).shift(days) for days in (-3, -2, -1, 1, 2, 3)]
    bad = mean.isna() | ((mean - pd.concat(near, axis=1).median(axis=1)).abs() > FAR_C)
    left = mean.mask(bad)
    before = left - left.groupby(year).ffill().groupby(year).shift(1)
    after = left - left.groupby(year).bfill().groupby(year).shift(-1)
    spike = (before * after > 0) & (before.abs() > SPIKE_C) & (after.abs() > SPIKE_C)
    return bad | spike


def bridged(weather: pd.DataFrame, bad: pd.Series) -> pd.DataFrame:
    """Extremes, days that are out bridged by a straight line inside their winter."""
    year = weather["date"].dt.year

    def line(values: pd.Series) -> pd.Series:
        own = values.mask(bad).groupby(year)
        return own.transform(lambda one: one.interpolate(limit_direction="both"))

    return pd.DataFrame({"date": weather["date"], "max_c": line(weather["tmax_c"]),
                         "min_c": line(weather["tmin_c"])})  # fmt: skip


def springs(weather: pd.DataFrame, bad: pd.Series) -> tuple[pd.DataFrame, pd.Series]:
    """Table of the springs, and days from 1 January to the noon of peak bloom."""
    bloom = pd.read_csv(DATA / "washington_cherry_bloom.csv", parse_dates=["date"])
    start = pd.to_datetime(bloom["year"].astype(str) + "-01-01")
    seasons = pd.DataFrame({"start": start}).set_index(bloom["year"])
    return event_table(bridged(weather, bad), seasons, WINDOW_DAYS), (
        (bloom["date"] - start).dt.days + 0.5
    )


@pytest.fixture(scope="module")
def weather():
    return pd.read_csv(DATA / "washington_cherry_weather.csv", parse_dates=["date"])


@pytest.fixture(scope="module")
def cherries(weather):
    return springs(weather, faulty(weather))


@pytest.fixture(scope="module")
def fitted(cherries):
    return EventModel().fit(*cherries)


def test_every_winter_is_whole_and_a_day_in_ninety_is_not_its_own(weather):
    years = weather["date"].dt.year
    assert sorted(years.unique()) == [y for y in range(1990, 2021) if y != 2002]
    days = weather["date"].groupby(years).agg(["min", "max", "size"])
    assert (days["size"] == np.where(days.index % 4 == 0, 111, 110)).all()
    assert (days["min"].dt.strftime("%m-%d") == "01-01").all()
    assert (days["max"].dt.strftime("%m-%d") == "04-20").all()
    assert weather[["tmax_c", "tmin_c"]].notna().all(axis=None)
    assert (weather["tmin_c"] > weather["tmax_c"]).sum() == 3
    bad = faulty(weather)
    assert (len(weather), bad.sum()) == (3308, 37)
    # what is left swings no more between days than weather does there
    left = bridged(weather, bad)
    swing = (0.5 * (left["max_c"] + left["min_c"])).groupby(years).diff().abs()
    assert swing.max() < 18.0


def test_on_years_left_out_it_beats_the_calendar_and_the_bar(fitted):
    error = fitted.left_out_rmse_
    assert error["average"] < 3.4
    assert error["calendar mean"] == pytest.approx(7.17, abs=0.01)
    assert (error["heat sum"], error["sigmoid"]) == pytest.approx((2.81, 2.67), abs=0.05)
    assert error["average"] == pytest.approx(2.69, abs=0.05)


def test_the_start_and_the_base_make_sense(fitted):
    # the published 4 degC lies just above; a base and a requirement lie on a ridge
    assert fitted.intervals_["heat sum", "base_c"].tolist() == [-1.0, 3.0]
    assert fitted.identified_["heat sum", "base_c"]
    first, last = fitted.intervals_["heat sum", "start_d"]
    assert 21.0 <= first <= last <= 60.0
    assert fitted.identified_["heat sum", "start_d"]
    assert fitted.weights_["sigmoid"] > 0.5


def test_a_cold_spring_blooms_late(fitted, cherries):
    table, day = cherries
    found = pd.Series(fitted.predict(table), table.index)
    assert np.corrcoef(found, day)[0, 1] > 0.93
    assert (found - day.to_numpy()).abs().max() < 8.0


def test_faults_left_in_the_weather_make_it_worse(weather, fitted):
    bad = weather["tmin_c"] > weather["tmax_c"]
    own = EventModel().fit(*springs(weather, bad))
    # nothing in the fit tells a summer day in winter from weather
    assert own.left_out_rmse_["average"] > fitted.left_out_rmse_["average"] + 0.2
