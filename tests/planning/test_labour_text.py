"""What the page says where figures are missing."""

from phenocast.report.labour import labour_parts
from phenocast.report.render import to_text

WEEK = {
    "week": "2027-W03", "trays": {"p10": 80, "p50": 100, "p90": 130},
    "need_h": {"p50": 40, "p90": 60}, "need_people": {"p50": 1.0, "p90": 1.5},
    "packing_people": {"p50": 0.4, "p90": 0.5}, "planned": 1, "change": 1,
    "temporary": {"p50": 0.0, "p90": 0.5}, "extra_h": {"p50": 0, "p90": 3},
    "short_of_core_probability": 0.5, "short_of_all_probability": 0.0, "decide_by": None,
}  # fmt: skip


HEAT = {
    "week": "2027-W03", "suggestion": "", "highest_wbgt_c": {"p50": 20.0, "p90": 22.0},
    "highest_heat_index_c": {"p50": 24.0, "p90": 26.0},
    "hours_above_limit_acclimatised": {"p50": 0.0, "p90": 1.0},
    "hours_above_limit_new_crew": {"p50": 1.0, "p90": 2.0},
    "work_share_range": [0.9, 1.0], "work_share_range_new_crew": [0.8, 1.0],
}  # fmt: skip
BLOCK = {
    "block": "East",
    "weeks": [
        {"week": "2027-W03", "trays": {"p10": 80, "p50": 100, "p90": 130}, "picks": 1.0,
         "left_in_field_kg": 700},
        {"week": "2027-W04", "trays": {"p10": 180, "p50": 200, "p90": 230}, "picks": 2.5,
         "left_in_field_kg": 800},
    ],
}  # fmt: skip


def page(blocks=1, **figures):
    told = {
        "expected_cost": 1000.0, "cvar_90": 1500.0, "fruit_picked_share": 0.98,
        "no_fruit_lost_probability": 0.6, "value_of_hedging": 12.0,
        "value_of_perfect_information": 90.0, "gap": 1e-4, "gap_reached": True, "seasons_kept": 8,
        "reduction_error": {"distance_share": 0.5, "weekly_mean": 0.02, "weekly_p90": 0.05},
        "seasons_at_large": {"seasons": 200, "expected_cost": 1010.0, "cvar_90": 1600.0,
                             "fruit_picked_share": 0.97, "fruit_lost_probability": 0.4,
                             "cover": "some-lost", "overtime_probability": 0.8,
                             "temporary_probability": 0.5, "all_short_probability": 0.0},
    } | figures  # fmt: skip
    return to_text(labour_parts, {
        "site": "Home", "as_of": "2027-01-01", "issue_date": "2027-01-01",
            "engine_version": "0.1.0",
            "draws": 3, "seed": 0, "currency": "EUR",
        "pack": {"name": "8 x 1 lb", "net_mass_kg": 3.6, "over_pack": 0.02,
                 "left_share": {"p10": 0.1, "p50": 0.1, "p90": 0.1}}, "packed_in": "field",
        "picking": {"walk_h_per_ha": 20.0, "reach_h_per_t": 20.0, "from": "shipped assumption"},
        "figures": told, "weeks": [WEEK], "warnings": [],
        "heat": {"cautions": ["A planning aid."], "working_hours": [6.0, 14.0], "weeks": [HEAT],
                 "time_zone": "Atlantic/Canary", "earliest": None, "latest": None,
                 "clock": [{"from": "2027-01-18", "name": "WET", "utc_offset_h": 0.0}],
                 "long_week": None, "hot_overtime": None},
        "frost": {"blocks": [], "with_protection": None},
        "assumptions": [], "blocks": [BLOCK] * blocks,
        "loading_h": [{"week": "2027-W03", "p50": 1.7, "p90": 2.2}],
    })  # fmt: skip


def flat(text):
    return " ".join(text.split())


def test_a_search_that_was_cut_short_says_nothing_of_hedging():
    text = page(gap_reached=False, gap=0.3, value_of_hedging=None,
                value_of_perfect_information=None)  # fmt: skip
    assert "are worth is not known: the search ended early" in flat(text)
    assert "ended at its time limit" in text
    assert "above the best possible one: 30%" in flat(text)


def test_a_mean_plan_that_breaks_a_rule_is_told():
    assert "would break a rule in some season" in flat(page(value_of_hedging=None))


def test_worth_in_money():
    told = flat(page())
    assert "to know the season beforehand would be worth 90 EUR" in told
    assert "to plan for all seasons instead of the mean one is worth 12 EUR" in told


def test_the_way_from_fruit_to_trays_is_told_block_by_block():
    text = page()
    row = next(line.split() for line in text.splitlines() if line.split()[:1] == ["East"])
    assert row == ["East", "2027-W04", "200", "(180", "to", "230)", "1.0", "to", "2.5", "1,500"]
    assert "Loading is not in the plan: at its height 2 h in week 3 (18-24 Jan)" in flat(text)
    assert "12 of 15 blocks" in flat(page(blocks=15))


def test_the_plan_is_held_against_seasons_at_large():
    told = flat(page())
    assert "Expected cost over 200 seasons at large, decided weeks included: 1,010 EUR" in told
    assert "the mean of the dearest tenth of them (CVaR) is 1,600 EUR" in told
    assert "Some fruit is lost in 40% of 200 seasons; over all of them 97% of the fruit is" in told
    assert "8 seasons stand for all in the plan" in told
