"""The page of a forecast: every case of a date, no figure that is not in the document."""

import copy
import json
import re

import pytest

from phenocast.report.columns import percent
from phenocast.report.text import forecast_text, weather_source

QUANTILES = {"p10": 1.0, "p50": 2.0, "p90": 3.0}
STAGE = {
    "median": "2026-10-20", "p10": "2026-10-11", "p90": "2026-10-30",
    "not_reached_probability": 0.0,
}  # fmt: skip
INITIATION = {
    **STAGE, "arrived_with_buds": 0.0,
    "heat": {"days": 60, "hours_stopped_share": {"p10": 0.1, "p50": 0.19, "p90": 0.3},
             "new_trusses_lost_share": {"p10": 0.15, "p50": 0.2, "p90": 0.26}},
}  # fmt: skip
HEAT = {
    "days": 31, "from": "2026-09-28", "to": "2026-10-28", "hours_above_30c": 41.0,
    "degree_hours_above_30c": 83.0, "degree_hours_above_30c_spread": QUANTILES, "max_c": 33.2,
}  # fmt: skip
MONTH = {
    "month": "2026-10", "hours_above_30c": 41.0, "degree_hours_above_30c": 83.0, "mean_c": 24.5,
    "max_c": 33.2, "soil_10cm_mean_c": 25.1, "soil_10cm_max_c": 31.4,
}  # fmt: skip
BLOCK = {
    "block": "East", "cultivar": "Marl", "film": "black", "transplant": "plug",
    "planting_date": "2026-09-28", "last_day": "2027-07-24", "plants": 60000,
    "first_pick": {
        "median": "2026-12-30", "p10": "2026-12-21", "p90": "2027-01-05", "mean": "2026-12-29",
        "week_probabilities": [
            {"week": "2026-W52", "probability": 0.25}, {"week": "2026-W53", "probability": 0.5},
            {"week": "2027-W01", "probability": 0.243}, {"week": "2027-W02", "probability": 0.001},
        ],
        "not_reached_probability": 0.006, "threshold_g_per_plant": 3.0,
    },
    "season_end": {"rule": "fruit", "simulated_to": "2027-08-10", "g_per_plant": 5.0, "weeks": 2},
    "stages": {"flower_initiation": INITIATION, "anthesis": STAGE},
    "crown": {
        "headline": "to_first_bloom",
        "to_first_bloom": {**HEAT, "reached": True},
        "compared": {**HEAT, "days": 22, "degree_hours_above_30c": 61.0},
        "season": {**HEAT, "days": 301, "degree_hours_above_30c": 977.0},
        "by_month": [MONTH, {**MONTH, "month": "2026-11", "hours_above_30c": 0.0}],
    },
    "plants_alive_share": {"p10": 0.91, "p50": 0.97, "p90": 0.999},
    "fruit": {
        "season_g_per_plant": {"p10": 411.0, "p50": 612.0, "p90": 813.0},
        "early_g_per_plant": QUANTILES, "early_until": "2027-01-25",
    },
    "weekly": [
        {"week": "2026-W53", "g_per_plant": QUANTILES, "trays": QUANTILES},
        {"week": "2027-W03", "g_per_plant": QUANTILES, "trays": QUANTILES},
    ],
    "frost": {
        "protection": "not stated", "decided_by": "an open flower",
        "nights_in_season": {"p10": 0.0, "p50": 2.0, "p90": 5.0},
        "nights": [{"date": "2027-01-18", "probability": 0.25, "flower_c": -2.4,
                    "flower_protected_c": -2.4, "flowers_lost": 0.31, "fruit_lost_g": 7.7}],
        "flowers_lost_share": 0.01,
        "fruit_lost_g_per_plant": {"mean": 7.7, "p10": 0.0, "p50": 0.0, "p90": 31.0},
        "fruit_lost_by_week": [{"week": "2027-W03", "g_per_plant": 7.7}],
        "share_of_season_lost": {"mean": 0.0123, "p90_over_weather_years": 0.06},
        "caution": None,
        "with_protection": {"season_g_per_plant": {"p10": 415.0, "p50": 625.0, "p90": 820.0},
                            "weekly": [{"week": "2027-W03", "g_per_plant": QUANTILES,
                                        "trays": QUANTILES}]},
    },
    "warnings": ["a caution of this block"],
}  # fmt: skip
DOCUMENT = {
    "schema_version": 2, "kind": "forecast", "issue_date": "2026-11-20",
    "site": {"name": "Home Field", "latitude": 29.3, "longitude": -15.6, "elevation_m": 35.0,
             "time_zone": "Atlantic/Canary"},
    "weather": {"observed_until": "2026-11-20", "outlook_members": 8,
                "past_years": ["2002/03", "2024/25"], "weather_traces": 23,
                "filled_hours": {"air interpolated": 7}},
    "draws": 200, "seed": 0, "pack": {"name": "8 x 1 lb", "net_mass_kg": 3.6287, "over_pack": 0.02,
             "left_share": {"p10": 0.056, "p50": 0.121, "p90": 0.185}},
    "blocks": [BLOCK],
    "total": {"weekly": [{"week": "2026-W53", "trays": QUANTILES}]},
    "frost": {"with_protection": None},
    "assumptions": [
        {"set": "film black", "name": "longwave_emittance", "value": 0.85, "unit": "1",
         "source": ""},
        {"set": "soil sand", "name": "water", "value": 0.15, "unit": "m3 m-3", "source": ""},
    ],
    "warnings": ["a caution of the season"],
}  # fmt: skip


def document(**changes):
    made = copy.deepcopy(DOCUMENT)
    made["blocks"][0].update(changes)
    return made


def test_the_page_tells_the_answer_and_its_ground():
    page = forecast_text(DOCUMENT)
    for words in (
        "As of 2026-11-20", "8 members", "air interpolated 7 h", "2026-W53, 2026-12-30 (median)",
        "2026-12-21 to 2027-01-05", "1 % of the cases", "3 g per plant", "41 h and 83 degC h",
        "highest 33.2 degC", "a caution of this block", "a caution of the season",
        "2 numbers behind this are assumed",
    ):  # fmt: skip
        assert words in page, words


def test_weeks_stand_in_order_with_their_chance_as_a_bar():
    rows = [line for line in forecast_text(DOCUMENT).splitlines() if line.startswith("  20")]
    weeks = [row.split()[0] for row in rows]
    assert weeks == ["2026-W52", "2026-W53", "2027-W01", "2027-W02", "2027-W03"]
    bars = {row.split()[0]: row.count("#") for row in rows}
    assert bars["2026-W53"] == 2 * bars["2026-W52"] == 24
    assert ":" in rows[3]  # a chance too small for a mark is still seen
    assert "<1 %" in rows[3]


def test_idle_weeks_become_one_row_and_busy_ones_stay():
    none = dict.fromkeys(("p10", "p50", "p90"), 0.0)
    idle = [f"2027-W{week:02d}" for week in range(4, 9)]
    weekly = [
        *BLOCK["weekly"],
        *({"week": week, "g_per_plant": none, "trays": none} for week in idle),
        {"week": "2027-W09", "g_per_plant": {**none, "p90": 0.06}, "trays": none},
    ]
    rows = [line for line in forecast_text(document(weekly=weekly)).splitlines() if "-W" in line]
    weeks = [row.split()[0] for row in rows]
    assert "2027-W04..W08" in weeks
    assert "2027-W03" in weeks
    assert "2027-W09" in weeks
    assert not set(idle) & set(weeks)


def test_a_share_that_is_not_none_or_all_never_looks_so():
    assert percent(0.005) == "<1 %"
    assert percent(0.995) == ">99 %"
    assert (percent(0.0), percent(0.01), percent(1.0)) == ("0 %", "1 %", "100 %")


def test_only_hot_months_are_listed():
    page = forecast_text(DOCUMENT)
    assert re.search(r"^ +2026-10 +41 +83 ", page, re.MULTILINE)
    assert not re.search(r"^ +2026-11 ", page, re.MULTILINE)


def test_a_block_that_never_reaches_first_pick_is_not_dropped():
    never = {
        "median": None, "p10": None, "p90": None, "mean": None, "week_probabilities": [],
        "not_reached_probability": 1.0, "threshold_g_per_plant": 3.0,
    }  # fmt: skip
    stage = dict.fromkeys(("median", "p10", "p90")) | {"not_reached_probability": 1.0}
    page = forecast_text(
        document(
            first_pick=never,
            weekly=[],
            stages={"flower_initiation": INITIATION | stage, "anthesis": stage},
        )
    )
    assert "not reached in half of the cases or more" in page
    assert "100 % of the cases" in page
    assert "No fruit in any week" in page
    assert "never..never" in page


def test_a_late_tail_that_is_not_reached_says_never():
    pick = {**BLOCK["first_pick"], "p90": None, "not_reached_probability": 0.2}
    page = forecast_text(document(first_pick=pick))
    assert "2026-12-21 to never" in page
    assert "20 % of the cases" in page


def test_assumed_numbers_are_listed_on_request():
    page = forecast_text(DOCUMENT, list_assumed=True)
    assert "film black: longwave_emittance 0.85" in page
    assert "soil sand: water 0.15 m3 m-3" in page
    assert "--assumed" not in page


@pytest.mark.parametrize("name", ["x" * 300, "北" * 120, "a\x1b[2Jb", "e\u0301" * 150, "<b>"])
def test_names_keep_the_page_narrow(name):
    from phenocast.report.columns import places

    made = document(block=name, cultivar=name, film=name)
    made["site"]["name"] = name
    page = forecast_text(made)
    assert "\x1b" not in page
    assert max(places(line) for line in page.splitlines()) <= 100


def test_every_figure_of_the_page_is_in_the_document():
    held = json.dumps(DOCUMENT)
    numbers = {float(text) for text in re.findall(r"\d+\.?\d*", held)}
    # shares become per cent; the rest is wording of the page: 8 in 10, above 30, at 10 cm, p10..p90
    numbers |= {round(100 * number) for number in numbers if number <= 1}
    numbers |= {round(number, 2) for number in numbers} | {10, 90, 50, 8, 30, 99, 1, 2}
    for text in re.findall(r"\d+\.?\d*", forecast_text(DOCUMENT)):
        assert float(text) in numbers, text


def test_where_the_weather_comes_from():
    weather = {
        "observed_until": None,
        "outlook_members": 0,
        "past_years": ["2005"],
        "weather_traces": 1,
    }
    assert weather_source(weather) == "one past or typical year (2005); one possible season"
