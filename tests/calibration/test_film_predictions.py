"""Films over past blocks: a left-over that was put into the records is found again."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from phenocast.calibration.cultivar.model import FIRST_PICKED, MARKETABLE, OPEN_FLOWERS
from phenocast.calibration.ranking.film_effect import (
    TOTALS,
    GrownBlock,
    cut_to_weather,
    predicted_records,
    split_films,
    with_left_over,
)
from phenocast.cli import running
from phenocast.harvest.kernels import FLOWER_OPEN_D
from phenocast.parameters import ParameterSet
from phenocast.parameters.library import shipped
from phenocast.simulation import block_setup, simulate_block

YEARS = (2010, 2013, 2016, 2019)
N = 96


@pytest.fixture(scope="module")
def loaded():
    return running.load(shipped("demo_weather", "low_quay.toml"))


def grown(loaded, film, year, left_over=0.0, cultivar="Marl"):
    """Weekly picks and flower counts of a block, its film with a left-over in truth."""
    season, history = loaded.season, loaded.weather.history
    planting = date(year, 9, 25)
    block = replace(
        season.block("Quay East"), film=film, cultivar=cultivar, planting_date=planting,
        season_end=planting + timedelta(days=200), name=f"{cultivar} {film}",
    )  # fmt: skip
    setup = block_setup(season, block)
    own = replace(setup.physics["flower_left_over"], value=left_over)
    true_film = ParameterSet(film, {**setup.film.parameters, "flower_left_over": own},
                             setup.film.labels)  # fmt: skip
    plant = simulate_block(replace(setup, film=true_film), history).plant
    picks = np.arange(40, 200, 7) + 0.5
    counts = np.arange(30, 110, 7) + 0.5
    start = np.concatenate([[0.0], picks[:-1], counts - FLOWER_OPEN_D])
    stop = np.concatenate([picks, counts])
    kind = np.array([MARKETABLE] * len(picks) + [OPEN_FLOWERS] * len(counts))
    value = np.array(
        [
            between(plant.marketable_g if k == MARKETABLE else plant.flowers_open, a, b)
            for k, a, b in zip(kind, start, stop, strict=True)
        ]
    )
    return GrownBlock(str(year), setup, history, kind, start, stop, value)


def between(daily, start, stop):
    total = np.concatenate([[0.0], np.cumsum(daily)])
    return float(np.diff(np.interp([start, stop], np.arange(len(total)), total))[0])


def truth(left_over, loaded, years=YEARS):
    return [
        grown(loaded, film, year, left_over if film == "silver" else 0.0)
        for year in years
        for film in ("black", "silver")
    ]


@pytest.fixture(scope="module")
def draws():
    return {"Marl": {"heat_sensitivity": np.random.default_rng(1).normal(1.0, 0.05, N)}}


def by_response(found):
    return {one.response: one for one in found}


def test_records_are_predicted_as_the_chain_makes_them(loaded, draws):
    """The middle of the draws lies by the records, which the chain made at central values."""
    block = grown(loaded, "black", 2013)
    made = predicted_records(block, draws["Marl"])
    picked = block.kind == MARKETABLE
    total = made[:, picked].sum(axis=1)
    low, high = np.quantile(total, [0.1, 0.9])
    assert low < block.value[picked].sum() < high
    assert made.shape == (N, block.kind.size)


def test_a_left_over_in_the_flowers_is_found(loaded, draws):
    found = by_response(split_films(truth(0.25, loaded), draws, "black"))["flowers"]
    assert found.left_over.estimate == pytest.approx(0.25, abs=0.05)
    assert found.left_over.lower < 0.25 < found.left_over.upper
    assert found.seasons == tuple(str(year) for year in YEARS)


def test_no_left_over_is_found_where_there_is_none(loaded, draws):
    for one in split_films(truth(0.0, loaded), draws, "black"):
        assert one.left_over.lower < 0.0 < one.left_over.upper, one.response
        assert not one.earned
        assert one.explained.estimate > 0.0  # the cooler film still bears more


def test_more_flowers_are_less_than_as_much_more_fruit(loaded, draws):
    """A heavier load sets a smaller share: yield gains, by less than the flowers."""
    found = by_response(split_films(truth(0.25, loaded), draws, "black"))
    gain = found["marketable yield"].left_over.estimate
    assert 0.02 < gain < found["flowers"].left_over.estimate


def test_a_left_over_that_was_earned_makes_a_film(loaded):
    sure = {"Marl": {"heat_sensitivity": np.full(N, 1.0)}}
    blocks = [fixed(one) for one in truth(0.4, loaded)]
    found = split_films(blocks, sure, "black")
    setup = next(one.setup for one in blocks if one.setup.film.name == "silver")
    film = with_left_over(setup.film, setup.physics["flower_left_over"], found)
    assert film is not None
    assert film.value("flower_left_over") == pytest.approx(0.4, abs=0.06)
    assert film["flower_left_over"].conditions.startswith("flowers against black, seasons 2010")
    black = with_left_over(blocks[0].setup.film, setup.physics["flower_left_over"], found)
    assert black is None


def fixed(block):
    """Block of which everything is known."""

    def known(stated):
        return replace(stated, parameters={k: replace(p, sd=0.0) for k, p in stated.items()})

    setup = block.setup
    return replace(
        block,
        setup=replace(
            setup, film=known(setup.film), physics=known(setup.physics), soil=known(setup.soil),
            cultivar=known(setup.cultivar), transplant=known(setup.transplant),
        ),
    )  # fmt: skip


def test_one_film_is_nothing_to_split(loaded, draws):
    blocks = [one for one in truth(0.0, loaded, (2010,)) if one.setup.film.name == "black"]
    assert split_films(blocks, draws, "black") == "one film was grown"


def test_films_in_different_seasons_are_not_compared(loaded, draws):
    blocks = [grown(loaded, "black", 2010), grown(loaded, "silver", 2013)]
    assert "no season has another film beside black" in split_films(blocks, draws, "black")


def test_only_amounts_add_up():
    kinds = np.array([MARKETABLE, OPEN_FLOWERS, FIRST_PICKED])
    assert np.isin(kinds, TOTALS).tolist() == [True, True, False]


def test_a_block_ends_with_its_weather(loaded):
    setup = block_setup(loaded.season, loaded.season.blocks[0])
    cut = cut_to_weather(setup, 30)
    assert (cut.n_days, cut.block.season_end) == (30, date(2026, 10, 24))


def test_a_season_that_was_later_is_predicted_later(loaded, draws):
    block = grown(loaded, "black", 2013)
    late = predicted_records(replace(block, later_d=3.0), draws["Marl"])
    moved = predicted_records(
        replace(block, start=block.start - 3.0, stop=block.stop - 3.0), draws["Marl"]
    )
    assert late == pytest.approx(moved)


def test_blocks_of_a_season_share_how_much_later_it_was(loaded):
    one, other = (grown(loaded, film, 2013) for film in ("black", "silver"))
    one, other = (replace(b, later_d=2.0, later_sd_d=0.5) for b in (one, other))
    assert np.array_equal(one.later(500, 1), other.later(500, 1))
    assert one.later(500, 1).mean() == pytest.approx(2.0, abs=0.1)
    assert not np.array_equal(one.later(5, 1), replace(one, season="2014").later(5, 1))
