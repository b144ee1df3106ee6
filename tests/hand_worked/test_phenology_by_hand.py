"""From planting to open flowers of one plant, a few days worked out by hand.

Share of a standard normal, from its table: 0.022 750 at -2, 0.043 238 at -12/7, 0.308 538 at -1/2,
0.395 713 at -0.264 458, 0.488 466 at -0.028 916, 0.993 790 at 5/2.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.parameters import cultivars
from phenocast.phenology import daily as rows
from phenocast.phenology import make_work, nursery_state, plant_from_nursery
from phenocast.phenology.chamber import chamber_days, day_table
from phenocast.phenology.development import develop
from phenocast.phenology.induction import (
    long_day_dependence,
    photoperiod_response_long_day_promoted,
    photoperiod_response_short_day,
    share_induced,
)
from phenocast.phenology.steps import exponential, normal_share
from phenocast.phenology.trusses import days_that_bear
from phenocast.vector import lane_records
from tests.hand_worked.plants import ONE_TRUSS, days_of, plant_of, season_of


def test_two_days_of_a_plant_that_is_being_induced():
    # Photoperiod: critical 13 - 0.5 x (20 - 18) = 12; 11.75 is 0.625 widths below: 1 / (1 +
    # exp(-0.625)) = 0.651 355; times a temperature response of 0.8: 0.521 084 a day. Heat of 5
    # degC h takes 0.01 x 5 = 0.05. From 9 to 9.471 084 and 9.942 168 of 10.
    # Leaves 12 / 60 = 0.2 a day. Half an hour short of 12.25: 0.75 of 4 / 100 = 0.03, with
    # 1 - 1/4 of room 0.0225 new crowns; then 0.03 x (1 - 1.0225 / 4) x 1.0225: 1.045 334.
    # Vigour 1 - 0.002 x 1.5 x 5 = 0.985, then 0.985 + 0.015 / 20 - 0.985 x 0.015 = 0.970 975.
    # Trusses: 0.985 x (1.011 187 x (0.087 176 newly induced + 0.395 713 x 0.521 084 x 0.2 / 4)
    #   + 0.395 713 x 0.521 084 x 0.011 187) = 0.099 370
    # 0.970 975 x (1.022 416 x (0.092 752 + 0.488 466 x 0.521 084 x 0.05)
    #   + 0.488 466 x 0.521 084 x 0.011 228) = 0.107 488
    table = days_of(
        4, INDUCTION_RESPONSE=0.8, PHOTOPERIOD=11.75, CROWN_HEAT_30=5.0, LEAF_WARMTH=12.0,
        BRANCH_WARMTH=4.0,
    )  # fmt: skip
    season = season_of(
        table, induction_carried=0.9, supraoptimal_penalty=0.01, vigour_heat_loss=0.002,
        heat_sensitivity=1.5,
    )  # fmt: skip
    assert season.induced_share[:2] == pytest.approx([0.3957134912, 0.4884657492], abs=1e-9)
    assert season.leaves == pytest.approx([0.2, 0.4, 0.6, 0.8])
    assert season.branch_crowns[:2] == pytest.approx([1.0225, 1.0453337031], rel=1e-9)
    assert season.vigour[:2] == pytest.approx([0.985, 0.970975], rel=1e-9)
    # the power of the crowns is a series, right to 1e-7
    assert season.flowers_initiated[:2] == pytest.approx([0.9937015933, 1.0748804493], rel=1e-6)
    # 0.057 832 of 0.471 084 into the third day
    assert season.flower_initiation == pytest.approx(2.1227641563, abs=1e-8)


@pytest.mark.parametrize(
    ("crown", "photoperiod", "response"),
    [
        # 1 of dependence at 28, 0.5 up to 23: 0.75 at 25.5; 0.25 at 12 of 9 to 15; none at 9.
        # A width above the critical 13: 1 / (1 + e) = 0.268 941 of the dependence is felt
        (25.5, 13.4, 0.7982939340),
        (12.0, 13.4, 0.9327646447),
        (19.0, 13.4, 0.8655292893),
        (9.0, 13.4, 1.0),
        (30.0, 13.4, 0.7310585786),
        (30.0, 13.0, 0.5),
    ],
)
def test_long_days_promote_a_day_neutral_plant(crown, photoperiod, response):
    # one day at the full temperature response, from 9 of 10: the share shows where it came
    table = days_of(3, INDUCTION_RESPONSE=1.0, CROWN_MEAN=crown, PHOTOPERIOD=photoperiod)
    season = season_of(table, induction_carried=0.9, long_day_promoted=1.0)
    assert season.induced_share[0] == pytest.approx(
        float(share_induced(9.0 + response, 10.0, 0.2)), abs=1e-9
    )
    knots = (9.0, 15.0, 23.0, 28.0, 0.5)
    assert photoperiod_response_long_day_promoted(
        photoperiod, crown, 13.0, 0.4, *knots
    ) == pytest.approx(response, abs=1e-9)


def test_responses_of_induction_as_functions():
    # held at 24 and at 9 degC: critical 10 and 17.5; an hour above and an hour below, 2.5 widths
    got = photoperiod_response_short_day([11.0, 16.5], [30.0, 5.0], 13.0, 0.5, 0.4)
    assert got == pytest.approx([0.0758581800, 0.9241418200])
    assert long_day_dependence(25.5, 9.0, 15.0, 23.0, 28.0, 0.4) == pytest.approx(0.7)
    assert share_induced([6.0, 9.0], 10.0, 0.2) == pytest.approx([0.0227501319, 0.3085375387])


def test_heat_takes_induction_back_and_no_plant_is_induced_twice():
    # 10 days of store at most 1.5 x 10 = 15, share 0.993 790; heat of 100 takes 1 a day: 14, 13;
    # then 0.999 955 back and 0.999 955 more: no new plant until the share passes its highest
    table = days_of(
        5, INDUCTION_RESPONSE={0: 1.0, 3: 1.0, 4: 1.0}, PHOTOPERIOD=8.0,
        CROWN_HEAT_30={1: 100.0, 2: 100.0},
    )  # fmt: skip
    season = season_of(table, induction_carried=1.5, supraoptimal_penalty=0.01)
    # 1 / (1 + exp((8 - 12) / 0.4)) = 0.999 954 6; shares at 2.5, 2, 1.5, 2.0 and 2.5 (less 2e-5)
    expected = [0.9937903347, 0.9772498681, 0.9331927987, 0.9772486425, 0.9937895389]
    assert season.induced_share == pytest.approx(expected, abs=1e-8)
    assert season.flowers_initiated == pytest.approx(np.zeros(5), abs=1e-12)  # no leaf, none new


def test_plants_root_before_they_grow():
    # 24 degC d needed, 0.25 x 24 + 1 = 7 either way: shares 0.043 238, 0.5, 0.956 762 after 12, 24
    # and 36; leaves 0.2 of each
    table = days_of(3, LEAF_WARMTH=12.0)
    season = season_of(table, establishment_development=24.0)
    assert season.leaves == pytest.approx([0.0086476265, 0.1086476265, 0.3], abs=1e-9)


def test_initiation_follows_the_week_and_flowers_go_on_in_cohorts():
    # Induced in all but 0.006 210; one day of induction, at 0.999 954 6. It counts in the mean of
    # the days so far, 1, 1/2, ... 1/7, and no more after seven. Each day 0.993 790 x 0.999 955 x
    # 0.2 / 4 x 10 flowers of that: 0.496 872 6 / day.
    table = days_of(
        60, INDUCTION_RESPONSE={0: 1.0}, PHOTOPERIOD=8.0, LEAF_WARMTH=12.0, CROWN_HEAT_30=2.0
    )
    season = season_of(table, induction_carried=1.5, heat_sensitivity=2.0)
    first = 0.9937903347 * 0.9999546021 * 0.5
    expected = np.array([first / day for day in range(1, 8)] + [0.0])
    assert season.flowers_initiated[:8] == pytest.approx(expected, abs=1e-9)
    # 12 degC d a day: a cohort ends with the fourth day (40 passed). Mean days of the first four
    # (0.5 + 0.75 + 0.8333 + 0.875) / 2.083 333 = 1.42, of the next (0.9 + 0.916 667 + 0.928 571) /
    # 0.509 524 = 5.387 850. Emergence 15 days on, the flower 12 days after that: 28.42, 32.387 850.
    # 15 days of 2 degC h x 2 / 240 = 0.25, to the power 1.5 = 0.125: 8/9 are left.
    # A moment 0.42 into a day: 0.5 x 0.58^2 = 0.1682 to the day before, 0.5 x 0.42^2 = 0.0882 to
    # the one after; 0.387 850: 0.187 364 and 0.075 214
    one, two = first * 25 / 12 * 8 / 9, first * 107 / 210 * 8 / 9
    opened = np.zeros(60)
    opened[27:30] += one * np.array([0.1682, 0.7436, 0.0882])
    opened[31:34] += two * np.array([0.1873635252, 0.7374224823, 0.0752139925])
    assert season.flowers_open == pytest.approx(opened, abs=1e-8)


def test_a_truss_from_the_nursery():
    # 90 degC d at 12 a day: 7.5; then 120 at 10: 19.5. Half of the truss is out where the half of
    # day 7 (0.125 before it, 0.75 in it): 7 + 0.375 / 0.75
    season = season_of(days_of(40), **ONE_TRUSS)
    assert season.emergence == pytest.approx(7.5, abs=1e-9)
    expected = np.zeros(40)
    expected[18:21] = [1.25, 7.5, 1.25]
    assert season.flowers_open == pytest.approx(expected, abs=1e-9)
    # half a flower is passed within day 18
    assert season.anthesis == pytest.approx(18.4, abs=1e-9)


@pytest.mark.parametrize(
    ("changes", "days"),
    [
        # Of 100 days of 10 degC d in the air 480 are for opening and ripening: emergence by day 52,
        # so by 53 x 12 = 636 degC d in the bud, 180 of them after initiation: 38
        ({}, 39),
        # 180 for the rank that ripens fastest: emergence by day 70, 852 degC d: 56
        ({"rank2_ripening": 0.5}, 57),
        ({"rank3_ripening": 0.5}, 57),
        ({"rank2_ripening": 2.0, "rank3_ripening": 2.0}, 39),
        # nothing can be ripe
        ({"anthesis_to_ripe": 1000.0}, 1),
    ],
)
def test_flowers_that_can_still_be_ripe(changes, days):
    plant = plant_of(**changes)
    record = lane_records(np.array([plant], dtype=plant.dtype))[0]
    work = make_work(100)
    develop(days_of(100), record, work)
    assert days_that_bear(100, record, work) == days


def test_a_later_rank_and_a_longer_day():
    # ranks of 1, 3 and 6 flowers, 24 and 48 degC d behind: at 13.5 a day in the bud, as 14 h are
    # half way to a growth faster by a quarter: emergence at 90, 114 and 138 / 13.5 = 6.666 667,
    # 8.444 444, 10.222 222, opening 12 later
    ranks = {"rank1_share": 0.1, "rank2_share": 0.3, "rank3_share": 0.6}
    season = season_of(days_of(40, PHOTOPERIOD=14.0), long_day_speed=0.8, **ONE_TRUSS, **ranks)
    noon = np.arange(40) + 0.5
    assert season.flowers_open.sum() == pytest.approx(10.0)
    mean = 0.1 * 18.6666667 + 0.3 * 20.4444444 + 0.6 * 22.2222222
    assert season.flowers_open @ noon / 10.0 == pytest.approx(mean, abs=1e-6)
    # primary flowers alone date anthesis: 0.055 556 in day 17, then 0.722 222 in day 18
    assert season.anthesis == pytest.approx(18.0 + (0.5 - 0.0555556) / 0.7222222, abs=1e-6)


def test_three_trusses_each_less_far_on():
    # 2.5 trusses: 1, 1 and 0.5, at 0.9, 0.9 x 0.5 and 0.9 x 0.25 of the way: 18, 99 and 139.5
    # degC d to go: 1.5, 8.25 and 11.625
    season = season_of(
        days_of(40), trusses_at_planting=2.5, truss_progress=0.9, second_truss_progress=0.5,
        third_truss_progress=0.25,
    )  # fmt: skip
    opened = np.zeros(40)
    opened[12:15] += [1.25, 7.5, 1.25]  # 13.5
    opened[19:22] += [2.8125, 6.875, 0.3125]  # 20.25
    opened[22:25] += [0.3515625, 3.671875, 0.9765625]  # 23.625
    assert season.flowers_open == pytest.approx(opened, abs=1e-9)


def test_heat_in_the_crown_costs_buds():
    # 10 degC h a day until emergence at 7.5: 75 x 1.6 / 240 = 0.5, to the power 1.5 0.353 553
    season = season_of(days_of(40, CROWN_HEAT_30=10.0), heat_sensitivity=1.6, **ONE_TRUSS)
    assert season.flowers_open.sum() == pytest.approx(10.0 / 1.3535533906, abs=1e-8)


@pytest.mark.parametrize(
    ("night", "minimum", "left"),
    [
        # half of the tight buds die 1 degC below -5.5, from emergence at 7.5 to 15.5
        (10, -6.5, 0.5),
        # half a day of the night after emergence
        (7, -6.5, 0.5**0.5),
        (6, -6.5, 1.0),
        # half of the white buds 1 degC below -2.2, in the last four days, to 19.5
        (17, -3.2, 0.5),
        # two widths above: 1 / (1 + e^-2)
        (17, -2.6, 0.8807970780),
        (10, -5.9, 0.8807970780),
        # two widths below that: 1 / (1 + e^2)
        (17, -3.8, 0.1192029220),
        # night 15: half as a tight bud, of which e^-11 are lost at -3.2, half as a white one
        (15, -3.2, 0.5**0.5 * (1.0 / 1.0000167017) ** 0.5),
        (19, -3.2, 0.5**0.5),
        (21, -3.2, 1.0),
        # 12 widths above nothing is lost; 12 below, it is as the exponential
        (17, 0.5, 1.0),
        (17, -6.8, 6.1442124e-06),
    ],
)
def test_a_night_of_frost_before_the_flower_opens(night, minimum, left):
    season = season_of(days_of(40, FLOWER_MIN={night: minimum}), **ONE_TRUSS)
    assert season.flowers_open.sum() == pytest.approx(10.0 * left, rel=1e-7)


def test_plants_lost_to_heat_after_planting():
    # two days of 60 and 40 and half of one of 100: 150, one scale of 30 above 120: 0.8 x
    # 1 / (1 + 1/e) = 0.584 847 are lost
    table = days_of(5, CROWN_HEAT_33={0: 60.0, 1: 40.0, 2: 100.0, 3: 500.0})
    season = season_of(table, plant_loss_largest=0.8, plant_loss_days=2.5)
    assert season.surviving_share == pytest.approx(0.4151531371, abs=1e-9)


def test_cold_short_days_bring_rest_and_chill_ends_it():
    # 20 h a day below 13 h of light: 20, 40, 60, 80 of 40, 10 either way; of 90 h the fifth day
    # brings the last 10: 4.5
    season = season_of(days_of(8, CHILL=20.0, PHOTOPERIOD=10.0))
    expected = [0.0227501319, 0.5, 0.9772498681, 0.9999683288, 0.9999999990]
    assert season.resting_share[:5] == pytest.approx(expected, abs=1e-9)
    assert season.rest_release == pytest.approx(4.5, abs=1e-9)


def test_longer_days_end_rest_by_warmth():
    # Two short days of 16 h of chill: 32 of 90. Then 13.25 h, three quarters long: of 8 h of chill
    # a quarter counts: 34, 36, 38 of 40 for the depth of rest, 0.85, 0.9, 0.95, then 1. A day
    # brings 2 / 90 and depth x 0.75 x 12 / 100: 0.355 556, + 0.098 722 = 0.454 278, + 0.103 222
    # = 0.557 5, + 0.107 722 = 0.665 222, + 0.112 222 = 0.777 444, 0.889 667; of day 7 0.110 333 /
    # 0.112 222
    table = days_of(
        12, CHILL={(0, 2): 16.0, (2, 12): 8.0}, PHOTOPERIOD={(0, 2): 10.0, (2, 12): 13.25}
    )
    season = season_of(table)
    assert season.rest_release == pytest.approx(7.9831683168, abs=1e-9)


def test_a_rested_plant_forms_no_flowers_for_a_while():
    # From the cold store with 200 h: at rest, released at once; 0.7 of initiation is held off.
    # Induction 12 x 0.3 = 3.6; each day 0.999 954 6 x 0.3. Growth since release 12, 24 ... of 100,
    # 20 either way: at 84 a tenth is forgotten, 96 0.4, 108 0.7: barred 0.63, 0.42, 0.21, from the
    # next day
    table = days_of(10, INDUCTION_RESPONSE=1.0, PHOTOPERIOD=8.0, LEAF_WARMTH=12.0)
    season = season_of(table, chill_carried=200.0, initiation_after_rest=0.3, induction_carried=1.2)
    gain = 0.9999546021
    total = 3.6 + gain * np.cumsum([0.3] * 7 + [0.37, 0.58, 0.79])
    assert season.induced_share == pytest.approx(share_induced(total, 10.0, 0.2), abs=1e-9)
    assert season.rest_release == 0.0
    # On the tenth day all is forgotten (120): 0.2 / 4 of a truss and what is newly induced, both in
    # full. The pace is the mean of seven days
    shares = share_induced(total, 10.0, 0.2)
    pace = gain * (4 * 0.3 + 0.37 + 0.58 + 0.79) / 7.0
    flowers = 10.0 * (shares[9] - shares[8] + shares[9] * pace * 0.05)
    assert season.flowers_initiated[9] == pytest.approx(flowers, abs=1e-8)


def test_buds_of_a_resting_plant_wait():
    # Chill of 60 h in three days: 0.977 250 at rest; 40 h on days 20 and 21 end it at 21.5.
    # Two trusses half and a quarter of the way: the 0.022 750 that do not rest emerge at 7.5 and
    # 11.25. The others wait at 0.8 x 180 = 144 degC d, the second at 0.9 of that, 129.6, and need
    # 36 and 50.4 more after 21.5: 24.5 and 25.7; all open 12 days later
    table = days_of(60, CHILL={(0, 3): 20.0, (20, 22): 20.0}, PHOTOPERIOD=10.0)
    season = season_of(
        table, trusses_at_planting=2.0, truss_progress=0.5, second_truss_progress=0.5
    )
    assert season.rest_release == pytest.approx(21.5, abs=1e-9)
    awake, held = 0.2275013195, 9.7724986805
    opened = np.zeros(60)
    opened[18:21] += awake * np.array([0.125, 0.75, 0.125])  # 19.5
    opened[22:25] += awake * np.array([0.28125, 0.6875, 0.03125])  # 23.25
    opened[35:38] += held * np.array([0.125, 0.75, 0.125])  # 36.5
    opened[36:39] += held * np.array([0.045, 0.71, 0.245])  # 37.7
    assert season.flowers_open == pytest.approx(opened, abs=1e-7)


def test_four_days_in_a_nursery():
    # Two days of induction of two needed, half a day either way: shares 0.000 032 (at -4),
    # 0.022 750 (at -2), 0.5; the root of nine crowns makes it 0.068 155 and 1.431 750 trusses.
    # At the middle of their days the clock stood at 6 and 18, at lifting at 48: 42 / 180 and
    # 30 / 180 of the way; the first truss is 0.068 155 of the one and the rest of the other
    table = days_of(
        4, INDUCTION_RESPONSE={(0, 2): 1.0}, PHOTOPERIOD={(0, 2): 6.0, (2, 4): 13.25}, CHILL=8.0
    )
    young = {
        "induction_requirement": 2.0, "induction_spread": 0.25, "photoperiod_width": 0.2,
        "crowns_at_planting": 9.0, "rest_onset_chill": 1e6,
        # of the field alone
        "induction_carried": 0.9, "trusses_at_planting": 2.0, "chill_carried": 500.0,
        "establishment_development": 500.0,
    }  # fmt: skip
    state = nursery_state(table, plant_of(**young))
    assert state.trusses == pytest.approx(1.4999049863, abs=1e-9)
    assert state.progress == pytest.approx((0.1712103589, 1.0 / 6.0, 0.0), abs=1e-9)
    assert state.induction == pytest.approx(1.0)
    assert state.chill_h == pytest.approx(20.0)  # a quarter of the days of 13.25 h
    # 36 degC d to emergence: the older flowers are out and are lost
    late = nursery_state(table, plant_of(**young, initiation_to_anthesis=60.0))
    assert late.trusses == pytest.approx(1.4317496044, abs=1e-9)
    assert late.progress == pytest.approx((30.0 / 36.0, 30.0 / 36.0, 0.0), abs=1e-9)
    planted = plant_from_nursery(plant_of(), state)[0]
    assert planted.trusses_at_planting == state.trusses
    assert planted.second_truss_progress == pytest.approx(0.9734613, abs=1e-6)
    assert planted.third_truss_progress == 0.0
    assert (planted.induction_carried, planted.chill_carried) == (state.induction, state.chill_h)


def test_functions_that_the_kernels_have_of_their_own():
    # exp(20) = 485 165 195.409 79; the share of a normal below -1.25 is 0.105 649 773 7; half of it
    # lies below 0
    assert exponential(20.0) == pytest.approx(485165195.40979, rel=1e-10)
    assert exponential(-2.5) == pytest.approx(0.0820849986239, rel=1e-10)
    assert normal_share(-1.25) == pytest.approx(0.1056497737, abs=1e-10)
    assert normal_share(3.141) == pytest.approx(0.9991581398, abs=1e-10)


def test_a_day_of_a_chamber():
    # 14 h at 26 and 10 h at 8. Development 20 x (14 x 1 + 10 x 5 / 20) / 24; branching
    # 20 x (14 x 4 / 10 + 10 x 8 / 20) / 24; leaves (14 x 20 + 10 x 4) / 24; induction with
    # exponent 1/2: 14 x 0.924 510 (root of 26 / 16) and 10 x 0.914 214 (of 8 / 16), over 24
    own = cultivars()["Basalt"].with_values(
        {"development_base": 3.0, "development_optimum_low": 23.0,
         "development_optimum_high": 28.0, "development_ceiling": 36.0, "branch_base": 0.0,
         "branch_optimum": 20.0, "branch_ceiling": 30.0, "leaf_base": 4.0, "leaf_cap": 24.0,
         "induction_base": 0.0, "induction_optimum": 16.0, "induction_ceiling": 64.0,
         "crown_heat_threshold": 25.0, "crown_strong_heat_threshold": 25.5,
         "fruit_heat_threshold": 24.0, "chill_low": 7.0, "chill_high": 9.0}
    )  # fmt: skip
    table = chamber_days(
        2, 26.0, 11.0, night_c=8.0, day_h=14.0, solar_mj=12.0, cover=0.4, cultivar=own
    )
    expected = {
        "CROWN_DEVELOPMENT": 13.75, "AIR_DEVELOPMENT": 13.75, "INDUCTION_RESPONSE": 0.9202196757,
        "CROWN_MEAN": 18.5, "CROWN_HEAT_30": 14.0, "CROWN_HEAT_33": 7.0, "LEAF_WARMTH": 40.0 / 3.0,
        "BRANCH_WARMTH": 8.0, "AIR_HEAT_27": 28.0, "AIR_MEAN": 18.5, "SOLAR": 12.0,
        "PHOTOPERIOD": 11.0, "COVER": 0.4, "CHILL": 10.0, "FLOWER_MIN": 8.0,
    }  # fmt: skip
    for name, value in expected.items():
        assert table[getattr(rows, name)] == pytest.approx([value] * 2), name
    # air apart from the crown
    apart = day_table(np.full(24, 26.0), np.full(24, 13.0), 11.0, 12.0, 0.4, own)
    assert apart[rows.AIR_DEVELOPMENT] == pytest.approx(10.0)
    assert apart[rows.CROWN_DEVELOPMENT] == pytest.approx(20.0)
