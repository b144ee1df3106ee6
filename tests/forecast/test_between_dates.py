"""Planting dates read between their neighbours, held to the same dates run.

Every date is run once, by letting no date be read; then as a comparison does it. The bounds are a
few times what was met when the reading was written, on the typical year of Miami (58 dates, seven
films, four cultivars, three transplant types) and on past years of the demo (50 dates from the end
of August on): first pick of single plants and years off by .05 and .06 d (root mean square) and by
0.9 and 1.1 d at most, of an option's mean by .22 and .04 d at most; season fruit of an option's
mean by .15 %. Without running where first pick bends, single plants were off by up to 6.4 d.
"""

from datetime import date, timedelta

import numpy as np
import pytest

from phenocast.cli.running import load
from phenocast.forecast import options
from phenocast.forecast.options import OptionSeasons, run_options
from phenocast.parameters.location import shipped
from phenocast.phenology.lanes import LANES
from phenocast.season import Bed, Block, Season, WeatherSources
from phenocast.season.describe import ClockHours, Sprinkling
from phenocast.simulation.between_dates import bent, dates_to_run, read_between
from phenocast.simulation.options_kernel import N_RESULTS, RESULT_ALIVE, RESULT_FIRST_PICK
from phenocast.weather import HourlyWeather, SeasonWeather

FIRST = date(2025, 10, 4)
DATES = [FIRST + timedelta(days=day) for day in range(31)]


def of_miami(weather: HourlyWeather) -> OptionSeasons:
    sprinkling = Sprinkling(10, ClockHours(9, 17), 2.5)
    block = Block(
        "A", "Basalt", "black", "bare-root", FIRST, 50_000.0, 1.0, season_end=date(2026, 5, 15),
        sprinkling=sprinkling,
    )
    season = Season(weather.site, Bed(0.76, 0.25, 1.5, "sand"), (block,), WeatherSources())
    return run_options(
        season, SeasonWeather(observed=weather), block, plantings=DATES,
        films=["black", "metallised"], cultivars=["Marl", "Tuff"],
        transplants=["bare-root", "plug"], issue_date=date(2026, 6, 1), draws=32, seed=2,
    )  # fmt: skip


def of_the_demo(_: HourlyWeather) -> OptionSeasons:
    loaded = load(shipped("demo_weather", "low_quay.toml"))
    plantings = [date(2026, 9, 10) + timedelta(days=day) for day in range(31)]
    return run_options(
        loaded.told, loaded.weather, loaded.season.blocks[0], plantings=plantings,
        films=["black", "white-striped"], cultivars=["Basalt"], transplants=["bare-root"],
        issue_date=date(2026, 9, 9), draws=8, seed=2,
    )  # fmt: skip


@pytest.fixture(scope="module", params=[of_miami, of_the_demo], ids=["miami", "demo"])
def both(request, miami):
    """A comparison as it is done, and with every date run."""
    done = request.param(miami)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(options, "dates_to_run", lambda plantings, always: np.ones(31, dtype=bool))
        whole = request.param(miami)
    assert len(whole.dates_between) == 0
    return done, whole


def rms(difference: np.ndarray) -> float:
    return float(np.sqrt(np.mean(difference**2)))


def test_what_is_run_is_the_same_and_what_is_read_is_near(both) -> None:
    done, whole = both
    read = np.array([option.planting_date in done.dates_between for option in done.options])
    assert 14 * len(done.options) <= 31 * read.sum() <= 15 * len(done.options)
    for name in ("first_pick", "heat", "alive", "early_g", "season_g", "weekly_g"):
        assert np.array_equal(getattr(done, name)[~read], getattr(whole, name)[~read]), name
    assert np.array_equal(done.heat, whole.heat)
    assert np.array_equal(done.alive, whole.alive)
    first_pick = (done.first_pick - whole.first_pick)[read]
    assert rms(first_pick) < 0.12
    assert np.abs(first_pick).max() < 1.5
    assert np.abs(first_pick.mean(axis=(1, 2))).max() < 0.25  # as the README says
    season = whole.season_g.mean()
    assert rms((done.season_g - whole.season_g)[read]) < 0.002 * season
    off = (done.season_g - whole.season_g)[read].mean(axis=(1, 2))
    assert np.abs(off / whole.season_g[read].mean(axis=(1, 2))).max() < 0.002
    assert rms((done.early_g - whole.early_g)[read]) < 0.002 * season
    assert rms((done.weekly_g - whole.weekly_g)[read]) < 0.001 * season
    # and what is read adds up as what is run does
    assert done.weekly_g.sum(axis=-1) == pytest.approx(done.season_g, rel=1e-5)


def test_a_plant_is_run_where_its_first_pick_bends() -> None:
    runs = dates_to_run(DATES[:9], always=DATES[0])
    results = np.zeros((9, LANES + 1, N_RESULTS))
    results[..., RESULT_FIRST_PICK] = 90.0 - 0.7 * np.arange(9.0)[:, np.newaxis]
    assert not bent(results, runs).any()
    results[6:, LANES, RESULT_FIRST_PICK] += 1.1  # a step between the fifth and the seventh date
    found = bent(results, runs)
    assert not found[:, 0].any()
    assert np.flatnonzero(found[:, 1]).tolist() == [3, 5, 7]
    assert bent(results[:3], runs[:3])[1].all()  # no further date to tell


def test_a_plant_that_one_neighbour_never_picks_is_run() -> None:
    runs = dates_to_run(DATES[:5], always=DATES[0])
    assert runs.tolist() == [True, False, True, False, True]
    results = np.zeros((5, 2, N_RESULTS))
    first_pick = results[..., RESULT_FIRST_PICK]
    first_pick[:] = 90.0
    first_pick[2, 1] = np.inf
    first_pick[4] = np.inf
    assert bent(results, runs)[:, 0].tolist() == [False, True, False, True, False]
    first_pick[2, 0] = np.inf
    first_pick[0] = np.inf
    assert not bent(results, runs).any()


def test_plants_that_die_bear_nothing_between_either() -> None:
    results = np.zeros((3, 1, N_RESULTS))
    results[:, 0, RESULT_FIRST_PICK] = np.inf
    results[1, 0, RESULT_ALIVE] = 0.5
    weekly = np.zeros((3, 1, 4), dtype=np.float32)
    read_between(results, weekly, np.array([[True], [False], [True]]))
    assert results[1, 0].tolist() == [np.inf, 0.0, 0.0, 0.0, 0.5]
    assert not weekly.any()
