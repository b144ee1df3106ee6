"""The text of a forecast: the same parts as its page, every case of a date, narrow lines."""

import copy
import re

import pytest

from phenocast.report.columns import places
from phenocast.report.forecast import forecast_parts, forecast_summary
from phenocast.report.parts import Table
from phenocast.report.reader import Reader, plain_text
from phenocast.report.render import table_lines, to_html, to_text
from tests.report.reading import read

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
WEEK = {
    "week": "2026-W53", "crown_mean_c": QUANTILES, "crown_max_c": QUANTILES,
    "degree_hours_above_30c": QUANTILES,
    "reached": {"flower_initiation": 1.0, "anthesis": 1.0, "first_pick": 0.75},
}  # fmt: skip
BLOCK = {
    "block": "East", "cultivar": "Marl", "film": "black", "transplant": "plug",
    "planting_date": "2026-09-28", "last_day": "2027-07-24", "plants": 60000,
    "first_pick": {
        "spread_from": None,
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
    "week_by_week": [WEEK],
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
    "schema_version": 2, "engine_version": "0.1.0", "kind": "forecast",
    "heat_compared": {"days": 22, "from": None, "to": None}, "issue_date": "2026-11-20",
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


def words(text):
    return " ".join(text.split())


def test_the_text_tells_the_answer_and_its_ground():
    text = words(to_text(forecast_parts, DOCUMENT))
    for told in (
        "As of 20 November 2026", "an outlook of 8 members", "air interpolated 7",
        "most likely picked for the first time in week 53 (28 Dec to 3 Jan)",
        "the median is 30 December 2026", "21 Dec to 5 Jan; in <1% of all cases it is not reached",
        "counted from 3.0 g per plant", "83 °C·h above 30 °C", "with 33.2 °C at its highest",
        "a caution of this block", "a caution of the season",
        "2 parameters behind this are assumed",
        "97% (91% to >99%) live through the start", "612 g per plant (411 to 813)",
    ):  # fmt: skip
        assert told in text, told


def test_the_summary_comes_first_and_cautions_that_stop_come_before_it():
    made = document()
    made["warnings"] = ["CAUTION: 344 plants a hectare", "soil is dry"]
    lines = to_text(forecast_parts, made).splitlines()
    assert lines[3] == "! CAUTION: 344 plants a hectare"
    assert lines[5].startswith("East is most likely picked")
    heads = [line for line in lines if line and not line.startswith((" ", "!"))]
    order = ["How sure it is", "What would change it", "What to do next",
             "Cautions, and what was assumed", "The blocks at a glance", "East: Marl on black",
             "What was assumed", "Where these numbers come from"]  # fmt: skip
    assert [head for head in heads if head in order] == order


def week_rows(text):
    part = text[text.index("Chance of the first pick") :]
    rows = [line.split() for line in part.splitlines() if re.match(r"  \d{4}-W\d\d ", line)]
    return {row[0]: row[1:] for row in rows}


def test_weeks_stand_in_order_with_their_chance_and_their_fruit():
    rows = week_rows(to_text(forecast_parts, DOCUMENT))
    assert list(rows) == ["2026-W52", "2026-W53", "2027-W01", "2027-W02", "2027-W03"]
    assert [row[0] for row in rows.values()] == ["25%", "50%", "24%", "<1%", "0%"]
    assert rows["2026-W53"][1:] == ["1.0", "2.0", "3.0", "1", "2", "3"]


def test_idle_weeks_are_left_out_and_others_stay():
    none = dict.fromkeys(("p10", "p50", "p90"), 0.0)
    idle = [f"2027-W{week:02d}" for week in range(4, 9)]
    weekly = [
        *BLOCK["weekly"],
        *({"week": week, "g_per_plant": none, "trays": none} for week in idle),
        {"week": "2027-W09", "g_per_plant": {**none, "p90": 0.06}, "trays": none},
    ]
    rows = week_rows(to_text(forecast_parts, document(weekly=weekly)))
    assert {"2027-W03", "2027-W09"} <= set(rows)
    assert not set(idle) & set(rows)


def test_a_block_that_never_reaches_first_pick_is_not_dropped():
    never = {
        "median": None, "p10": None, "p90": None, "mean": None, "week_probabilities": [],
        "not_reached_probability": 1.0, "threshold_g_per_plant": 3.0, "spread_from": None,
    }  # fmt: skip
    stage = dict.fromkeys(("median", "p10", "p90")) | {"not_reached_probability": 1.0}
    text = words(
        to_text(
            forecast_parts,
            document(
                first_pick=never,
                weekly=[],
                stages={"flower_initiation": INITIATION | stage, "anthesis": stage},
            ),
        )
    )
    assert "East does not reach a first pick in 100% of all cases" in text
    assert "the first pick is not reached in 100% of all cases" in text
    assert "No fruit in any week in nine cases of ten" in text
    assert "not reached not reached" in text  # median and interval of the overview


def test_a_late_tail_that_is_not_reached_says_never():
    pick = {**BLOCK["first_pick"], "p90": None, "not_reached_probability": 0.2}
    text = words(to_text(forecast_parts, document(first_pick=pick)))
    assert "21 Dec to never; in 20% of all cases it is not reached" in text


def test_assumed_parameters_are_listed_on_request():
    text = to_text(forecast_parts, DOCUMENT, list_assumed=True)
    assert re.search(r"film black: longwave_emittance +0\.85 +1", text)
    assert re.search(r"soil sand: water +0\.15 +m3 m-3", text)
    assert "longwave_emittance" not in to_text(forecast_parts, DOCUMENT)


@pytest.mark.parametrize("name", ["x" * 300, "北" * 120, "a\x1b[2Jb", "e\u0301" * 150, "<b>"])
def test_names_keep_the_text_narrow(name):
    made = document(block=name, cultivar=name, film=name)
    made["site"]["name"] = name
    text = to_text(forecast_parts, made)
    assert "\x1b" not in text
    assert max(places(line) for line in text.splitlines()) <= 100


def test_text_and_page_are_made_of_the_same_sentences():
    page = words(" ".join(read(to_html(forecast_parts, DOCUMENT)).words))
    text = words(to_text(forecast_parts, DOCUMENT)).replace(" - ", " ")
    for sentence in forecast_summary(DOCUMENT, Reader()):
        assert plain_text(sentence) in plain_text(page)
        assert plain_text(sentence) in text


def test_the_text_speaks_spanish_and_us_units_as_the_page_does():
    text = words(to_text(forecast_parts, DOCUMENT, language="es", units="us"))
    assert "Con lo sabido hasta el 20 de noviembre de 2026" in text
    assert "149 °F·h por encima de 86 °F" in text


def test_a_wide_table_goes_on_below_with_its_first_column():
    header = ["Name", *(f"Column number {n}" for n in range(20))]
    table = Table("Wide", header, [["East", *("12345.6" for _ in range(20))]], "<" + ">" * 20)
    lines = table_lines(table)
    assert max(map(len, lines)) <= 100
    assert sum("East" in line for line in lines) > 1
    assert " ".join(lines).count("12345.6") == 20


def test_cells_of_text_take_several_lines_and_numbers_one():
    long = "a rather long remark about the option " * 3
    lines = table_lines(Table("T", ["No.", "Said", "n"], [["1", long, "7"]] * 2, "<<>"))
    assert max(map(len, lines)) <= 100
    assert " ".join(lines).split().count("remark") == 6
    assert [line.split()[-1] for line in lines if line.endswith("7")] == ["7", "7"]
