"""The engine: a block is its plants grown one by one, whatever shares its bed."""

from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from phenocast import _parallel
from phenocast.forecast.draws import block_draws
from phenocast.harvest import grow
from phenocast.phenology.work import ANTHESIS, FIRST_PICK, SURVIVING_SHARE
from phenocast.simulation.bed import bed_season, crown_daily, site_weather
from phenocast.simulation.daily_sums import fill_induction
from phenocast.simulation.engine import BlockSeasons, DrawnBlock, draws_of_physics, run_blocks
from phenocast.simulation.frost import without_frost
from phenocast.simulation.season_effects import SeasonEffects
from phenocast.weather import HourlyWeather

from .conftest import MIAMI, a_setup

DRAWS = 11  # more than go side by side
PLANTED, LAST = date(2025, 10, 5), date(2026, 3, 10)


def drawn(film: str = "black", **more: object) -> DrawnBlock:
    return block_draws(a_setup(film, planting=PLANTED, end=LAST, **more), 2, DRAWS, 3, 4)


def run(blocks: list[DrawnBlock], weather: HourlyWeather, **more: object) -> list[BlockSeasons]:
    warmer = weather.slice(0, len(weather))
    traces = [site_weather(one, MIAMI) for one in (weather, warmer)]
    early = [60] * len(blocks)
    made = dict(run_blocks(blocks, traces, early_days=early, **more))
    return [made[number] for number in range(len(blocks))]


@pytest.mark.parametrize("transplant", ["bare-root", "plug"])
def test_a_block_is_its_plants_grown_one_by_one(miami: HourlyWeather, transplant: str) -> None:
    block = drawn(transplant=transplant)
    (found,) = run([block], miami, detailed=False)
    bed = bed_season(block.setup, site_weather(miami, MIAMI))
    for trace in (0, 1):
        crown, daily, _ = crown_daily(bed, block.physics_of(trace))
        for physics, part in enumerate(draws_of_physics(DRAWS, block.physics_each)):
            for draw in range(DRAWS)[part]:
                fill_induction(crown[physics], bed.days.first_hour, block.tables[draw],
                               daily[physics])  # fmt: skip
                alone = grow(daily[physics], block.plants[draw], 3.0)
                dates = found.dates[trace, draw]
                assert dates[FIRST_PICK] == pytest.approx(alone.first_pick, abs=1e-9)
                assert dates[ANTHESIS] == pytest.approx(alone.anthesis, abs=1e-9)
                assert dates[SURVIVING_SHARE] == alone.surviving_share
                early = alone.marketable_g[:60].sum()
                assert found.early_g[trace, draw] == pytest.approx(early, rel=1e-9)
                # 2025-10-05 is a Sunday: one day of its week, then whole weeks
                weeks = np.add.reduceat(alone.marketable_g, [0, *range(1, bed.days.n_days, 7)])
                assert found.weekly_g[trace, draw] == pytest.approx(weeks, rel=1e-6, abs=1e-6)


def test_fruit_without_frost_is_that_of_plants_without_cold_nights(miami: HourlyWeather) -> None:
    cold = np.array(miami.air_c)
    frost = slice((date(2025, 12, 20) - date(2025, 1, 1)).days * 24, None)
    cold[frost][:12] = -4.0
    weather = replace(miami, air_c=cold)
    block = drawn()
    (found,) = run([block], weather)
    assert (found.spared_g.sum(axis=-1) > found.weekly_g.sum(axis=-1)).all()
    bed = bed_season(block.setup, site_weather(weather, MIAMI))
    crown, daily, _ = crown_daily(bed, block.physics_of(0))
    fill_induction(crown[0], bed.days.first_hour, block.tables[0], daily[0])
    for table, weekly in ((daily[0], found.weekly_g), (without_frost(daily[0]), found.spared_g)):
        alone = grow(table, block.plants[0], 3.0)
        assert weekly[0, 0].sum() == pytest.approx(alone.marketable_g.sum(), rel=1e-5)


def test_blocks_on_one_bed_are_what_each_is_alone(miami: HourlyWeather) -> None:
    blocks = [drawn(), drawn(cultivar="Tuff"), drawn("silver"), drawn(transplant="plug")]
    together = run(blocks, miami)
    assert together[0].bed is together[3].bed
    for block, found in zip(blocks, together, strict=True):
        (alone,) = run([block], miami)
        for name in ("dates", "weekly_g", "spared_g", "early_g", "bed", "initiation_heat"):
            assert np.array_equal(getattr(found, name), getattr(alone, name)), name


def test_answers_do_not_hang_on_who_does_the_work(miami: HourlyWeather) -> None:
    blocks = [drawn(), drawn("silver")]
    with _parallel.workers(1):
        one = run(blocks, miami)
    with _parallel.workers(3):
        three = run(blocks, miami)
    with ProcessPoolExecutor(1) as pool:
        other = run(blocks, miami, executor=pool)
    for found in (three, other):
        for a, b in zip(one, found, strict=True):
            assert np.array_equal(a.dates, b.dates)
            assert np.array_equal(a.weekly_g, b.weekly_g)


def test_the_state_at_a_time_is_that_of_its_day(miami: HourlyWeather) -> None:
    block = drawn()
    last = (LAST - PLANTED).days + 1
    asked = DrawnBlock(block.setup, block.plants, block.tables, block.physics, 2,
                       state_at=(0.5, 90.5, float(last)))  # fmt: skip
    (found,) = run([asked], miami)
    states = found.states
    assert states.marketable_g[..., 0] == pytest.approx(0.0)
    season = found.weekly_g.sum(axis=-1)
    assert states.marketable_g[..., 2] == pytest.approx(season, rel=1e-5)
    assert (states.marketable_g[..., 1] < season).all()
    assert (states.green_fruit[..., 1] > 0.0).all()
    assert (states.open_flowers >= 0.0).all()


def test_a_late_and_rich_season_is_another_moved_and_multiplied(miami: HourlyWeather) -> None:
    block = drawn()
    late, level = np.full((2, DRAWS), 3.0), np.full((2, DRAWS), 1.5)
    late[1], level[1] = 0.0, 1.0
    moved = replace(block, effects=SeasonEffects(late, level, {}), state_at=(90.5,))
    (found,), (plain,) = run([moved], miami), run([replace(block, state_at=(87.5, 90.5))], miami)
    assert found.dates[0, :, FIRST_PICK] == pytest.approx(plain.dates[0, :, FIRST_PICK] + 3.0)
    assert found.dates[0, :, SURVIVING_SHARE] == pytest.approx(plain.dates[0, :, SURVIVING_SHARE])
    states, others = found.states, plain.states
    assert states.marketable_g[0, :, 0] == pytest.approx(1.5 * others.marketable_g[0, :, 0])
    assert states.green_fruit[0, :, 0] == pytest.approx(others.green_fruit[0, :, 0])
    # the other trace is left as it is
    for name in ("dates", "weekly_g", "spared_g", "early_g"):
        assert np.array_equal(getattr(found, name)[1], getattr(plain, name)[1]), name
    assert states.marketable_g[1, :, 0] == pytest.approx(others.marketable_g[1, :, 1])
    # what ripens in the last three days comes after the season
    whole = plain.weekly_g[0].sum(axis=-1)
    share = found.weekly_g[0].sum(axis=-1) / (1.5 * whole)
    assert (share < 1.0).all()
    assert (share > 0.9).all()


def test_days_that_count_as_early_end_with_the_season(miami: HourlyWeather) -> None:
    block, trace = drawn(), site_weather(miami, MIAMI)
    asked = [
        dict(run_blocks([block], [trace], early_days=[days]))[0] for days in (-1, 0, 60, 157, 500)
    ]
    season = asked[0].weekly_g.sum(axis=-1)
    assert not asked[0].early_g.any()
    assert not asked[1].early_g.any()
    assert (asked[2].early_g < season).all()
    assert asked[3].early_g == pytest.approx(season, rel=1e-5)
    assert np.array_equal(asked[3].early_g, asked[4].early_g)
