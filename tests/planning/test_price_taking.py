"""What theory says of planting dates at given prices, run through the options themselves.

The climate is invented so that the answer is known: at the equator, every day like the one before.
A planting four weeks later is then the same planting four weeks later, so what is worth more can
only come from the length of the season, from prices, or from heat that is put in.
"""

from datetime import date, timedelta

import numpy as np
import pytest

from phenocast.forecast.options import OptionSeasons, run_options
from phenocast.forecast.packout import Packout, Tray
from phenocast.harvest.weeks import monday
from phenocast.planning.comparison.judge import judge
from phenocast.planning.comparison.money import money_of
from phenocast.planning.prices import PriceCurve
from phenocast.season import Bed, Block, Costs, Season, Site, WeatherSources
from phenocast.weather import HourlyWeather, SeasonWeather

HERE = Site("Even Isle", 0.0, 0.0, 10.0, "UTC")
EARLY, LATE = date(2026, 9, 7), date(2026, 10, 5)  # Mondays, four weeks apart
LENGTH = timedelta(days=200)
FIRST_WEEK = date(2026, 8, 31)
NOTHING_LOST = Packout(Tray("kilogram", 1.0, 0.0), np.zeros(4), 0.0)


def weather(hot_until: str = "2026-08-02", hot_by: float = 0.0) -> SeasonWeather:
    n = 24 * 420
    hour = np.arange(n) % 24
    time = np.datetime64("2026-08-01", "h") + np.arange(n).astype("timedelta64[h]")
    air = 17.0 + 5.0 * np.cos(2.0 * np.pi * (hour - 14) / 24.0)
    air += np.where(time < np.datetime64(hot_until), hot_by, 0.0)
    sun = np.maximum(0.0, 700.0 * np.sin(np.pi * (hour - 6) / 12.0))
    return SeasonWeather(
        observed=HourlyWeather(
            time, air, np.full(n, 1.4), np.full(n, 2.0), sun, np.full(n, 340.0), np.zeros(n),
            np.zeros(n, dtype=np.uint8), HERE,
        )
    )  # fmt: skip


def options(
    plantings: list[date], end: date, sky: SeasonWeather, film: str = "white"
) -> OptionSeasons:
    block = Block("A", "Marl", film, "bare-root", plantings[0], 50_000.0, 1.0, season_end=end)
    season = Season(HERE, Bed(0.76, 0.25, 1.5, "sandy loam"), (block,), WeatherSources())
    return run_options(
        season, sky, block, plantings=plantings, films=[film], cultivars=["Marl"],
        transplants=["bare-root"], issue_date=end + timedelta(days=5), draws=4, seed=1,
    )  # fmt: skip


def prices(rate_a_week: float) -> PriceCurve:
    """Prices that fall (above 0) or rise by the same share every week, without spread."""
    weeks = [FIRST_WEEK + timedelta(weeks=n) for n in range(45)]
    labels = tuple("{}-W{:02d}".format(*day.isocalendar()[:2]) for day in weeks)
    assert monday(labels[0]) == FIRST_WEEK
    return PriceCurve(labels, 3.0 * np.exp(-rate_a_week * np.arange(45.0)), "EUR")


def earned(seasons: OptionSeasons, rate_a_week: float) -> np.ndarray:
    """Revenue of each option, mean over its scenarios."""
    money = money_of(seasons, NOTHING_LOST, prices(rate_a_week), Costs("EUR"), seed=0, reference=0)
    return money.revenue.mean(axis=(1, 2))


@pytest.fixture(scope="module")
def apart() -> tuple[OptionSeasons, OptionSeasons]:
    """Both plantings with seasons of the same length."""
    sky = weather()
    first, second = (options([day], day + LENGTH, sky) for day in (EARLY, LATE))
    return first, second


@pytest.fixture(scope="module")
def together() -> OptionSeasons:
    """Both plantings with one last day: the earlier has four weeks more."""
    return options([EARLY, LATE], LATE + LENGTH, weather())


@pytest.fixture(scope="module")
def hot() -> OptionSeasons:
    """One last day, and heat until shortly before the later planting."""
    return options([EARLY, LATE], LATE + LENGTH, weather("2026-09-30", 14.0), film="black")


def test_the_climate_is_even_and_has_no_heat(apart, together) -> None:
    first, second = apart
    assert together.heat(0)[1].max() == 0.0
    assert first.first_pick.mean() == pytest.approx(second.first_pick.mean(), abs=0.3)


def test_flat_prices_and_equal_seasons_leave_nothing_to_choose(apart) -> None:
    worth = [float(earned(seasons, 0.0)[0]) for seasons in apart]
    assert worth[0] == pytest.approx(worth[1], rel=0.02)


def test_flat_prices_and_a_longer_season_favour_the_earliest_date(together) -> None:
    worth = earned(together, 0.0)
    assert worth[0] > 1.1 * worth[1]
    money = money_of(together, NOTHING_LOST, prices(0.0), Costs("EUR"), 0, 0)
    told = judge(money.margins(), reference=1)
    assert told.best == 0
    assert told.beats_reference[0] == 1.0


@pytest.mark.parametrize("rate", [0.10, 0.05, -0.05, -0.10])
def test_steep_prices_move_the_worth_by_four_weeks_of_their_fall(apart, rate) -> None:
    # The same fruit four weeks earlier meets prices exp(4 rate) as high.
    first, second = (float(earned(seasons, rate)[0]) for seasons in apart)
    assert first / second == pytest.approx(np.exp(4.0 * rate), rel=0.03)
    assert (first > second) is (rate > 0.0)


def test_heat_turns_the_order_under_flat_prices_and_steep_ones_turn_it_back(hot) -> None:
    assert hot.heat(0)[1][0].mean() > 500.0
    assert hot.alive[0].mean() < hot.alive[1].mean()
    assert np.diff(earned(hot, 0.0))[0] > 0.0  # the later planting, though its season is shorter
    steep = [float(np.divide(*earned(hot, rate))) for rate in (-0.1, 0.0, 0.05, 0.1, 0.2, 0.4)]
    assert steep == sorted(steep)  # the steeper the fall, the more the early planting is worth
    assert steep[-1] > 1.0


def test_costs_are_what_a_later_date_must_save(together) -> None:
    """A harvest cost above the price of late fruit takes the longer season's gain away."""
    flat = money_of(together, NOTHING_LOST, prices(0.0), Costs("EUR", harvest_per_kg=3.0), 0, 0)
    assert flat.margins() == pytest.approx(0.0, abs=0.5)  # every kg is worth its harvest
    dear = money_of(together, NOTHING_LOST, prices(0.0), Costs("EUR", harvest_per_kg=3.5), 0, 0)
    assert judge(dear.margins()).best == 1
