"""The text of hindcasts: every figure of the document in words, none where there is nothing."""

import copy

import pytest

from phenocast.report.hindcast import hindcast_parts
from phenocast.report.render import to_text

DOCUMENT = {
    "schema_version": 1,
    "engine_version": "0.1.0",
    "kind": "hindcast",
    "file": "picks.csv",
    "records": 40,
    "seasons": ["2024", "2025"],
    "block_seasons": 2,
    "past_years": "earlier",
    "draws": 50,
    "seed": 0,
    "leads": [
        {
            "lead_d": 0,
            "pit": {"bins": 2, "first_pick": [0.0, 0.0], "weekly": [0.0, 0.0]},
            "first_pick": {
                "scored": 2, "seasons": 2, "never_reached": 1, "bias_d": -1.5, "mae_d": 3.25,
                "rmse_d": 4.0, "within_a_week": 0.5, "crps_d": 2.5, "coverage_80": 0.75,
                "coverage_80_of_seasons": [0.2, 0.95], "width_80_d": 12.0, "visit_floor_d": 1.0,
                "calendar": {"compared": 2, "mae_d": 6.0, "forecast_mae_d": 3.25, "crps_d": 5.0,
                             "forecast_crps_d": 2.5, "skill": 0.5},
                "days_from_planting": {"compared": 2, "mae_d": 5.0},
                "air_warmth": {"compared": 2, "mae_d": 4.5, "crps_d": 3.0, "forecast_mae_d": 3.25,
                               "skill": 0.2},
            },
            "weekly": {
                "weeks": 20, "taken_g_per_plant": 800.0, "forecast_g_per_plant": 760.0,
                "wape": 0.25, "bias_share": -0.05, "crps_g": 4.0, "coverage_80": 0.7,
                "calendar": {"compared": 18, "wape": 0.4, "forecast_wape": 0.26},
            },
        }
    ],
    "blocks": [
        {
            "season": "a season with a very long name",
            "block": "a block with a very long name too", "cultivar": "Marl", "lead_d": 0,
            "first_pick": {
                "median": "2024-11-20", "p10": "2024-11-15", "p90": None,
                "seen_after": "2024-11-18", "seen_by": "2024-11-25", "round_assumed": False,
                "error_d": -4.5, "held_80": 1.0, "calendar_error_d": None,
            },
        }
    ],
    "not_made": [
        {"season": "2023", "block": "East", "lead_d": 0, "reason": "no past year had ended"}
    ],
    "records_not_used": [
        {"season": "2023", "block": "West", "rows": [2, 3], "reason": "no marketable weight"}
    ],
    "warnings": ["2 season(s): little is told"],
}  # fmt: skip


def words(document):
    return " ".join(to_text(hindcast_parts, document).split())


@pytest.fixture
def document():
    return copy.deepcopy(DOCUMENT)


def test_every_score_is_told(document):
    told = words(document)
    for part in (
        "off by 3.2 days on average", "50% of the forecasts came within a week",
        "held 75% of the first picks", "20% to 95%", "bias [d] -1.5",
        "root mean square error [d] 4.0", "CRPS [d] 2.5", "was off by 6.0 days where",
        "Skill against the mean date 0.50", "sum of air warmth", "was off by 4.5 days where",
        "Skill against the sum of air warmth 0.20", "of the other seasons: mean absolute error [d]",
        "The error of the weekly fruit was 25% of what was picked", "was off by 40% where",
        "bias over what was picked -5%", "held 70% of 20 weeks",
        "Blocks that never reached first pick 1", "no past year had ended",
        "no marketable weight", "2 season(s): little is told",
    ):  # fmt: skip
        assert part in told, part


def test_the_text_keeps_its_width(document):
    assert max(map(len, to_text(hindcast_parts, document).splitlines())) <= 100


def test_nothing_scored_is_said(document):
    document["leads"][0]["first_pick"] = {"scored": 0, "never_reached": 3}
    document["leads"][0]["weekly"] = {"weeks": 0}
    document["blocks"] = []
    told = words(document)
    assert "so no date is scored" in told
    assert "weekly fruit" not in told


def test_one_season_has_no_calendar(document):
    dates = document["leads"][0]["first_pick"]
    dates["calendar"] = {"compared": 0, "mae_d": None, "forecast_mae_d": None, "crps_d": None,
                         "forecast_crps_d": None, "skill": None}  # fmt: skip
    dates["days_from_planting"] = {"compared": 0, "mae_d": None}
    dates["air_warmth"]["compared"] = 0
    document["leads"][0]["weekly"]["calendar"] = {"compared": 0, "wape": None,
                                                  "forecast_wape": None}  # fmt: skip
    told = words(document)
    assert "no calendar to compare with" in told
    assert "No other season has the same weeks" in told


def test_a_later_forecast_says_when_it_was_made(document):
    document["leads"][0]["lead_d"] = 30
    assert "Made 30 days after planting" in to_text(hindcast_parts, document)


def test_many_first_picks_are_told_from_the_largest_error_on(document):
    one = document["blocks"][0]
    document["blocks"] = [
        {**one, "block": f"B{n}", "first_pick": {**one["first_pick"], "error_d": float(n)}}
        for n in range(30)
    ]
    text = to_text(hindcast_parts, document)
    assert "the largest errors first: 20 of 30" in " ".join(text.split())
    part = text[text.index("the largest errors first") :]
    assert part.index("B29") < part.index("B11")
    assert "B9 " not in part
