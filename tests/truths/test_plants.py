"""The worlds are what they say, come out the same for a seed, and share no code with the engine."""

from __future__ import annotations

import ast
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from tests.truths import plants
from tests.truths.plants import TrueBlock, grow, passed, records_of, trapezoid, world

LAST = date(2016, 5, 10)
BLOCK = TrueBlock("Block 1", "Basalt", "black", "bare-root", date(2015, 9, 20))


def test_no_line_of_the_engine_is_used() -> None:
    tree = ast.parse(Path(plants.__file__).read_text(encoding="utf-8"))
    used = {
        name
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in ([node.module] if isinstance(node, ast.ImportFrom) else
                     [one.name for one in node.names])
    }  # fmt: skip
    assert not any(str(name).startswith("phenocast") for name in used)


@pytest.mark.parametrize(("name", "reach"), [("A", 6), ("B", 10), ("C", 6)])
def test_a_world_is_what_it_says(name: str, reach: int) -> None:
    made = world(name, 7)
    assert (len(made.learnt), len(made.forecast)) == (5, 3)
    assert list(made.seasons) == [*made.learnt, *made.forecast]
    plugs = sum(one.block.transplant == "plug" for one in made.seasons[made.learnt[0]])
    assert plugs == (3 if name == "B" else 0)
    for year, seasons in made.seasons.items():
        for number, one in enumerate(seasons):
            usual = date(year, *plants.USUAL_DATES[number // 2])
            assert abs((one.block.planting_date - usual).days) <= reach
            assert 45.0 < one.first_pick < 110.0
            assert 20.0 < one.bloom < one.first_pick
    again = world(name, 7).seasons[made.forecast[0]][2]
    assert np.array_equal(again.ripe_g, made.seasons[made.forecast[0]][2].ripe_g)


def test_a_new_cultivar_a_new_film_and_an_odd_season_come_in_the_third_world_alone() -> None:
    made = world("C", 3)

    def names(years: tuple[int, ...]) -> tuple[set[str], set[str]]:
        own = [one.block for year in years for one in made.seasons[year]]
        return {one.cultivar for one in own}, {one.film for one in own}

    (old_cultivars, old_films), (cultivars, films) = names(made.learnt), names(made.forecast)
    assert cultivars - old_cultivars == {"Gneiss"}
    assert films - old_films == {"silver"}
    assert set(made.odd) < set(made.forecast)
    assert not world("A", 3).odd


def test_a_warm_autumn_and_a_freeze_do_what_they_should() -> None:
    usual = grow(BLOCK, last=LAST, store=2.0)
    warm = grow(BLOCK, last=LAST, store=2.0, odd="warm autumn")
    frozen = grow(BLOCK, last=LAST, store=2.0, odd="late freeze")
    freeze = (date(2016, 1, 24) - BLOCK.planting_date).days
    # heat holds initiation up, and ripens what there is sooner
    assert warm.bloom - usual.bloom > 2.0
    assert warm.first_pick - warm.bloom < usual.first_pick - usual.bloom - 2.0
    assert np.array_equal(frozen.ripe_g[:freeze], usual.ripe_g[:freeze])
    # the coldest of the two nights takes its flowers and half of what hung on the plants
    assert frozen.flowers[freeze : freeze + 2].min() == 0.0
    after = slice(freeze + 2, freeze + 16)
    lost = 1.0 - frozen.ripe_g[after].sum() / usual.ripe_g[after].sum()
    assert 0.4 < lost < 0.6


def test_flowers_become_fruit_and_nothing_is_made_of_nothing() -> None:
    one = grow(BLOCK, last=LAST, store=2.0)
    mass = plants.CULTIVARS["Basalt"].mass_g
    assert one.ripe_g.sum() < 0.88 * one.flowers.sum() * 1.2 * mass
    assert one.green_fruit.min() >= 0.0
    late = grow(replace(BLOCK, planting_date=date(2015, 10, 10)), last=LAST, store=2.0)
    assert late.ripe_g.sum() < one.ripe_g.sum()


def test_a_season_is_the_one_worked_out_before() -> None:
    one = grow(BLOCK, last=LAST, store=2.0)
    found = [one.bloom, one.first_pick, one.ripe_g.sum(), one.flowers.sum()]
    assert found == pytest.approx(FROZEN, rel=1e-9)


FROZEN = [42.08372938129223, 67.10131373719351, 1705.1927791274197, 106.98104443514725]


def test_records_hold_what_ripened_between_visits_with_noise() -> None:
    one = grow(BLOCK, last=LAST, store=2.0)
    rows = records_of(one, 5)
    picks = rows["marketable_g_per_plant"].dropna()
    day = (rows["date"] - np.datetime64(BLOCK.planting_date)).dt.days.to_numpy()
    upto = one.ripe_g[: day[-1] + 1].sum()
    assert picks.sum() == pytest.approx(upto, rel=0.12 * 3 / np.sqrt(len(picks)))
    assert rows["plants_in_bloom"].between(0, plants.PLANTS_SEEN).all()
    assert (
        rows["plants_in_bloom"].is_monotonic_increasing
        or (rows.loc[day > one.bloom + 10, "plants_in_bloom"] > 35).all()
    )
    assert not rows.loc[day < one.first_pick - 14, "marketable_g_per_plant"].notna().any()


def test_a_trapezoid_and_a_passed_sum_by_hand() -> None:
    assert trapezoid(np.array([5.0, 10.0, 16.0, 20.0, 23.5, 27.0]), 6.0, 14.0, 20.0, 27.0) == (
        pytest.approx([0.0, 0.5, 1.0, 1.0, 0.5, 0.0])
    )
    assert passed(np.array([2.0, 4.0, 4.0]), 4.0) == pytest.approx(1.5)
    assert passed(np.array([1.0, 1.0]), 4.0) == np.inf
