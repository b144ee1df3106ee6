"""The heat scenario: warmed air, limits that must hold, and draws that cultivars share."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from phenocast.calibration.ranking.heat_response import (
    HeatScenario,
    heat_response,
    standard_heat,
    warmed,
)
from phenocast.errors import InputError, NoAnswerError
from phenocast.parameters import cultivars, scenarios
from phenocast.simulation.bed import spin_up_start
from phenocast.weather.traces import year_traces
from tests.simulation.conftest import a_setup, miami

__all__ = ["miami"]
N = 120


def alike(n=N, value=1.0):
    return {"heat_sensitivity": np.full(n, value)}


@pytest.fixture(scope="module")
def setup():
    return a_setup(cultivar="Marl", planting=date(2025, 10, 1), end=date(2026, 4, 15))


@pytest.fixture(scope="module")
def years(setup, miami):
    traces, _ = year_traces(miami, spin_up_start(setup), setup.last_day)
    return traces


@pytest.fixture(scope="module")
def pair(setup, years):
    own = {name: cultivars()[name] for name in ("Marl", "Gneiss")}
    return heat_response(setup, own, {name: alike() for name in own}, years, standard_heat())


def test_the_tender_type_loses_more_than_the_tolerant_one(pair):
    marl, gneiss = pair.season_loss
    assert np.mean(marl > gneiss) > 0.8
    assert np.all(pair.early_loss[0] > 0.0)


def test_loss_is_the_share_between_both_regimes(pair):
    expected = 1.0 - pair.hot_g.sum(axis=1) / pair.mild_g.sum(axis=1)
    assert pair.season_loss == pytest.approx(expected)
    assert pair.loss_by_year().shape == (2, 1)


def test_more_heat_costs_more(setup, years):
    own = {"Marl": cultivars()["Marl"]}
    losses = [
        np.median(
            heat_response(setup, own, {"Marl": alike()}, years, HeatScenario(w, 60)).season_loss
        )
        for w in (1.0, 3.0, 5.0)
    ]
    assert losses[0] < losses[1] < losses[2]


def test_no_more_than_a_trace_of_heat_costs_next_to_nothing(setup, years):
    own = {"Marl": cultivars()["Marl"]}
    found = heat_response(setup, own, {"Marl": alike()}, years, HeatScenario(1e-6, 60))
    assert np.max(np.abs(found.season_loss)) < 1e-4
    assert np.nanmax(np.abs(found.delay)) < 1e-3


def test_a_fitted_number_is_what_the_plants_have(setup, years):
    """A more sensitive posterior loses more, draw by draw: all else is shared."""
    own = {"Marl": cultivars()["Marl"]}
    low, high = (
        heat_response(setup, own, {"Marl": alike(value=v)}, years, standard_heat()).season_loss
        for v in (0.6, 1.4)
    )
    assert np.all(high > low)


def test_cultivars_of_one_name_more_leave_the_others_as_they_were(setup, years, pair):
    own = {"Marl": cultivars()["Marl"]}
    alone = heat_response(setup, own, {"Marl": alike()}, years, standard_heat())
    assert np.array_equal(alone.season_loss[0], pair.season_loss[0])


def test_two_names_of_one_cultivar_differ_by_nothing_that_the_species_shares(setup, years):
    """What is common is drawn once: only the cultivar's own spreads are left between twins."""
    one = cultivars()["Marl"]
    fixed = {key: replace(p, sd=0.0) for key, p in one.items()}
    from phenocast.parameters import species

    shared = species()
    for key in fixed:
        if key in shared and one[key] == shared[key]:
            fixed[key] = one[key]
    twins = {name: replace(one, name=name, parameters=fixed) for name in ("north", "south")}
    found = heat_response(setup, twins, {name: alike() for name in twins}, years, standard_heat())
    assert np.array_equal(found.season_loss[0], found.season_loss[1])
    assert np.std(found.season_loss[0]) > 0.0


def test_only_the_stated_days_are_warmer(miami):
    start = np.datetime64("2025-10-01T05", "h")
    hot = warmed(miami, start, HeatScenario(2.5, 30))
    change = hot.air_c - miami.air_c
    first = int((start - miami.time_utc[0]).astype(int))
    assert np.all(change[:first] == 0.0)
    assert change[first : first + 720] == pytest.approx(np.full(720, 2.5))
    assert np.all(change[first + 720 :] == 0.0)
    assert hot.vapour_pressure_kpa is miami.vapour_pressure_kpa


def test_a_measured_sky_warms_as_a_clear_one_would(miami):
    """Stefan-Boltzmann with Brutsaert's emissivity at one vapour pressure: 288 to 291 K."""
    flat = replace(
        miami,
        air_c=np.full(len(miami), 14.85),
        longwave_down_w_m2=np.full(len(miami), 330.0),
    )
    hot = warmed(flat, flat.time_utc[0], HeatScenario(3.0, 1))
    emitted = [1.24 * (15.0 / t) ** (1 / 7) * 5.67e-8 * t**4 for t in (288.0, 291.0)]
    assert hot.longwave_down_w_m2[0] / 330.0 == pytest.approx(emitted[1] / emitted[0], rel=1e-6)


def test_the_standard_is_the_shipped_one():
    stated = scenarios()["standard-heat"]
    assert standard_heat() == HeatScenario(stated["warming"].value, 60)


@pytest.mark.parametrize(("warming", "days", "said"), [(0.0, 60, "no warming"), (3.0, 0, "no day")])
def test_a_scenario_without_heat_is_refused(warming, days, said):
    with pytest.raises(InputError, match=said):
        HeatScenario(warming, days)


@pytest.mark.parametrize(
    ("draws", "said"),
    [
        ({}, "no draws"),
        ({"Marl": {"heat_sensitivty": np.ones(N)}}, "no plant has"),
        ({"Marl": {"heat_sensitivity": np.ones(N), "phyllochron": np.ones(3)}}, "differ in number"),
    ],
)
def test_draws_that_do_not_fit_are_refused(setup, years, draws, said):
    with pytest.raises(InputError, match=said):
        heat_response(setup, {"Marl": cultivars()["Marl"]}, draws, years, standard_heat())


def test_a_cultivar_that_bears_nothing_has_nothing_to_lose(setup, years):
    barren = {"heat_sensitivity": np.ones(N), "set_potential": np.zeros(N)}
    with pytest.raises(NoAnswerError, match="nothing to lose"):
        heat_response(
            setup, {"Marl": cultivars()["Marl"]}, {"Marl": barren}, years, standard_heat()
        )
