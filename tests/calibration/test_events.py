"""The event model finds known truths, averages its forms well, and says what it cannot know."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone
from sklearn.exceptions import NotFittedError
from sklearn.model_selection import cross_val_predict
from sklearn.utils import estimator_checks

from phenocast.calibration.events import EventModel, event_table
from phenocast.errors import InputError

LATITUDE = 45.0


def springs(years: int, seed: int, days: int = 150) -> pd.DataFrame:
    """Invented springs: warming, a year's own offset, weather that lingers, a wave of 11 degC."""
    rng = np.random.default_rng(seed)
    slow = np.zeros((years, days))
    for day in range(1, days):
        slow[:, day] = 0.75 * slow[:, day - 1] + rng.normal(0.0, 2.0, years)
    mean = 1.0 + 0.12 * np.arange(days) + rng.normal(0.0, 1.5, (years, 1)) + slow
    starts = pd.to_datetime([f"{2000 + year}-01-01" for year in range(years)])
    dates = np.concatenate([pd.date_range(start, periods=days) for start in starts])
    weather = pd.DataFrame(
        {"date": dates, "max_c": mean.ravel() + 5.5, "min_c": mean.ravel() - 5.5}
    )
    return event_table(weather, pd.DataFrame({"start": starts}, index=starts.year), days)


def hours(table: pd.DataFrame) -> np.ndarray:
    """Temperatures ``[rows, days, 24]`` of a plain cosine, for truths."""
    high = table.filter(like="max_").to_numpy()
    low = table.filter(like="min_").to_numpy()
    wave = np.cos(2.0 * np.pi * (np.arange(24) + 0.5) / 24.0)
    return (0.5 * (high + low))[..., None] + (0.5 * (high - low))[..., None] * wave


def reached(rate: np.ndarray, start: int, requirement: float, noise: float, seed: int):
    """Day on which a daily rate sums to a requirement from a start on, with noise."""
    sums = np.cumsum(rate[:, start:], axis=1)
    day = np.array([np.interp(requirement, one, np.arange(1, len(one) + 1)) for one in sums])
    assert (sums[:, -1] > requirement).all()
    return start + day + np.random.default_rng(seed).normal(0.0, noise, len(day))


def truth(form: str, table: pd.DataFrame, seed: int, noise: float = 1.5) -> np.ndarray:
    air = hours(table)
    if form == "sigmoid":
        return reached((1 / (1 + np.exp(-0.45 * (air - 13.0)))).mean(-1), 24, 18.0, noise, seed)
    rate = np.maximum(air - 4.0, 0.0).mean(-1)
    if form == "photothermal":
        day = np.arange(1, table.filter(like="max_").shape[1] + 1)
        tilt = np.radians(23.44) * np.sin(2 * np.pi * (day - 81) / 365)
        rate = rate * 2 / np.pi * np.arccos(-np.tan(np.radians(LATITUDE)) * np.tan(tilt))
    return reached(rate, 24, 260.0, noise, seed)


def test_known_numbers_come_back_from_dates_without_noise():
    table = springs(20, 1)
    model = EventModel(["heat sum"]).fit(table, truth("heat sum", table, 1, noise=0.0))
    best = model.points_.sort_values("weight").iloc[-1]
    assert (best["base_c"], best["start_d"]) == (4.0, 24.0)
    assert best["requirement"] == pytest.approx(260.0, abs=2.0)
    assert model.left_out_rmse_["average"] < 0.1
    assert model.identified_ == {("heat sum", "base_c"): True, ("heat sum", "start_d"): True}
    again = springs(6, 9)
    assert model.predict(again) == pytest.approx(truth("heat sum", again, 1, noise=0.0), abs=0.4)


@pytest.mark.parametrize("form", ["heat sum", "sigmoid", "photothermal"])
def test_the_average_is_no_worse_than_the_right_form(form):
    forms = ["heat sum", "sigmoid", "photothermal"]
    average, right = [], []
    for seed in (1, 2):
        table = springs(30, seed)
        model = EventModel(forms, latitude=LATITUDE).fit(table, truth(form, table, seed))
        average.append(model.left_out_rmse_["average"])
        right.append(model.left_out_rmse_[form])
        assert model.left_out_rmse_["average"] < 0.8 * model.left_out_rmse_["calendar mean"]
    assert np.mean(average) < 1.05 * np.mean(right)


def test_errors_of_rows_left_out_are_those_of_fits_without_them():
    table = springs(12, 3)
    day = truth("heat sum", table, 3)
    model = EventModel(["heat sum"])
    by_tool = cross_val_predict(model, table, day, cv=12)
    model.fit(table, day)
    # starts of the count that are tried end before the first event, which may be the one left out
    assert model.left_out_ == pytest.approx(by_tool, abs=0.3)
    assert model.left_out_rmse_["average"] == pytest.approx(
        np.sqrt(np.mean((model.left_out_ - day) ** 2))
    )


def test_what_alike_springs_cannot_tell_is_told_so():
    table = springs(8, 4)
    extremes = [name for name in table.columns if name != "start"]
    table[extremes] = table[extremes].to_numpy().mean(axis=0)
    day = truth("heat sum", table, 4)
    model = EventModel(["heat sum"]).fit(table, day)
    assert not any(model.identified_.values())
    # the requirement without a row is another, so that its date moves away: no better than none
    assert model.left_out_rmse_["average"] == pytest.approx(
        model.left_out_rmse_["calendar mean"], rel=0.05
    )


def test_rows_count_from_their_own_start_and_orders_do_not_matter():
    days = pd.date_range("2023-01-01", "2024-12-31")
    air = np.arange(len(days)) % 20.0
    weather = pd.DataFrame({"date": days, "max_c": air + 5.0, "min_c": air})
    seasons = pd.DataFrame({"start": ["2023-02-01", "2024-03-10"]}, index=["a", "b"])
    made = event_table(weather, seasons, 30)
    assert made.loc["b", "max_0"] == weather.set_index("date").loc["2024-03-10", "max_c"]
    twice = pd.concat([weather.assign(site="x"), weather.assign(site="y", max_c=air + 6.0)])
    sites = event_table(twice, seasons.assign(site=["x", "y"]), 30)
    assert sites.loc["a", "max_0"] == made.loc["a", "max_0"]
    assert sites.loc["b", "max_0"] == made.loc["b", "max_0"] + 1.0
    table = springs(8, 5)
    day = truth("heat sum", table, 5)
    order = np.random.default_rng(5).permutation(8)
    one = EventModel().fit(table, day).predict(table)
    other = EventModel().fit(table.iloc[order], day[order]).predict(table)
    assert one == pytest.approx(other, abs=1e-9)


def test_warmer_springs_are_earlier_and_days_that_do_not_reach_it_have_none():
    table = springs(12, 6)
    model = EventModel().fit(table, truth("heat sum", table, 6))
    extremes = [name for name in table.columns if name != "start"]
    warmer = table.copy()
    warmer[extremes] += 2.0
    assert (model.predict(warmer) < model.predict(table)).all()
    cold = table.copy()
    cold[extremes] = -12.0
    assert np.isnan(model.predict(cold)).all()


def test_bad_input_is_refused_with_its_place():
    table = springs(8, 7)
    day = truth("heat sum", table, 7)
    gap = table.copy()
    gap.iloc[2, 5] = np.nan
    for model, X, y, message in (
        (EventModel(["heat sums"]), table, day, "did you mean 'heat sum'"),
        (EventModel([]), table, day, "no form"),
        (EventModel(["photothermal"]), table, day, "no latitude"),
        (EventModel(), table.head(4), day[:4], "too few seasons"),
        (EventModel(), table, day[:5], "not one event"),
        (EventModel(), table, np.append(day[:7], 151.0), r"not inside the days.*y\[7\]|y\[7\]"),
        (EventModel(), gap, day, "temperatures are missing"),
    ):
        with pytest.raises(InputError, match=message):
            model.fit(X, y)
    days = pd.DataFrame({"date": ["2024-01-01", "2024-01-02"], "max_c": [3.0, 1.0],
                         "min_c": [1.0, 2.0]})  # fmt: skip
    with pytest.raises(InputError, match="2024-01-02"):
        event_table(days, pd.DataFrame({"start": ["2024-01-01"]}), 2)
    with pytest.raises(NotFittedError):
        clone(EventModel()).predict(table)


@pytest.mark.parametrize(
    "check",
    [
        estimator_checks.check_parameters_default_constructible,
        estimator_checks.check_no_attributes_set_in_init,
        estimator_checks.check_get_params_invariance,
        estimator_checks.check_set_params,
    ],
)
def test_generic_checks_of_scikit_learn(check):
    # Its other checks fit plain arrays of invented numbers; this model takes a table of extremes,
    # and refuses with faults where they expect ValueError.
    check("EventModel", EventModel())
