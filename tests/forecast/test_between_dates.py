"""Planting dates read between their neighbours, held to the same dates run.

Every date is run once, by letting no date be read; then as a comparison does it. The bounds are a
few times what was met when the reading was written, with 50 to 58 dates, four cultivars and two or
three transplant types, on typical years of Miami and Greensboro with seven films and on past years
of the demo with two. First pick of single plants and years was off by .06, .09 and .06 d (root mean
square), 0.6, 4.3 and 1.1 d at most; of an option's mean by .20, .11 and .04 d at most, and season
fruit of an option's mean by .15, .48 and .03 %. The limits of a bend were chosen on the same
seasons. Without running where something bends, single plants were off by up to 6.4 d.
"""

from datetime import date, timedelta

import numpy as np
import pytest

from phenocast.cli.running import load
from phenocast.forecast import options
from phenocast.forecast.options import OptionSeasons, run_options
from phenocast.parameters.library import shipped
from phenocast.season import Bed, Block, Season, WeatherSources
from phenocast.season.model import ClockHours, Sprinkling
from phenocast.simulation.between_dates import bent, dates_to_run, read_between
from phenocast.simulation.options_kernel import (
    DRAWS_TOGETHER,
    N_RESULTS,
    RESULT_ALIVE,
    RESULT_EARLY,
    RESULT_FIRST_PICK,
    RESULT_SEASON,
)
from phenocast.weather import HourlyWeather, SeasonWeather
from tests.phenology.stations import station

FIRST = date(2025, 10, 4)
DATES = [FIRST + timedelta(days=day) for day in range(31)]


def of_miami(weather: HourlyWeather) -> OptionSeasons:
    sprinkling = Sprinkling(10, ClockHours(9, 17), 2.5)
    block = Block(
        "A",
        "Basalt",
        "black",
        "bare-root",
        FIRST,
        50_000.0,
        1.0,
        season_end=date(2026, 5, 15),
        sprinkling=sprinkling,
    )
    season = Season(weather.site, Bed(0.76, 0.25, 1.5, "sand"), (block,), WeatherSources())
    return run_options(
        season, SeasonWeather(observed=weather), block, plantings=DATES,
        films=["black", "metallised"], cultivars=["Marl", "Tuff"],
        transplants=["bare-root", "plug"], issue_date=date(2026, 6, 1), draws=32, seed=2,
    )  # fmt: skip


def of_greensboro(_: HourlyWeather) -> OptionSeasons:
    sky = station("Greensboro")
    block = Block(
        "A", "Basalt", "black", "plug", FIRST, 50_000.0, 1.0, season_end=date(2026, 7, 10)
    )
    season = Season(sky.site, Bed(0.7, 0.3, 1.4, "sandy loam"), (block,), WeatherSources())
    return run_options(
        season, SeasonWeather(observed=sky), block,
        plantings=[date(2025, 9, 10) + timedelta(days=day) for day in range(31)],
        films=["black"], cultivars=["Marl", "Basalt"], transplants=["bare-root", "plug"],
        issue_date=date(2026, 8, 1), draws=32, seed=2,
    )  # fmt: skip


def of_the_demo(_: HourlyWeather) -> OptionSeasons:
    loaded = load(shipped("demo_weather", "low_quay.toml"))
    plantings = [date(2026, 9, 10) + timedelta(days=day) for day in range(31)]
    return run_options(
        loaded.told, loaded.weather, loaded.season.blocks[0], plantings=plantings,
        films=["black", "white-striped"], cultivars=["Basalt"], transplants=["bare-root"],
        issue_date=date(2026, 9, 9), draws=8, seed=2,
    )  # fmt: skip


@pytest.fixture(
    scope="module", params=[of_miami, of_greensboro, of_the_demo],
    ids=["miami", "greensboro", "demo"],
)  # fmt: skip
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
    for name in ("first_pick", "bloom", "alive", "early_g", "season_g", "weekly_g"):
        assert np.array_equal(getattr(done, name)[~read], getattr(whole, name)[~read]), name
    assert np.array_equal(done.heat(0)[1], whole.heat(0)[1])
    assert np.array_equal(done.alive, whole.alive)
    never = np.isinf(whole.first_pick)
    assert (never != np.isinf(done.first_pick)).mean() < 1e-3
    both = ~never & np.isfinite(done.first_pick)
    first_pick = np.where(both, done.first_pick, 0.0) - np.where(both, whole.first_pick, 0.0)
    first_pick = first_pick[read]
    assert rms(first_pick) < 0.15
    assert np.quantile(np.abs(first_pick), 0.999) < 1.5
    assert np.abs(first_pick.mean(axis=(1, 2))).max() < 0.25  # as the guide says
    season = whole.season_g.mean()
    # the frosts of Greensboro leave few grams in the autumn, so there shares are large
    share = 0.01 if season < 100.0 else 0.002
    assert rms((done.season_g - whole.season_g)[read]) < share * season
    off = (done.season_g - whole.season_g)[read].mean(axis=(1, 2))
    assert np.abs(off / whole.season_g[read].mean(axis=(1, 2))).max() < 0.005
    assert rms((done.early_g - whole.early_g)[read]) < share * season
    assert rms((done.weekly_g - whole.weekly_g)[read]) < 0.5 * share * season
    # and what is read adds up as what is run does
    assert done.weekly_g.sum(axis=-1) == pytest.approx(done.season_g, rel=1e-5)


def straight(n_dates: int) -> np.ndarray:
    """What is kept of nine plants that all move evenly with the date."""
    results = np.zeros((n_dates, DRAWS_TOGETHER + 1, N_RESULTS))
    dates = np.arange(float(n_dates))[:, np.newaxis]
    results[..., RESULT_ALIVE] = 0.9
    results[..., RESULT_FIRST_PICK] = 90.0 - 0.7 * dates
    results[..., RESULT_EARLY] = 0.9 * (80.0 - 2.0 * dates)
    results[..., RESULT_SEASON] = 0.9 * (700.0 - 3.0 * dates)
    return results


@pytest.mark.parametrize(
    ("kept", "step"), [(RESULT_FIRST_PICK, 1.1), (RESULT_EARLY, 15.0), (RESULT_SEASON, -15.0)]
)
def test_a_plant_is_run_where_it_bends(kept: int, step: float) -> None:
    runs = dates_to_run(DATES[:9], always=DATES[0])
    results = straight(9)
    assert not bent(results, runs).any()
    results[6:, DRAWS_TOGETHER, kept] += step  # between the fifth and the seventh date
    found = bent(results, runs)
    assert not found[:, 0].any()
    assert np.flatnonzero(found[:, 1]).tolist() == [3, 5, 7]


@pytest.mark.parametrize("n_dates", [1, 2, 3, 4])
def test_few_dates_are_all_run(n_dates: int) -> None:
    # between three or four dates nothing tells whether first pick bends
    assert dates_to_run(DATES[:n_dates], always=DATES[0]).all()


def test_what_runs_straight_is_read_as_it_is() -> None:
    runs = dates_to_run(DATES[:9], always=DATES[0])
    results, whole = straight(9), straight(9)
    results[~runs, :, :RESULT_ALIVE] = np.nan
    weekly = np.where(runs, np.arange(9.0), np.nan)[:, np.newaxis, np.newaxis]
    weekly = np.repeat(np.repeat(weekly, DRAWS_TOGETHER + 1, axis=1), 4, axis=2).astype(np.float32)
    read_between(results, weekly, np.repeat(runs[:, np.newaxis], 2, axis=1))
    read = [RESULT_FIRST_PICK, RESULT_EARLY, RESULT_SEASON]
    assert results[..., read] == pytest.approx(whole[..., read], rel=1e-12)
    assert weekly[:, 0, 0] == pytest.approx(np.arange(9.0), rel=1e-6)


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
