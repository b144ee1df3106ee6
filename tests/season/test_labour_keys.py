"""The tables of labour, prices and costs: read whole, or every fault told at once with its path."""

from __future__ import annotations

import datetime as dt
import tomllib
from typing import Any

import pytest

from phenocast.errors import InputError
from phenocast.season import ClockHours, season_from_mapping

TEXT = """
[site]
name = "Tamarind Coast"
latitude = 29.3
longitude = -15.6
elevation_m = 35
time_zone = "Atlantic/Canary"
[weather]
history = "2001.parquet"
[bed]
top_width_m = 0.7
height_m = 0.25
row_spacing_m = 1.5
soil = "sandy loam"
[[block]]
name = "Quay East"
cultivar = "Marl"
film = "black"
planting_date = 2026-09-25
plants_per_ha = 50_000
area_ha = 1.5
transplant = "bare-root"
[labour]
currency = "EUR"
wage_per_h = 9.5
hours_per_week = 40
most_hours_per_week = 48
overtime = { day = [[8, 1.5], [12, 2]], week = [[40, 1.5]], longest_week_h = 60 }
crew_most = 40
crew_so_far = [{ from = 2027-01-04, people = 12 }, { from = 2027-02-01, people = 15 }]
notice_weeks = 3
temporary_most = 5
temporary_wage_per_h = 14
work_hours = [6, "13:30"]
earliest = "05:30"
latest = 20
long_week_h = 52
[prices]
currency = "EUR"
months = { dec = 4, jan = 3.2 }
[costs]
currency = "EUR"
film_per_ha = { black = 900, white-on-black = 1300.5 }
transplant_each = { bare-root = 0.14 }
planting_per_ha = 2000
harvest_per_kg = 1.1
"""


def stated(table: str = "", **changed: Any) -> dict[str, Any]:
    mapping = tomllib.loads(TEXT)
    for key, value in changed.items():
        if value is None:
            mapping[table].pop(key, None)
        else:
            mapping[table][key] = value
    return mapping


def test_everything_stated_arrives() -> None:
    season = season_from_mapping(stated(), "season.toml")
    labour, prices = season.labour, season.prices
    assert labour is not None
    assert prices is not None
    assert labour.overtime is not None
    assert labour.overtime.day == ((8.0, 1.5), (12.0, 2.0))
    assert labour.overtime.longest_week_h == 60.0
    assert (labour.crew_so_far[1].from_day, labour.crew_so_far[1].people) == (
        dt.date(2027, 2, 1),
        15,
    )
    assert labour.work_hours == ClockHours(6.0, 13.5)
    assert (labour.earliest, labour.latest, labour.long_week_h) == (5.5, 20.0, 52.0)
    assert (labour.pack, labour.contract_weeks, labour.packed_in) == ("8 x 1 lb", 1, "field")
    assert prices.months == {"dec": 4.0, "jan": 3.2}


def test_a_season_without_labour_and_prices_has_none() -> None:
    mapping = stated()
    del mapping["labour"], mapping["prices"]
    season = season_from_mapping(mapping)
    assert season.labour is None
    assert season.prices is None


def test_the_name_of_an_example_stands_for_its_rules() -> None:
    labour = season_from_mapping(stated("labour", overtime="example-long-day")).labour
    assert labour is not None
    assert labour.overtime is not None
    assert labour.overtime.example == "example-long-day"


@pytest.mark.parametrize(
    ("table", "key", "value", "words"),
    [
        ("labour", "wage_per_h", 0, "labour.wage_per_h: out of range"),
        ("labour", "wage_per_h", None, "labour.wage_per_h: this key is required"),
        ("labour", "crew_most", None, "labour.crew_most: this key is required"),
        ("labour", "crew_most", 3.5, "labour.crew_most"),
        ("labour", "crew_most", -1, "labour.crew_most: out of range"),
        ("labour", "crew_least", 50, "larger than the largest"),
        ("labour", "days_per_week", 8, "1 to 7"),
        ("labour", "hours_per_week", 200, "labour.hours_per_week: out of range"),
        ("labour", "most_hours_per_week", 30, "fewer hours than the contract"),
        ("labour", "overtime", None, "no overtime rules"),
        ("labour", "overtime", "example-longday", "did you mean 'example-long-day'"),
        ("labour", "overtime", {"day": [[8, 1.5, 3]]}, "no pair"),
        ("labour", "overtime", {"days": [[8, 1.5]]}, "did you mean 'day'"),
        ("labour", "temporary_wage_per_h", None, "temporary workers have no wage"),
        ("labour", "pack", "8 x 1lb", "did you mean '8 x 1 lb'"),
        ("labour", "tray_kg", 0, "labour.tray_kg: out of range"),
        ("labour", "left_share", 1.0, "labour.left_share: out of range"),
        ("labour", "wage", 9.5, "labour.wage: unknown key"),
        ("labour", "packed_in", "barn", "labour.packed_in: not one of the choices"),
        ("labour", "loss_limit", 1.2, "labour.loss_limit: out of range"),
        ("labour", "currency", "USD", "different currencies"),
        ("labour", "work_hours", [6], "two hours are wanted"),
        ("labour", "earliest", 25, "labour.earliest: not an hour of the day"),
        ("labour", "earliest", 6.5, "labour.work_hours: hours outside earliest to latest"),
        ("labour", "latest", 13, "labour.work_hours: hours outside earliest to latest"),
        ("labour", "latest", 0, "labour.latest: not after the earliest hour"),
        ("labour", "long_week_h", 0, "labour.long_week_h: out of range"),
        ("labour", "crew_so_far", [{"from": "04/01/2027", "people": 3}], "not a date"),
        ("labour", "crew_so_far",
         [{"from": dt.date(2027, 2, 1), "people": 3}, {"from": dt.date(2027, 1, 1), "people": 3}],
         "out of order"),
        ("prices", "months", {"des": 3.0}, "did you mean 'dec'"),
        ("prices", "months", {"dec": 0.0}, "not above zero"),
        ("prices", "months", None, "in no way, or in more than one"),
        ("prices", "per_kg", 3.0, "in no way, or in more than one"),
        ("prices", "shape", "winter-field", "a shape needs a price"),
        ("prices", "currency", "", "prices.currency"),
        ("prices", "supply_correlation", -2.0, "-1 to 1"),
        ("costs", "currency", "USD", "costs and prices are in different currencies"),
        ("costs", "currency", None, "costs.currency: this key is required"),
        ("costs", "film_per_ha", {"blak": 900}, "costs.film_per_ha.blak: unknown film"),
        ("costs", "film_per_ha", {"blak": 900}, "did you mean 'black'"),
        ("costs", "film_per_ha", {"black": -1.0}, "costs.film_per_ha.black: a cost below zero"),
        ("costs", "film_per_ha", 900, "costs.film_per_ha"),
        ("costs", "transplant_each", {"bareroot": 0.1}, "did you mean 'bare-root'"),
        ("costs", "planting_per_ha", "2000", "a number without quotes"),
        ("costs", "planting_per_ha", -1.0, "costs.planting_per_ha: out of range"),
        ("costs", "harvest_per_kg", float("nan"), "costs.harvest_per_kg"),
        ("costs", "film_per_acre", {"black": 900}, "costs.film_per_acre: unknown key"),
    ],
)  # fmt: skip
def test_bad_values(table: str, key: str, value: Any, words: str) -> None:
    with pytest.raises(InputError) as told:
        season_from_mapping(stated(table, **{key: value}), "season.toml")
    assert words in str(told.value)
    assert all(fault.where.startswith("season.toml: ") for fault in told.value.faults)


def test_costs_are_read() -> None:
    costs = season_from_mapping(stated()).costs
    assert costs is not None
    assert costs.film_per_ha == {"black": 900.0, "white-on-black": 1300.5}
    assert costs.transplant_each == {"bare-root": 0.14}
    assert (costs.planting_per_ha, costs.harvest_per_kg) == (2000.0, 1.1)


def test_a_film_of_the_users_own_may_have_a_cost() -> None:
    optics = {"solar_reflectance": 0.45, "solar_transmittance": 0.02, "longwave_emittance": 0.75,
              "longwave_transmittance": 0.05}  # fmt: skip
    mapping = stated("costs", film_per_ha={"mine": 1200.0}) | {"film": {"mine": optics}}
    costs = season_from_mapping(mapping).costs
    assert costs is not None
    assert costs.film_per_ha == {"mine": 1200.0}


def test_costs_without_prices_are_held_against_labour() -> None:
    mapping = stated("labour", value_per_tray=9.0)
    del mapping["prices"]
    assert season_from_mapping(mapping).costs is not None
    mapping["costs"]["currency"] = "USD"
    with pytest.raises(InputError, match="costs and labour are in different currencies"):
        season_from_mapping(mapping)


def test_no_workers_at_all() -> None:
    mapping = stated("labour", crew_most=0, temporary_most=0)
    with pytest.raises(InputError, match="no workers at all"):
        season_from_mapping(mapping)


def test_what_a_lost_tray_costs_must_come_from_somewhere() -> None:
    mapping = stated()
    del mapping["prices"]
    with pytest.raises(InputError, match="value_per_tray"):
        season_from_mapping(mapping)
    mapping["labour"]["value_per_tray"] = 9.0
    assert season_from_mapping(mapping).labour is not None


def test_faults_of_both_tables_are_told_with_those_of_the_rest() -> None:
    mapping = stated("labour", crew_least=50, pack="box", temporary_wage_per_h=None)
    mapping["prices"]["months"] = {"dez": 1.0}
    mapping["block"][0]["film"] = "blak"
    with pytest.raises(InputError) as told:
        season_from_mapping(mapping)
    assert len(told.value.faults) == 5
