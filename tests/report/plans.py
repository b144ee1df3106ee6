"""A small labour document, written by hand: the crew of six weeks and its heat."""

from __future__ import annotations

from typing import Any

from phenocast.planning.labour.heat_stress import CAUTIONS

WEEKS = tuple(f"2027-W{number:02d}" for number in range(14, 26))
NEED = (8.2, 11.4, 14.9, 19.6, 24.1, 27.3, 28.8, 27.9, 24.2, 18.5, 11.1, 5.2)
CREW = (10, 10, 16, 16, 24, 27, 27, 27, 24, 18, 12, 6)


def pair(middle: float, wide: float) -> dict[str, float]:
    return {"p50": round(middle, 1), "p90": round(middle + wide, 1)}


def plan() -> dict[str, Any]:
    """Twelve weeks; two changes are decided, the others are not."""
    weeks = []
    for number, week in enumerate(WEEKS):
        need, crew = NEED[number], CREW[number]
        change = crew - (CREW[number - 1] if number else crew)
        weeks.append(
            {
                "week": week,
                "trays": {"p10": round(need * 100), "p50": round(need * 130),
                          "p90": round(need * 160)},
                "need_h": pair(40.0 * need, 90.0), "need_people": pair(need, 0.12 * need),
                "planned": crew, "change": change, "temporary": pair(0.0, number % 3),
                "extra_h": pair(8.0 * (number % 4), 10.0),
                "short_of_core_probability": round(0.2 + 0.06 * number, 3),
                "short_of_all_probability": 0.04 if number == 4 else 0.0,
                "decide_by": f"2027-04-{5 + 2 * number:02d}" if number > 2 else None,
                "packing_people": pair(0.0, 0.0),
            }
        )  # fmt: skip
    heat = [
        {
            "week": week,
            "highest_wbgt_c": pair(24.0 + 0.5 * number, 1.2),
            "highest_heat_index_c": pair(27.0 + 0.5 * number, 2.0),
            "hours_above_limit_acclimatised": pair(max(0.0, number - 6.0), 2.0),
            "hours_above_limit_new_crew": pair(2.0 * number, 4.0),
            "overtime_hours_above_limit": pair(0.0, 0.3),
            "hours_a_person": {"mean": 41.0, "p90": 44.0, "most": 47.5}, "new_people": number % 4,
            "work_share_range": [0.94, 0.99], "work_share_range_new_crew": [0.75, 0.98],
            "starts": [], "better_start": None,
            "suggestion": "start at 05:00 instead of 06:00" if number > 8 else "",
        }
        for number, week in enumerate(WEEKS)
    ]  # fmt: skip
    return {
        "schema_version": 1, "engine_version": "0", "kind": "labour", "issue_date": "2027-04-03",
        "as_of": "2027-04-03", "site": "Low Quay Growers", "draws": 50, "seed": 0,
        "currency": "EUR", "pack": {"name": "8 x 500 g", "net_mass_kg": 4.0, "over_pack": 0.02,
                                     "left_share": {"p10": 0.056, "p50": 0.121, "p90": 0.185},
                                     "least_t_per_ha": 0.02},
        "picking": {"walk_h_per_ha": 20.0, "reach_h_per_t": 20.0,
                    "from": "shipped assumption"},
        "packed_in": "field",
        "figures": {
            "expected_cost": 84210.5, "cvar_90": 97320.25, "fruit_picked_share": 0.9971,
            "no_fruit_lost_probability": 0.62, "value_of_hedging": 640.0,
            "value_of_perfect_information": 5120.0, "gap": 0.0004, "gap_reached": True,
            "seasons_kept": 20,
            "reduction_error": {"distance_share": 0.5, "weekly_mean": 0.021, "weekly_p90": 0.05},
            "seasons_at_large": {
                "seasons": 200, "expected_cost": 84210.5, "cvar_90": 97320.25,
                "fruit_picked_share": 0.9971, "no_fruit_lost_probability": 0.62,
                "fruit_lost_probability": 0.38, "cover": "some-lost",
                "core_alone_probability": 0.1, "overtime_probability": 0.9,
                "temporary_probability": 0.55, "all_short_probability": 0.04,
                "over_loss_limit_probability": None,
            },
        },
        "weeks": weeks,
        "loading_h": [{"week": week, "p50": 4.0, "p90": 6.5} for week in WEEKS],
        "blocks": [
            {"block": "Quay East",
             "weeks": [{"week": WEEKS[0], "trays": {"p10": 90.0, "p50": 120.5, "p90": 160.0},
                        "picks": 2.0, "left_in_field_kg": 35}]}
        ],
        "frost": {"blocks": [], "with_protection": None},
        "heat": {
            "cautions": list(CAUTIONS), "working_hours": [6.0, 12.66666667], "weeks": heat,
            "time_zone": "Atlantic/Canary", "earliest": None, "latest": None,
            "clock": [{"from": "2027-04-05", "name": "WEST", "utc_offset_h": 1.0}],
            "long_week": None, "hot_overtime": None,
            "share_of_hours_in_plan": [],
        },
        "assumptions": [{"set": "labour picking", "name": "walk", "value": 20.0,
                         "unit": "h ha-1", "source": "an assumption"}],
        "warnings": ["not validated with field data"],
    }  # fmt: skip
