"""What the page says where figures are missing."""

import re

from phenocast.report.labour_text import _starts, labour_text

WEEK = {
    "week": "2027-W03", "trays": {"p10": 80, "p50": 100, "p90": 130},
    "need_h": {"p50": 40, "p90": 60}, "need_people": {"p50": 1.0, "p90": 1.5},
    "packing_people": {"p50": 0.4, "p90": 0.5}, "planned": 1, "change": 1,
    "temporary": {"p50": 0.0, "p90": 0.5}, "extra_h": {"p50": 0, "p90": 3},
    "short_of_core_probability": 0.5, "short_of_all_probability": 0.0, "decide_by": None,
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
    return labour_text({
        "site": "Home", "as_of": "2027-01-01", "draws": 3, "seed": 0, "currency": "EUR",
        "pack": {"name": "8 x 1 lb", "net_mass_kg": 3.6, "over_pack": 0.02,
                 "left_share": {"p10": 0.1, "p50": 0.1, "p90": 0.1}}, "packed_in": "field",
        "picking": {"walk_h_per_ha": 20.0, "reach_h_per_t": 20.0, "from": "shipped assumption"},
        "figures": told, "weeks": [WEEK], "warnings": [],
        "heat": {"cautions": ["A planning aid."], "working_hours": [6.0, 14.0], "weeks": [],
                 "time_zone": "Atlantic/Canary", "earliest": None, "latest": None,
                 "clock": [{"from": "2027-01-18", "name": "WET", "utc_offset_h": 0.0}],
                 "long_week": None, "hot_overtime": None},
        "frost": {"blocks": [], "with_protection": None},
        "assumptions": [], "blocks": [BLOCK] * blocks,
        "loading_h": [{"week": "2027-W03", "p50": 1.7, "p90": 2.2}],
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


def test_the_way_from_fruit_to_trays_is_told_block_by_block():
    text = page()
    row = next(line.split() for line in text.splitlines() if line.split()[:1] == ["East"])
    assert row == ["East", "2027-W04", "200", "(180-230)", "1.0", "to", "2.5", "1.5"]
    assert "Loading is not in the plan: at its height 2 h in 2027-W03" in text
    assert "3 more blocks are left out" in page(blocks=15)


def test_the_plan_is_held_against_seasons_at_large():
    flat = " ".join(page().split())
    assert "held against 200 seasons at large" in flat
    assert "decided weeks included, 1010 EUR; mean of the worst tenth of seasons 1600" in flat
    assert "Some fruit is lost in 40% of 200 seasons; over all of them 97% of the fruit is" in flat
    assert "over which it costs 1000 EUR" in flat  # the few, told as what they are


def test_starts_of_several_weeks_are_one_line():
    def week(number, above, better):
        return {
            "week": f"2027-W{number}", "better_start": better,
            "starts": [{"clock_h": 6.0, "above_new_h": above, "above_acclimatised_h": 1.0}],
        }  # fmt: skip

    early = {"clock_h": 4.0, "above_new_h": 2.0, "above_acclimatised_h": 0.0, "dark_h": 2.0}
    lines = _starts([week(18, 5.0, early), week(19, 9.0, early), week(20, 9.0, None)])
    told = " ".join(" ".join(lines).split())
    assert told == (
        "- start at 04:00 instead of 06:00 in 2027-W18, 2027-W19: 3 to 7 hours a week fewer above "
        "the limit for a new crew, 1 for an acclimatised one (P50); 2.0 h a day in the dark"
    )
