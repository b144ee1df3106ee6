"""What a forecast tells of frost: nights, losses, protection stated, and cautions.

A warm station year (Miami TMY2) in which the early hours of chosen nights are made colder until an
open flower has a given lowest temperature.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from phenocast.forecast import SeasonForecast, run_forecast
from phenocast.forecast.frost import frost_warnings, is_serious, shares_lost
from phenocast.forecast.options import run_options
from phenocast.forecast.packout import packout_of
from phenocast.parameters import cultivars, transplants
from phenocast.phenology import plant_records
from phenocast.planning.comparison.digest import digest_of
from phenocast.planning.comparison.document import compare_document
from phenocast.report.compare import compare_parts
from phenocast.report.forecast import forecast_parts
from phenocast.report.render import to_html, to_text
from phenocast.season import Block, Cover, FrostProtection
from phenocast.simulation.bed import bed_season, site_weather
from phenocast.simulation.block_season import simulate_block
from phenocast.simulation.frost import FrostNights, lost_by_night
from phenocast.weather import HourlyWeather, SeasonWeather
from tests.forecast.test_run import a_block, a_season
from tests.simulation.conftest import a_setup

# Flowers at these temperatures had air of -1.0 and -1.5 degC in the screen.
NIGHTS = {date(2026, 1, 18): -4.7, date(2026, 1, 19): -5.2}
END = date(2026, 3, 1)
WATER = FrostProtection("overhead-water", rate_mm_h=12.0)


def colder(weather: HourlyWeather, nights: dict[date, float]) -> HourlyWeather:
    """The same weather with flowers at these lowest temperatures before sunrise [degC]."""
    setup = a_setup()
    for _ in range(6):
        bed = bed_season(setup, site_weather(weather, setup.site))
        air, vapour = weather.air_c.copy(), weather.vapour_pressure_kpa.copy()
        for day, wanted in nights.items():
            place = (day - bed.days.first_date).days
            first = int(np.searchsorted(weather.time_utc, bed.weather.time_utc[0]))
            hours = slice(first + bed.days.first_hour + 24 * place, None)
            hours = slice(hours.start, hours.start + 7)
            air[hours] += wanted - bed.flower_min[place]
            # calm and humid, as in a night of radiation frost
            vapour[hours] = 0.6108 * np.exp(17.27 * air[hours] / (air[hours] + 237.3))
        wind = weather.wind_m_s.copy()
        wind[hours.start - 24 : hours.stop] = 0.4
        weather = replace(weather, air_c=air, vapour_pressure_kpa=vapour, wind_m_s=wind)
    return weather


@pytest.fixture(scope="module")
def frosty(miami: HourlyWeather) -> HourlyWeather:
    return colder(miami, NIGHTS)


def told(weather: HourlyWeather, *blocks: object) -> SeasonForecast:
    return run_forecast(
        a_season(*blocks), SeasonWeather(history=weather.slice(len(weather) // 2, len(weather))),
        issue_date=date(2025, 10, 4), draws=12, seed=3,
    )  # fmt: skip


@pytest.fixture(scope="module")
def season(frosty: HourlyWeather) -> SeasonForecast:
    ways = {
        "silent": {}, "bare": {"frost_protection": FrostProtection("none")},
        "wet": {"frost_protection": WATER},
        "late": {"frost_protection": FrostProtection("overhead-water", date(2026, 1, 20),
                                                     rate_mm_h=12.0)},
        "cover": {"covers": (Cover("row-cover", date(2025, 11, 1), date(2025, 11, 30)),)},
    }  # fmt: skip
    return told(frosty, *(a_block(name, season_end=END, **way) for name, way in ways.items()))


def test_the_nights_are_those_that_were_made_cold(season: SeasonForecast) -> None:
    frost = season.to_dict()["blocks"][0]["frost"]
    found = {one["date"]: (one["probability"], one["flower_c"]) for one in frost["nights"]}
    assert found == {day.isoformat(): (1.0, wanted) for day, wanted in NIGHTS.items()}
    assert frost["nights_in_season"] == {"p10": 2.0, "p50": 2.0, "p90": 2.0}
    assert frost["protection"] == "not stated"


def test_fruit_lost_is_the_difference_to_the_same_draws_without_frost(
    season: SeasonForecast, miami: HourlyWeather
) -> None:
    # The same season in which the two nights stop at 0 degC, run for itself: seven hours of each
    # are some degrees warmer for the bed as well, which moves fruit by half a percent.
    mild = told(colder(miami, dict.fromkeys(NIGHTS, 0.0)), a_block("silent", season_end=END))
    block = season.blocks[0]
    spared = block.spared_g
    assert spared == pytest.approx(mild.blocks[0].season_g, rel=6e-3)
    frost = block.frost_part(season.packout)
    lost = (spared - block.season_g).mean()
    assert frost["fruit_lost_g_per_plant"]["mean"] == pytest.approx(lost, abs=0.06)
    by_night = sum(one["fruit_lost_g"] for one in frost["nights"])
    by_week = sum(one["g_per_plant"] for one in frost["fruit_lost_by_week"])
    assert (by_night, by_week) == (pytest.approx(lost, rel=0.01), pytest.approx(lost, rel=0.02))


def test_two_nights_take_weeks_of_a_short_season(season: SeasonForecast) -> None:
    document = season.to_dict()
    frost = document["blocks"][0]["frost"]
    share = frost["share_of_season_lost"]
    assert share["mean"] == pytest.approx(0.49, abs=0.03)  # everything between bud and ripe fruit
    lost = {one["week"]: one["g_per_plant"] for one in frost["fruit_lost_by_week"]}
    assert {"2026-W04", "2026-W05", "2026-W06", "2026-W07"} <= set(lost)
    assert share["p90_over_weather_years"] == pytest.approx(share["mean"], abs=1e-3)  # one year
    assert frost["caution"].startswith("CAUTION: frost takes")
    assert frost["caution"] in document["warnings"]
    first = [one.startswith("CAUTION: frost takes") for one in document["warnings"]]
    assert first == [True] * 4 + [False] * (len(first) - 4)  # all but the watered one


def test_what_is_not_stated_counts_as_unprotected_with_protection_beside(
    season: SeasonForecast,
) -> None:
    silent, bare, wet = (season.to_dict()["blocks"][number] for number in range(3))
    assert silent["fruit"] == bare["fruit"]
    beside = silent["frost"]["with_protection"]
    assert bare["frost"]["with_protection"] is wet["frost"]["with_protection"] is None
    # water that is enough keeps all that can be kept
    assert beside["season_g_per_plant"] == wet["fruit"]["season_g_per_plant"]
    assert beside["weekly"] == wet["weekly"]
    assert wet["frost"]["share_of_season_lost"]["mean"] == 0.0
    assert [one["flower_protected_c"] for one in wet["frost"]["nights"]] == [0.0, 0.0]
    assert [one["flower_c"] for one in wet["frost"]["nights"]] == list(NIGHTS.values())


def test_trays_of_the_season_stand_beside_with_protection(season: SeasonForecast) -> None:
    document = season.to_dict()
    bare = {row["week"]: row["trays"]["p50"] for row in document["total"]["weekly"]}
    beside = {row["week"]: row["trays"]["p50"]
              for row in document["frost"]["with_protection"]["weekly"]}  # fmt: skip
    assert sum(beside.values()) > 1.02 * sum(bare.values())
    _, total = season.total_trays()
    assert season.with_protection.total_trays()[1].sum() > 1.02 * total.sum()
    wet = replace(season, blocks=season.blocks[2:3])
    assert wet.with_protection is None
    assert wet.to_dict()["frost"]["with_protection"] is None


@pytest.mark.parametrize("way", [3, 4])
def test_protection_outside_its_days_is_none(season: SeasonForecast, way: int) -> None:
    bare, out = season.blocks[1], season.blocks[way]
    places = [(day - bare.planting_date).days for day in NIGHTS]
    assert np.array_equal(bare.frost.flower_min_c[:, places], out.frost.flower_min_c[:, places])
    assert out.frost_part(season.packout)["share_of_season_lost"]["mean"] > 0.15


def test_frost_water_is_no_water_for_the_bed(frosty: HourlyWeather) -> None:
    dry = a_setup()
    wet = replace(dry, block=replace(dry.block, frost_protection=WATER))
    one, other = simulate_block(dry, frosty), simulate_block(wet, frosty)
    assert np.array_equal(one.temperatures.crown_c, other.temperatures.crown_c)
    assert np.array_equal(one.bed.sprinkling_mm_h, other.bed.sprinkling_mm_h)


def test_a_season_without_frost_nights_is_run_once_and_says_so(miami: HourlyWeather) -> None:
    mild = told(miami, a_block(season_end=END))
    block = mild.blocks[0]
    assert np.shares_memory(block.weekly_g, block.spared_weekly_g)
    assert not block.frost.has_nights
    document = mild.to_dict()
    assert document["blocks"][0]["frost"]["nights"] == []
    assert not any("frost" in one.lower() for one in document["warnings"])
    assert "no night below 0 °C at flower height" in to_text(forecast_parts, document)


def test_the_caution_begins_at_a_twentieth_in_the_mean_or_15_percent_in_a_year_of_ten() -> None:
    spared = np.full((20, 2), 100.0)
    assert is_serious(shares_lost(spared - 5.0, spared))
    assert not is_serious(shares_lost(spared - 4.98, spared))
    lost = np.zeros((20, 2))
    lost[:3] = 15.0  # three years of twenty
    assert shares_lost(spared - lost, spared) == {"mean": 0.0225, "p90_over_weather_years": 0.15}
    assert is_serious(shares_lost(spared - lost, spared))
    lost[0] = 0.0  # two of twenty: nine of ten years lose less
    assert not is_serious(shares_lost(spared - lost, spared))


def test_text_and_page_say_it_first_and_in_the_units_of_the_reader(season: SeasonForecast) -> None:
    document = season.to_dict()
    text = to_text(forecast_parts, document)
    assert text.index("! CAUTION: frost takes") < text.index("80 % interval")
    for words in (
        "18 January 2026",
        "As protected",
        "no frost alarm",
        "nothing until plants and fruit",
    ):
        assert words in text
    assert max(map(len, text.splitlines())) <= 100
    page = to_html(forecast_parts, document, units="us")
    assert page.index("Frost takes") < page.index("picked first")
    assert "23.5" in page  # -4.7 degC
    spanish = to_html(forecast_parts, document, language="es")
    assert "La helada se lleva" in spanish


def test_a_night_by_hand() -> None:
    # One open flower a day; critical -1.1, half die 1.1 below, width 0.4: at -2.2 half die, and at
    # 0 degC 1 / (1 + exp(5.5)) = 0.4 %. Of a flower that is open for the whole night the share
    # lost against 0 degC is 1 - 0.5 / 0.99593 = 0.498.
    plants = plant_records(cultivars()["Basalt"], transplants()["plug"])[:1]
    flowers = np.zeros((1, 90))
    flowers[0, 40] = 1.0  # open from 40.5 to 43.5
    minima = np.full(90, 5.0)
    minima[41] = -2.2
    lost, fruit = lost_by_night(flowers, np.zeros((1, 90)), minima, np.full(90, 10.0), plants)
    assert lost[41] == pytest.approx(0.498, abs=2e-3)
    assert lost.sum() == lost[41]
    assert fruit.sum() == 0.0


def test_a_comparison_is_without_protection_and_tells_what_it_would_keep(
    frosty: HourlyWeather,
) -> None:
    weather = SeasonWeather(history=frosty.slice(len(frosty) // 2, len(frosty)))
    block = a_block("silent", season_end=END)

    def compared(block: Block) -> dict:
        season = a_season(block)
        seasons = run_options(
            season, weather, block, plantings=[date(2025, 10, 5), date(2025, 10, 15)],
            films=["black"], cultivars=["Basalt"], transplants=["bare-root"],
            issue_date=date(2025, 10, 4), draws=8,
        )  # fmt: skip
        digest = digest_of(seasons, packout_of(None, draws=8, seed=0), seed=0)
        return compare_document(season, digest, weather=weather, issue_date=date(2025, 10, 4))

    silent = compared(block)
    wet = compared(replace(block, frost_protection=WATER))
    for bare, kept in zip(silent["options"], wet["options"], strict=True):
        assert bare["frost"]["share_of_season_lost"]["mean"] > 0.3
        beside = bare["frost"]["with_protection"]
        assert beside["season_g_per_plant"] == kept["season_g_per_plant"]
        assert kept["frost"] == {
            "share_of_season_lost": {"mean": 0.0, "p90_over_weather_years": 0.0},
            "with_protection": None,
        }
    assert silent["warnings"][0].startswith("CAUTION: frost takes")
    assert wet["frost"]["caution"] is None
    text = to_text(compare_parts, silent)
    assert text.index("! CAUTION: frost takes") < text.index("Best on average")
    assert "Frost\n  No protection is stated, so none is counted." in text
    assert "Lost, one year of ten" in to_html(compare_parts, silent)


def test_of_many_blocks_the_cautions_name_those_that_lose_most() -> None:
    blocks = []
    for number in range(9):
        nights = np.full((1, 10), -2.0)
        found = FrostNights(nights, nights, np.ones(1), np.zeros((1, 10)), np.zeros((1, 10)))
        fruit = np.full((1, 1), 94.0 - 5.0 * number)
        blocks.append((a_block(f"block {number}"), found, fruit, np.full((1, 1), 100.0)))
    told = frost_warnings(blocks)
    assert "'block 8'" in told[0]
    assert told[6] == "CAUTION: frost takes as much or less of 3 more blocks"
    assert len(told) == 10  # and three on frost itself
