"""From open flowers to ripe fruit of one plant, worked out by hand.

A truss half way opens at 19.5 (`test_phenology_by_hand`): an eighth of it on day 18, six eighths on
day 19, an eighth on day 20. Its fruit is ripe 36 days after the noon of each, and what is ripe at
a moment is shared among three days as before.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from phenocast.harvest import grow, week_labels
from phenocast.harvest.kernels import fill_windows, ripen_and_bear
from phenocast.phenology.development import develop
from phenocast.phenology.work import FIRST_PICK, FIRST_RIPE, MARKETABLE_G, make_work
from phenocast.vector import lane_records
from tests.hand_worked.plants import ONE_TRUSS, days_of, plant_of, season_of

RANKS = {
    "rank1_share": 0.1, "rank2_share": 0.3, "rank3_share": 0.6, "rank2_ripening": 0.9,
    "rank3_ripening": 0.8, "rank1_mass": 1.3, "rank3_mass": 0.7, "fruit_mass_slope": 0.03,
    "size_decline": 0.01,
}  # fmt: skip

TWO_TRUSSES = {
    "trusses_at_planting": 2.0, "truss_progress": 0.9875, "second_truss_progress": 0.0875 / 0.9875,
    "initiation_to_anthesis": 600.0, "emergence_share": 0.8, "flowers_per_truss": 2.0,
}  # fmt: skip


def ripe_on(series, first, last):
    """Days of a series from the first to the last; there is nothing outside."""
    assert np.delete(series, np.s_[first : last + 1]) == pytest.approx(0.0, abs=1e-9)
    return series[first : last + 1]


def test_fruit_of_three_ranks_and_what_can_be_sold():
    # Ranks of 1, 3 and 6 flowers open at 19.5, 21.5 and 23.5, eight tenths of them set. Primary
    # fruit is ripe at 54.5, 55.5, 56.5 (0.1, 0.6, 0.1), secondary, after 0.9 x 36 = 32.4, at 52.9,
    # 53.9, 54.9 (0.3, 1.8, 0.3), tertiary, after 28.8, at 51.3, 52.3, 53.3 (0.6, 3.6, 0.6).
    # Shares at 0.5 into a day are 0.125, 0.75, 0.125; at 0.9 0.005, 0.59, 0.405; at 0.3 0.245,
    # 0.71, 0.045. By day from 50 on:
    #   primary               0.0125 0.15  0.475  0.15 0.0125  from day 53
    #   secondary 0.0015 0.186 1.185 0.906 0.1215              from day 51
    #   tertiary 0.147 1.308 2.73 0.588 0.027                  from day 50
    season = season_of(days_of(70, AIR_MEAN=17.0), first_pick_g=60.0, **ONE_TRUSS, **RANKS)
    fruit = [0.147, 1.3095, 2.916, 1.7855, 1.083, 0.5965, 0.15, 0.0125]
    assert ripe_on(season.ripe_fruit, 50, 57) == pytest.approx(fruit, abs=1e-9)
    # half a fruit: 0.147, and 0.353 of 1.3095 on day 51
    assert season.first_ripe == pytest.approx(51.2695685376, abs=1e-8)
    # Mass on day 53: 2 degC above 15, 4.3725 fruit borne before it and half of the day's 1.7855:
    # 20 x exp(-0.03 x 2 - 0.01 x 5.26525) = 17.869 222. Primary 0.0125 x 1.3, secondary 1.185, and
    # tertiary 0.588 x 0.7 of it: 0.290 375 + 21.175 028 + 7.354 972
    grams = [
        1.93672739, 17.13590573, 38.36306031, 28.82037418, 19.72677143, 12.90845361, 3.3934651,
        0.28255909,
    ]  # fmt: skip
    assert ripe_on(season.ripe_g, 50, 57) == pytest.approx(grams, abs=1e-7)
    # 60 g: 57.435 693 before day 53, and 2.564 307 of its 28.820 374
    assert season.first_pick == pytest.approx(53.0889754782, abs=1e-8)
    # Odds of being too small on day 53: (10 / 17.869 222)^(1.702 / 0.3) = 0.037 130 for the second
    # rank, over 1.3^5.6733 and 0.7^5.6733 0.008 381 and 0.280 887 for the others; sold
    # 0.9 / (1 + odds) = 0.892 520, 0.867 780 and 0.702 638
    sold = [
        1.44146534, 12.6652937, 28.22204213, 23.8023082, 17.1001625, 11.44850731, 3.02466187,
        0.25183922,
    ]  # fmt: skip
    assert ripe_on(season.marketable_g, 50, 57) == pytest.approx(sold, abs=1e-7)


def test_plants_that_died_bear_nothing():
    # e^0 on the scale of loss: 0.4 of 0.8; what is left is 0.6. Half a fruit of each plant alive
    season = season_of(
        days_of(70, AIR_MEAN=17.0, CROWN_HEAT_33={0: 120.0}), first_pick_g=60.0,
        plant_loss_largest=0.8, **ONE_TRUSS, **RANKS,
    )  # fmt: skip
    assert season.surviving_share == pytest.approx(0.6)
    assert season.ripe_g[52] == pytest.approx(0.6 * 38.36306031, abs=1e-7)
    assert season.marketable_g[52] == pytest.approx(0.6 * 28.22204213, abs=1e-7)
    assert season.ripe_fruit.sum() == pytest.approx(0.6 * 8.0)
    assert season.first_ripe == pytest.approx(51.2695685376, abs=1e-8)
    # 100 g of the living: 86.256 068 before day 54, 13.743 932 of 19.726 771
    assert season.first_pick == pytest.approx(54.6967146, abs=1e-6)


def test_ripening_spread_over_the_plants():
    # A spread of a day: 1, 0.606 531, 0.135 335, 0.011 109 ... over their sum 2.506 628. Of
    # 0.0125, 0.15, 0.475, 0.15, 0.0125 day 55 has (0.475 + 0.3 x 0.606 531 + 0.025 x 0.135 335)
    # / 2.506 628 = 0.263 439
    season = season_of(
        days_of(80), rank1_share=0.1, rank2_ripening=9.0, ripening_spread=1.0, **ONE_TRUSS
    )
    expected = [
        0.0132485, 0.067594546, 0.185956112, 0.263438573, 0.185956112, 0.067594546, 0.0132485,
    ]  # fmt: skip
    assert season.ripe_fruit[52:59] == pytest.approx(expected, abs=1e-8)
    assert season.ripe_fruit.sum() == pytest.approx(0.8)


@pytest.mark.parametrize("rank", [1, 2, 3])
def test_half_of_the_fruit_of_cull_size_is_sold(rank):
    # fruit of one rank alone, half as heavy as the 20 g of others: at the 10 g of culls, odds of 1
    alone = {f"rank{number}_share": float(number == rank) for number in (1, 2, 3)}
    season = season_of(days_of(90), **ONE_TRUSS, **alone, **{f"rank{rank}_mass": 0.5})
    assert season.ripe_g.sum() == pytest.approx(8.0 * 10.0)
    assert season.marketable_g.sum() == pytest.approx(0.9 * 8.0 * 10.0 / 2.0)


@pytest.mark.parametrize(
    ("plant", "sold_g", "first_pick_g", "last_day"),
    [
        # 8 of 10 flowers set, 160 g, 0.6 of plants alive
        ({**ONE_TRUSS}, 96.0, 60.0, 58),
        # two trusses of two flowers, ripe from 48 and from 84 days on: 64 g, 38.4 of plants set. 24
        # g a plant set are 40 of a living one, and the first truss has 32
        (TWO_TRUSSES, 38.4, 24.0, 90),
        # spread over 18 days either way; all but a hundredth of a gram is in on the last of them
        ({**ONE_TRUSS, "ripening_spread": 9.0}, 96.0, 95.99, 75),
    ],
)
def test_tables_that_another_plant_has_used(plant, sold_g, first_pick_g, last_day):
    # the other bears a little longer; dates need no more days than are filled for them
    other = plant_of(**{**RANKS, **ONE_TRUSS, "truss_progress": 0.1})
    plant = plant_of(plant_loss_largest=0.8, **plant)
    days = days_of(110, CROWN_HEAT_33={0: 120.0})
    work = make_work(110)
    for one in (other, plant):
        record = lane_records(np.array([one], dtype=one.dtype))[0]
        develop(days, record, work)
        fill_windows(110, work)
        ripen_and_bear(110, one is other, record, first_pick_g, work)
    # fruit of 20 g is too small with odds 0.5^(1.702 / 0.3) = 0.019 595
    assert work.rows[MARKETABLE_G, :110, 0].sum() == pytest.approx(0.9 * sold_g / 1.0195946)
    assert np.flatnonzero(work.rows[MARKETABLE_G, :110, 0] > 1e-12).max() <= last_day
    alone = grow(days, plant, first_pick_g)
    assert alone.first_pick <= last_day
    assert work.dates[FIRST_PICK, 0] == pytest.approx(alone.first_pick)
    assert work.dates[FIRST_RIPE, 0] == pytest.approx(alone.first_ripe)


def test_fruit_that_a_plant_carries_and_is_relieved_of():
    # Two trusses of two flowers, open at 12.5 and 48.5 (480 degC d to emergence, 6 and 438 to go).
    # Each fruit carried counts 20 g x 0.5 x 20 / 40 g over the light of 0.5 x 20: 0.5 of a load.
    #   day 11  0.25 flowers, nothing carried: 0.8 set: 0.2 fruit
    #   day 12  1.5, carried 0.2, load 0.1: 0.8 / 1.001: 1.198 801
    #   day 13  0.25, carried 1.398 801, load 0.699 401: 0.8 / 1.342 120: 0.149 018
    # They are ripe at 47.5, 48.5 and 49.5; on day 46 0.025 go, and 1.522 819 are left:
    #   day 47  0.25, load 0.761 410: 0.8 / 1.441 421: 0.138 752; 0.299 850 go: 1.361 721
    #   day 48  1.5, load 0.680 860: 0.8 / 1.315 627: 0.912 113; 0.942 728 go: 1.331 105
    #   day 49  0.25, load 0.665 553: 0.8 / 1.294 814: 0.154 462
    expected = {
        46: 0.025, 47: 0.2998501499, 48: 0.9427281506, 49: 0.2616136589, 50: 0.0186272515,
        82: 0.0173439707, 83: 0.2180778962, 84: 0.7207362034, 85: 0.2298608813, 86: 0.0193078016,
    }  # fmt: skip
    for cover, largest in ((0.5, 40.0), (0.25, 80.0)):  # half the leaves, twice the load
        season = season_of(days_of(100, COVER=cover), load_largest=largest, **TWO_TRUSSES)
        found = {day: season.ripe_fruit[day] for day in expected}
        assert found == pytest.approx(expected, abs=1e-9)
        assert season.ripe_fruit.sum() == pytest.approx(sum(expected.values()), abs=1e-9)


def test_light_of_the_last_fortnight():
    # Leaves only from day 10 on: at noon of day 18 8.5 of the 14 days before it had light, on days
    # 19 and 20 9.5 and 10.5. One fruit carried is 20 x 10 / 100 over 10 x share of light: the load
    # is 0.2 x 14 / 8.5 on day 18. There 1.25 flowers, nothing carried: 1 fruit. Day 19: 7.5, load
    # 0.2 x 14 / 9.5 = 0.294 737: 0.8 / 1.025604: 5.850213. Day 20: 1.25, 6.850213 carried, load
    # 0.266 667 x 6.850213 = 1.826723: 0.8 / 7.095627: 0.140932
    season = season_of(days_of(70, COVER={(0, 10): 0.0}), load_largest=100.0, **ONE_TRUSS)
    assert season.ripe_fruit.sum() == pytest.approx(6.991144596, abs=1e-8)


def test_hot_air_around_the_open_flower():
    # From noon 12 days before to the noon after. 26 degC h on day 7, 52 on day 20; half of a set at
    # 130. Day 18 feels all of day 7: 0.2, 0.8 / 1.04. Day 19 half of both: 0.3, 0.8 / 1.09. Day 20
    # all of day 20: 0.4, 0.8 / 1.16: 0.961 538 + 5.504 587 + 0.862 069
    season = season_of(days_of(70, AIR_HEAT_27={7: 26.0, 20: 52.0}), **ONE_TRUSS)
    assert season.ripe_fruit.sum() == pytest.approx(7.3281945830, abs=1e-8)


@pytest.mark.parametrize(
    ("night", "minimum", "fruit"),
    [
        # half of the open flowers die 1 degC below -1.1, for three days from noon on: all of days
        # 18 and 19, half a night of day 20
        (20, -2.1, 0.8 * (1.25 * 0.5 + 7.5 * 0.5 + 1.25 * 0.5**0.5)),
        # at -3.2 1 / (1 + exp(1.1 / 0.3)) = 0.024 924 of open flowers and half of green fruit live:
        # day 18 is green by then, day 19 half and half, day 20 open
        (22, -3.2, 1.1947301296),
        # all green; then half a night of the fruit ripe at 55.5, none of that ripe at 54.5
        (30, -3.2, 4.0),
        (55, -3.2, 0.8 * (1.25 + 7.5 * 0.5**0.5 + 1.25 * 0.5)),
        (57, -3.2, 8.0),
    ],
)
def test_a_night_of_frost_on_flowers_and_fruit(night, minimum, fruit):
    season = season_of(days_of(70, FLOWER_MIN={night: minimum}), **ONE_TRUSS)
    assert season.ripe_fruit.sum() == pytest.approx(fruit, rel=1e-5)


def test_four_weeks_of_air_set_the_mass():
    # ten days of 29 among 28 of 15: 20 on average, 5 above 15: 20 x exp(-0.03 x 5). Over the days
    # 53 to 57 from the noon four weeks before
    season = season_of(days_of(70, AIR_MEAN={(30, 40): 29.0}), fruit_mass_slope=0.03, **ONE_TRUSS)
    mass = ripe_on(season.ripe_g, 53, 57) / ripe_on(season.ripe_fruit, 53, 57)
    assert mass == pytest.approx(np.full(5, 17.2141595285), rel=1e-9)
    # before four weeks are over it is the mean of the days there are: at noon of day 12 one of 27
    # and 11.5 of 15
    early = season_of(
        days_of(30, AIR_MEAN={0: 27.0}), fruit_mass_slope=0.03, anthesis_to_ripe=0.0,
        truss_progress=1.0, trusses_at_planting=1.0,
    )  # fmt: skip
    assert early.ripe_g[12] / early.ripe_fruit[12] == pytest.approx(
        20.0 * np.exp(-0.03 * 12.0 / 12.5), rel=1e-9
    )


def test_weeks_over_new_year():
    # Sunday 27 December 2026 ends week 52; week 53 runs to 3 January 2027
    labels, week_of_day = week_labels(date(2026, 12, 27), 10)
    assert labels == ["2026-W52", "2026-W53", "2027-W01"]
    assert week_of_day.tolist() == [0] + [1] * 7 + [2] * 2
    assert np.bincount(week_of_day, np.arange(10.0), 3).tolist() == [0.0, 28.0, 17.0]
