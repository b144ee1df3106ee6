"""Hindcasts: nothing that came later is used, and scores that are known by hand."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from phenocast.cli import running
from phenocast.errors import InputError, NoAnswerError
from phenocast.forecast.hindcast import Hindcast, PastBlock, hindcast_block, hindcast_blocks
from phenocast.forecast.hindcast_document import hindcast_document
from phenocast.forecast.hindcast_scores import first_pick_score, weekly_score
from phenocast.forecast.picked import PickedBlock, picked_block
from phenocast.parameters.library import shipped
from phenocast.season import FrostProtection
from phenocast.simulation import block_setup, simulate_block
from phenocast.weather import SeasonWeather


@pytest.fixture(scope="module")
def low_quay():
    return running.load(shipped("demo_weather", "low_quay.toml"))


def past_block(loaded, year, name="Quay East", every=4):
    """A season of the invented climate, its picks made by the model at its central values."""
    block = loaded.season.block(name)
    planting = block.planting_date.replace(year=year)
    block = replace(block, planting_date=planting, season_end=planting + timedelta(days=200))
    season = replace(loaded.season, blocks=(block,))
    history = loaded.weather.history
    grown = simulate_block(block_setup(season, block), history).plant
    days = np.arange(30, 201, every)
    upto = np.concatenate([[0.0], np.cumsum(grown.marketable_g)])
    taken = np.diff(upto[days], prepend=0.0)
    table = pd.DataFrame(
        {"date": [pd.Timestamp(planting + timedelta(days=int(d))) for d in days],
         "marketable_g_per_plant": taken}
    )  # fmt: skip
    picked = picked_block(table, planting, block.first_pick_g_per_plant)
    weather = SeasonWeather(observed=history, history=history)
    return PastBlock(f"{year}", season, block, weather, picked)


@pytest.fixture(scope="module")
def past(low_quay):
    return past_block(low_quay, 2015)


@pytest.fixture(scope="module")
def made(past):
    return hindcast_block(past, draws=60, seed=3)


def test_only_years_that_had_ended_stand_for_the_weather_to_come(made):
    labels = [label.split(", ")[-1] for label in made.past_years]
    assert labels
    assert max(int(label[:4]) for label in labels) == 2014
    assert made.issue_date == date(2015, 9, 24)


def test_the_weather_that_came_later_changes_nothing(past, made):
    """Everything after the issue date is made absurd, observed and history alike."""
    w = past.weather.observed
    late = w.time_utc > np.datetime64("2015-09-26T00", "h")
    spoiled = replace(w, air_c=np.where(late, 3.0, w.air_c))
    again = hindcast_block(
        replace(past, weather=SeasonWeather(observed=spoiled, history=spoiled)), draws=60, seed=3
    )
    assert np.array_equal(again.first_pick, made.first_pick)
    assert np.array_equal(again.weekly, made.weekly)


def test_a_block_that_states_no_protection_is_hindcast_without_and_told_beside(past, made):
    frost = made.frost
    assert frost["protection"] == "not stated"
    assert any("frost_protection" in one for one in made.warnings) == (
        frost["share_of_season_lost"]["mean"] >= 0.001
    )
    low, beside = frost["season_g_per_plant"], frost["with_protection"]["season_g_per_plant"]
    assert low["p50"] <= beside["p50"]
    cold = past.weather.history
    cold = replace(cold, air_c=cold.air_c - 3.0)
    weather = SeasonWeather(observed=past.weather.observed, history=cold)
    block = replace(past.block, frost_protection=FrostProtection("none"))
    bare = hindcast_block(replace(past, weather=weather), draws=8, seed=3)
    stated = hindcast_block(replace(past, block=block, weather=weather), draws=8, seed=3)
    share = bare.frost["share_of_season_lost"]
    assert 0.005 < share["mean"] < 0.3
    assert any("frost takes fruit" in one for one in bare.warnings)
    assert not any("frost takes fruit" in one for one in stated.warnings)
    assert (stated.frost["share_of_season_lost"], stated.frost["with_protection"]) == (share, None)
    assert np.array_equal(stated.weekly, bare.weekly)


def test_weather_of_the_days_before_the_lead_is_used(past):
    w = past.weather.observed
    between = (w.time_utc > np.datetime64("2015-10-05", "h")) & (
        w.time_utc < np.datetime64("2015-10-20", "h")
    )
    warm = replace(w, air_c=np.where(between, w.air_c + 6.0, w.air_c))
    plain = hindcast_block(past, lead=30, draws=30)
    other = hindcast_block(
        replace(past, weather=SeasonWeather(observed=warm, history=w)), lead=30, draws=30
    )
    assert not np.array_equal(plain.first_pick, other.first_pick)
    assert plain.issue_date == date(2015, 10, 24)


def test_other_years_leave_out_the_season_itself(past):
    found = hindcast_block(past, draws=20, past_years="others")
    years = {label.split(", ")[-1][:4] for label in found.past_years}
    assert "2015" not in years
    assert {"2014", "2016"} <= years


def test_a_first_year_has_no_earlier_one(low_quay):
    first = past_block(low_quay, 2003)
    first = replace(
        first,
        weather=SeasonWeather(
            observed=first.weather.observed,
            history=first.weather.history.between("2003-07-01", "2020-06-30"),
        ),
    )
    with pytest.raises(NoAnswerError, match="no past year had ended"):
        hindcast_block(first, draws=10)
    made, missed = hindcast_blocks([first, past_block(low_quay, 2012)], draws=10)
    assert [one.past.label for one in made] == ["2012"]
    assert missed[0][0].label == "2003"


def test_a_later_forecast_is_surer(past):
    early, late = (hindcast_block(past, lead=n, draws=60) for n in (0, 45))
    assert np.std(late.first_pick) < np.std(early.first_pick)


def test_visits_pick_what_ripened_between_them():
    block = PickedBlock(np.array([2.5, 4.5]), np.zeros(2), ("2026-W40", "2026-W41"), 0.0, 1.0)
    # by noon of day 2 and of day 4
    assert block.as_picked(np.array([[3.0, 12.0]])).tolist() == [[3.0, 9.0]]


def test_a_visit_after_a_long_pause_is_not_compared():
    block = PickedBlock(
        np.array([50.5, 53.5, 80.5]), np.array([1.0, 2.0, 4.0]), ("a", "b", "c"), 0.0, 1.0
    )
    assert block.by_week(block.taken) == (("a", "b"), pytest.approx([1.0, 2.0]))


@pytest.mark.parametrize(
    ("grams", "lower", "upper", "assumed"),
    [
        ([1.0, 1.0, 2.0], 53.5, 56.5, False),
        ([5.0, 1.0, 2.0], 43.5, 50.5, True),  # the first visit found it: a week is assumed
        ([0.0, 1.0, 1.0], 56.5, np.inf, False),
    ],
)
def test_the_first_pick_lies_between_two_visits(grams, lower, upper, assumed):
    table = pd.DataFrame(
        {"date": pd.to_datetime(["2026-11-20", "2026-11-23", "2026-11-26"]),
         "marketable_g_per_plant": grams}
    )  # fmt: skip
    block = picked_block(table, date(2026, 10, 1), 3.0)
    assert (block.lower, block.upper, block.round_assumed) == (lower, upper, assumed)


def test_a_recorded_date_stands_in_for_weights():
    table = pd.DataFrame(
        {"date": pd.to_datetime(["2026-11-20", "2026-11-26"]),
         "event": ["no first pick", "first pick"]}
    )  # fmt: skip
    block = picked_block(table, date(2026, 10, 1), 3.0)
    assert (block.lower, block.upper, block.weeks) == (50.5, 56.5, ())


def test_picks_before_planting_are_refused():
    table = pd.DataFrame({"date": pd.to_datetime(["2026-09-20"]), "marketable_g_per_plant": [3.0]})
    with pytest.raises(InputError, match="before planting"):
        picked_block(table, date(2026, 10, 1), 3.0)


def stated(past, members, lower, upper, label="2015", taken=(), weekly=()):
    """A hindcast whose members and records are given outright."""
    weeks = tuple(f"2015-W{40 + i}" for i in range(len(taken)))
    picked = PickedBlock(
        np.arange(len(taken)) * 7.0 + 40.5, np.array(taken, float), weeks, lower, upper
    )
    return Hindcast(
        replace(past, label=label, picked=picked), date(2015, 9, 24), 0,
        np.array(members, dtype=float), weeks, np.array(taken, float),
        np.array(weekly, dtype=float).reshape(len(members), len(taken)), 200, (), (),
    )  # fmt: skip


def test_scores_of_a_first_pick_by_hand(past):
    # members 41..60: P10 42, median 50, P90 58; seen between 50 and 60, middle 55
    one = stated(past, range(41, 61), 50.0, 60.0)
    score = first_pick_score(one, [one])
    assert (score.p10, score.median, score.p90) == (42.0, 50.0, 58.0)
    assert score.error == -5.0
    assert score.held == pytest.approx(0.8)
    assert (score.pit_low, score.pit_high) == (0.5, 1.0)
    assert np.isnan(score.calendar_error)


def test_the_calendar_is_that_of_other_seasons_of_the_cultivar(past):
    one = stated(past, [50.0], 49.0, 51.0)
    other = stated(past, [50.0], 59.0, 61.0, label="2016")
    same = stated(past, [50.0], 79.0, 81.0)
    score = first_pick_score(one, [one, other, same])
    assert score.calendar_error == pytest.approx(10.0)
    # the same days from planting too, for all were planted on one calendar day
    assert score.days_error == pytest.approx(10.0)


def test_the_plain_rule_is_a_sum_of_air_warmth_learnt_elsewhere(past):
    """Other seasons needed 500 degC d; 10 a day in one future and 12.5 in another: 50 and 40 d."""
    sums = np.outer([10.0, 12.5], np.arange(201.0))
    one = replace(stated(past, [50.0], 47.0, 49.0), air_sums=sums)
    other = replace(stated(past, [50.0], 47.0, 49.0, label="2016"), own_sum=500.0)
    score = first_pick_score(one, [one, other])
    assert score.sum_error == pytest.approx(45.0 - 48.0)
    # its own season is no part of the rule
    alone = first_pick_score(replace(one, own_sum=10.0), [one])
    assert np.isnan(alone.sum_error)


def test_the_sum_of_a_season_is_that_of_its_air(past, made):
    """Degree-days above 3 degC by hand, from the hours between planting and first pick."""
    w = past.weather.observed
    start = np.datetime64("2015-09-25T00", "h")  # local standard time of the site is UTC
    hours = (w.time_utc >= start) & (w.time_utc < start + int(24 * past.picked.middle))
    by_hand = np.maximum(w.air_c[hours] - 3.0, 0.0).sum() / 24.0
    assert made.own_sum == pytest.approx(by_hand, abs=15.0)  # part of the last day
    assert made.air_sums.shape == (len(made.past_years), made.n_days + 1)


def test_a_first_pick_that_never_came_has_no_error(past):
    one = stated(past, [50.0, np.inf], 120.0, np.inf)
    score = first_pick_score(one, [one])
    assert np.isnan(score.error)
    assert (score.pit_low, score.pit_high) == (0.5, 1.0)


def test_scores_of_weeks_by_hand(past):
    weekly = np.tile(np.arange(0.0, 101.0)[:, np.newaxis], (1, 2))
    one = stated(past, [50.0] * 101, 49.0, 51.0, taken=[50.0, 99.0], weekly=weekly)
    score = weekly_score(one, [one], np.random.default_rng(1))
    assert score.held.tolist() == [True, False]
    assert score.median.tolist() == [50.0, 50.0]
    assert score.pit[1] > 0.95


def test_the_document_says_how_little_two_seasons_tell(past, low_quay):
    pasts = [past, past_block(low_quay, 2016)]
    made, missed = hindcast_blocks(pasts, leads=(0, 40), draws=40)
    told = hindcast_document(
        made, missed, source="picks.csv", records=86, draws=40, seed=0, past_years="earlier"
    )
    assert told["seasons"] == ["2015", "2016"]
    assert [one["lead_d"] for one in told["leads"]] == [0, 40]
    assert "next to nothing" in told["warnings"][-1]
    dates = told["leads"][0]["first_pick"]
    assert dates["calendar"]["compared"] == 2
    low, high = dates["coverage_80_of_seasons"]
    assert high - low > 0.6
    assert sum(told["leads"][0]["pit"]["first_pick"]) == pytest.approx(2.0, abs=0.01)


def test_records_made_by_the_model_are_forecast_without_bias(low_quay):
    """Synthetic truth at central values in six seasons: dates lie well inside the intervals."""
    pasts = [past_block(low_quay, year, every=3) for year in (2010, 2012, 2014, 2016, 2018, 2020)]
    made, missed = hindcast_blocks(pasts, draws=60)
    assert not missed
    told = hindcast_document(
        made, missed, source="picks.csv", records=1, draws=60, seed=0, past_years="earlier"
    )
    dates, weekly = told["leads"][0]["first_pick"], told["leads"][0]["weekly"]
    # the truth has no plant spread: it must be held more often than 80 % of the time
    assert dates["coverage_80"] > 0.8
    assert abs(dates["bias_d"]) < 5.0
    assert weekly["coverage_80"] > 0.7
    assert weekly["wape"] < 0.5


@pytest.mark.parametrize("leads", [(), (-1,)])
def test_a_forecast_before_planting_is_refused(past, leads):
    with pytest.raises(InputError, match="lead"):
        hindcast_blocks([past], leads=leads)
