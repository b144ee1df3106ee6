"""What a film does beyond its crown temperature: nothing, until a film's own file says so."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from phenocast.forecast.draws import block_draws
from phenocast.forecast.options import run_options
from phenocast.parameters import ParameterSet, films
from phenocast.season import Bed, Season, WeatherSources
from phenocast.simulation import simulate_block
from phenocast.simulation.setup import flowers_on_film
from phenocast.weather import SeasonWeather
from tests.simulation.conftest import a_setup


def earned(setup, value, sd=0.0):
    """The same film from a file that states a left-over."""
    own = replace(
        setup.physics["flower_left_over"], value=value, sd=sd, basis="fitted", source="own records"
    )
    film = setup.film
    stated = ParameterSet(film.name, {**film.parameters, "flower_left_over": own}, film.labels)
    return replace(setup, film=stated)


@pytest.mark.parametrize("film", list(films()))
def test_every_shipped_film_has_no_left_over(film):
    setup = a_setup(film)
    assert flowers_on_film(setup).tolist() == [1.0]
    assert np.all(flowers_on_film(setup, n_draws=50) == 1.0)


def test_a_stated_left_over_moves_flowers_by_its_exponential():
    setup = earned(a_setup("silver"), 0.2)
    plain = block_draws(a_setup("silver"), 1, 20, 0).plants.flowers_per_truss
    found = block_draws(setup, 1, 20, 0).plants.flowers_per_truss
    assert found / plain == pytest.approx(np.full(20, np.exp(0.2)))


def test_its_spread_is_drawn():
    ratio = flowers_on_film(earned(a_setup("silver"), 0.2, sd=0.05), n_draws=2000)
    assert np.log(ratio).mean() == pytest.approx(0.2, abs=0.005)
    assert np.log(ratio).std() == pytest.approx(0.05, abs=0.005)


def test_more_flowers_are_more_fruit_and_no_other_temperature(miami):
    plain, more = (
        simulate_block(one, miami) for one in (a_setup("silver"), earned(a_setup("silver"), 0.2))
    )
    assert np.array_equal(plain.temperatures.crown_c, more.temperatures.crown_c)
    gain = more.plant.marketable_g.sum() / plain.plant.marketable_g.sum()
    assert 1.05 < gain < np.exp(0.2) + 0.02  # a heavier load sets a smaller share
    assert more.plant.first_pick < plain.plant.first_pick


def test_each_option_has_the_flowers_of_its_own_film(miami):
    # the left-over of silver must not be lost behind black, nor be black's
    setup = earned(a_setup("silver", planting=date(2025, 10, 1)), 0.2)
    season = Season(
        miami.site, Bed(0.76, 0.25, 1.5, "sand"), (setup.block,), WeatherSources(),
        user_films={"silver": setup.film},
    )  # fmt: skip

    def compared(films):
        return run_options(
            season, SeasonWeather(observed=miami), setup.block,
            plantings=[setup.block.planting_date], films=films, cultivars=["Basalt"],
            transplants=["bare-root"], issue_date=date(2026, 7, 1), draws=4, seed=1,
        )  # fmt: skip

    together = compared(["black", "silver"])
    for number, film in enumerate(["black", "silver"]):
        alone = compared([film])
        assert np.array_equal(together.weekly_g[number], alone.weekly_g[0])
    found = compared(["silver"]).season_g
    season = replace(season, user_films={})
    assert (found > 1.05 * compared(["silver"]).season_g).all()
