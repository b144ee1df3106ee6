"""Inflorescences in four temperature regimes, short days against a night break.

Durner, E.F. et al. (1984), J. Amer. Soc. Hort. Sci. 109:396-400, table 4, as digitised in an open
data set (read there); n = 6. The night break acts as a long day, here 16 h. Day-neutral type:
18/14 3.3 and 4.3, 22/18 1.3 and 5.0, 26/22 0 and 4.9, 30/26 0 and 0.4. Short-day type, short days:
2.1, 0.3, 0, 0. Archetype: Tuff, unconditioned plug, flowers initiated in 90 days (the length of the
trial was not read). Tuff's dependence on long days was anchored to the ratios of this table.
"""

import pytest

from tests.phenology.chamber import chamber

REGIMES = [(18.0, 14.0), (22.0, 18.0), (26.0, 22.0), (30.0, 26.0)]


def _inflorescences(cultivar, day, night, photoperiod, n_days=90):
    season = chamber(cultivar, "plug", n_days, day, photoperiod, night_c=night)
    return season.flowers_initiated.sum() / 7.0


@pytest.fixture(scope="module")
def tuff():
    return {
        (day, hours): _inflorescences("Tuff", day, night, hours)
        for day, night in REGIMES
        for hours in (9.0, 16.0)
    }


def test_long_days_promote_the_day_neutral_type_in_every_regime(tuff):
    for day, _ in REGIMES:
        assert tuff[day, 16.0] > tuff[day, 9.0]


def test_the_promotion_grows_with_temperature(tuff):
    shares = [tuff[day, 9.0] / tuff[day, 16.0] for day, _ in REGIMES]
    assert shares == sorted(shares, reverse=True)


def test_cool_days_need_no_long_days(tuff):
    assert tuff[18.0, 16.0] / tuff[18.0, 9.0] < 2.0


def test_hot_short_days_give_none(tuff):
    # observed 0 against 4.9; 15 % is one inflorescence on the six plants
    assert tuff[26.0, 9.0] < 0.15 * tuff[26.0, 16.0]


def test_known_failure_the_hottest_regime_is_borne_too_well(tuff):
    """Observed .08 of the 22/18 value: .65 in Tuff, .27 in Chert, whose ceiling was fitted to it.

    The bell of the temperature response is too broad near its ceiling for this cultivar.
    """
    assert 0.15 < tuff[30.0, 16.0] / tuff[22.0, 16.0] < 1.0
    chert = [_inflorescences("Chert", day, night, 16.0) for day, night in (REGIMES[1], REGIMES[3])]
    assert 0.15 < chert[1] / chert[0] < 0.35


def test_known_failure_no_archetype_stops_at_26_22():
    """The short-day cultivar of the table formed nothing at 26/22 in 9 h days within the trial.

    Sonsteby and Heide (2006) found 2 and 5 of 12 plants flowering at 27 degC: other cultivars. No
    ceiling meets both, and the archetypes follow the second.
    """
    for cultivar in ("Basalt", "Marl", "Gneiss"):
        assert chamber(cultivar, "plug", 100, 26.0, 9.0, night_c=22.0).induced_share[-1] > 0.05


def test_the_short_day_type_flowers_in_the_coolest_regime():
    assert chamber("Basalt", "plug", 100, 18.0, 9.0, night_c=14.0).induced_share[-1] > 0.9


def test_hot_regimes_delay_the_tender_short_day_type_most():
    def delay(cultivar):
        warm = chamber(cultivar, "plug", 100, 30.0, 9.0, night_c=26.0).induced_share[-1]
        return 1.0 - warm

    assert delay("Marl") > delay("Basalt") > delay("Gneiss") - 1e-9
