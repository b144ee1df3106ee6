"""Spreads between seasons and blocks that a fit found, in the draws of a forecast."""

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from phenocast.forecast.season_effects import season_effects
from phenocast.parameters import (
    FIELD_SPREADS,
    Parameter,
    ParameterSet,
    cultivars,
    cultivars_from,
    parameter_toml,
)
from phenocast.phenology import make_work
from phenocast.phenology.work import FIRST_PICK, MARKETABLE_G, SURVIVING_SHARE
from phenocast.simulation.draws import keep_fruit
from phenocast.simulation.season_effects import moved_dates
from phenocast.vector import LANES
from phenocast.weather import SeasonWeather
from tests.forecast.test_run import a_block, a_season, forecast, year_of

MIDDLE = {"season_shift_sd": 3.0, "season_level_sd": 0.2, "plot_level_sd": 0.1}


def spread(value, share=0.0, unit="1"):
    return Parameter(value, unit, 0.0, 10.0 * value, share * value, "fitted", "own field",
                     "own records", "fit.json", True)  # fmt: skip


def with_spreads(name="Basalt", share=0.0):
    own = {key: spread(value, share) for key, value in MIDDLE.items()}
    like = cultivars()[name]
    return replace(like, parameters={**like.parameters, **own})


def test_no_shipped_cultivar_has_a_spread_of_a_field():
    for one in cultivars().values():
        assert not set(FIELD_SPREADS) & set(one)
        assert season_effects(one, "A", 3, 20, 0) is None


def test_a_parameter_file_may_state_the_spreads():
    text = parameter_toml("cultivar", [with_spreads()])
    import tomllib

    read = cultivars_from(tomllib.loads(text), "own.toml")
    assert {key: read["Basalt"].value(key) for key in FIELD_SPREADS} == MIDDLE


def test_blocks_share_the_season_and_not_the_block():
    one, two = (season_effects(with_spreads(), name, 4, 2000, 7) for name in ("A", "B"))
    assert np.array_equal(one.late, two.late)
    assert one.late.std() == pytest.approx(3.0, rel=0.02)
    assert abs(one.late.mean()) < 0.02
    logs = np.log(np.stack([one.level, two.level])).reshape(2, -1)
    assert logs.std(axis=1) == pytest.approx(np.hypot(0.2, 0.1), rel=0.03)
    shared = 0.2**2 / (0.2**2 + 0.1**2)
    assert np.corrcoef(logs)[0, 1] == pytest.approx(shared, abs=0.03)
    assert abs(np.corrcoef(one.late.ravel(), logs[0])[0, 1]) < 0.03  # two effects, not one
    again = season_effects(with_spreads(), "A", 4, 2000, 7)
    assert np.array_equal(one.level, again.level)
    assert not np.array_equal(one.late, season_effects(with_spreads(), "A", 4, 2000, 8).late)


def test_cultivars_of_one_fit_share_the_season_too():
    one, two = (season_effects(with_spreads(name), "A", 2, 50, 1) for name in ("Basalt", "Marl"))
    assert np.array_equal(one.late, two.late)


def test_a_spread_that_is_hardly_known_makes_heavy_tails():
    sure, unsure = (
        season_effects(with_spreads(share=share), "A", 4, 5000, 3).late.ravel()
        for share in (0.0, 0.6)
    )
    kurtosis = [np.mean(x**4) / np.mean(x**2) ** 2 for x in (sure, unsure)]
    assert kurtosis[0] == pytest.approx(3.0, abs=0.1)
    assert kurtosis[1] > 3.6


def test_joint_draws_of_a_spread_go_before_its_own():
    own = with_spreads()
    drawn = ParameterSet(own.name, own.parameters, own.labels,
                         {"season_shift_sd": np.array([1.0, 5.0])})  # fmt: skip
    late = season_effects(drawn, "A", 400, 2, 0).late
    assert sorted(late.std(axis=0)) == pytest.approx([1.0, 5.0], rel=0.15)


def moved_fruit(daily, late):
    """Fruit of each day in seasons that are later: that up to its end less that up to its start."""
    draws, days = daily.shape
    work = make_work(days)
    work.rows[MARKETABLE_G, :days] = np.pad(daily, ((0, LANES - draws), (0, 0))).T
    fruit = np.empty((draws, days + 2))
    lanes = np.pad(late, (0, LANES - draws))[None]
    keep_fruit(days, np.arange(days + 1.0), lanes, work, fruit)
    assert fruit[:, -1] == pytest.approx(daily.sum(axis=1))  # not moved
    return np.diff(fruit[:, :-1])


def test_fruit_moves_by_shares_of_a_day_and_none_is_lost_before_the_end():
    rng = np.random.default_rng(0)
    daily = np.zeros((3, 60))
    daily[:, 20:40] = rng.uniform(1.0, 4.0, (3, 20))
    moved = moved_fruit(daily, np.array([2.0, -3.0, 0.25]))
    assert np.allclose(moved[0, 2:], daily[0, :-2])
    assert np.allclose(moved[1, :-3], daily[1, 3:])
    assert np.allclose(moved[2, 1:], 0.75 * daily[2, 1:] + 0.25 * daily[2, :-1])
    assert moved.sum(axis=1) == pytest.approx(daily.sum(axis=1))


def test_an_early_season_goes_on_at_its_end_as_in_its_last_week():
    daily = np.full((2, 30), 2.0)
    moved = moved_fruit(daily, np.array([-4.0, 4.0]))
    assert moved[0] == pytest.approx(2.0)
    assert moved[1].tolist() == [0.0] * 4 + [2.0] * 26


def test_stages_move_and_shares_do_not():
    dates = np.array([[1.0, 2.0, 30.0, 50.0, 58.0, np.inf, 0.9]])
    early, late = (moved_dates(dates, np.array([d]), 60) for d in (-3.0, 3.0))
    assert early[0].tolist() == [0.0, 0.0, 27.0, 47.0, 55.0, np.inf, 0.9]
    assert late[0, FIRST_PICK] == np.inf  # beyond the last day
    assert late[0, SURVIVING_SHARE] == 0.9


@pytest.fixture
def told(miami):
    weather = SeasonWeather(history=year_of(miami))
    blocks = (a_block(), a_block("B", film="black"))
    plain = forecast(a_season(*blocks), weather, draws=60)
    own = with_spreads(a_block().cultivar)
    season = replace(a_season(*blocks), user_cultivars={own.name: own})
    return plain, forecast(season, weather, draws=60)


def test_a_forecast_holds_the_spread_and_says_so(told):
    plain, fitted = told
    for before, after in zip(plain.blocks, fitted.blocks, strict=True):
        for at in (FIRST_PICK,):
            assert after.dates[..., at].std() > before.dates[..., at].std()
        total = [np.log(b.season_g) for b in (before, after)]
        added = total[1].var() - total[0].var()
        assert added == pytest.approx(0.2**2 + 0.1**2, rel=0.35)
        assert np.array_equal(before.bed, after.bed)
    document = fitted.to_dict()
    one = document["blocks"][0]
    assert one["field_spread"] == MIDDLE
    assert any("20 % of the fruit between seasons" in text for text in one["warnings"])
    shares = one["first_pick"]["spread_from"]
    assert sum(shares.values()) == pytest.approx(1.0, abs=0.002)
    assert shares["season"] > 0.1
    json.dumps(document)


def test_a_forecast_without_a_fit_is_as_it_was(told):
    document = told[0].to_dict()
    for block in document["blocks"]:
        assert "field_spread" not in block
        assert "season" not in block["first_pick"]["spread_from"]


def test_the_total_of_blocks_spreads_more_than_if_each_had_a_season_of_its_own(told):
    _, fitted = told
    totals = [b.season_g.ravel() for b in fitted.blocks]
    assert np.corrcoef(totals)[0, 1] > 0.5
    assert fitted.issue_date == date(2025, 10, 4)
