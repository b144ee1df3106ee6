"""What the page says where figures are missing."""

import re

from phenocast.report.labour_text import labour_text

WEEK = {
    "week": "2027-W03", "trays": {"p10": 80, "p50": 100, "p90": 130},
    "need_h": {"p50": 40, "p90": 60}, "need_people": {"p50": 1.0, "p90": 1.5},
    "packing_people": {"p50": 0.4, "p90": 0.5}, "planned": 1, "change": 1,
    "temporary": {"p50": 0.0, "p90": 0.5}, "extra_h": {"p50": 0, "p90": 3},
    "short_of_core_probability": 0.5, "short_of_all_probability": 0.0, "decide_by": None,
}  # fmt: skip


def page(**figures):
    told = {
        "expected_cost": 1000.0, "cvar_90": 1500.0, "fruit_picked_share": 0.98,
        "no_fruit_lost_probability": 0.6, "value_of_hedging": 12.0,
        "value_of_perfect_information": 90.0, "gap": 1e-4, "gap_reached": True, "seasons_kept": 8,
        "reduction_error": {"distance_share": 0.5, "weekly_mean": 0.02, "weekly_p90": 0.05},
    } | figures  # fmt: skip
    return labour_text({
        "site": "Home", "as_of": "2027-01-01", "draws": 3, "seed": 0, "currency": "EUR",
        "pack": {"name": "8 x 1 lb", "net_mass_kg": 3.6}, "packed_in": "field",
        "picking": {"walk_h_per_ha": 20.0, "reach_h_per_t": 20.0, "from": "shipped assumption"},
        "figures": told, "weeks": [WEEK], "warnings": [],
        "heat": {"cautions": ["A planning aid."], "working_hours": [6.0, 14.0], "weeks": []},
        "assumptions": [],
    })  # fmt: skip


def test_a_search_that_was_cut_short_says_nothing_of_hedging():
    text = page(gap_reached=False, gap=0.3, value_of_hedging=None,
                value_of_perfect_information=None)  # fmt: skip
    assert "is not known: the search ended early" in text
    assert "30.000 % (ended by the time limit)" in text


def test_a_mean_plan_that_breaks_a_rule_is_told():
    assert "would break a rule in some season" in page(value_of_hedging=None)


def test_worth_in_money():
    flat = " ".join(page().split())
    assert re.search(r"is worth 12 EUR; knowing the season beforehand would be worth 90\.", flat)
