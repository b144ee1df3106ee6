"""Prices: gaps and mixed currencies are refused, draws are shared and spread as stated."""

from datetime import date

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.harvest.weeks import week_labels
from phenocast.planning.prices import (
    PriceCurve,
    curve_from_months,
    curve_from_table,
    draw_prices,
    shape_months,
    shipped_week_sd,
)

WEEKS, _ = week_labels(date(2026, 11, 30), 7 * 20)


def curve(**changed):
    stated = {"season_sd": 0.2, "week_sd": 0.15, "week_memory": 0.7, "supply_correlation": 0.0}
    return PriceCurve(tuple(WEEKS), np.linspace(4.0, 1.5, len(WEEKS)), "EUR",
                      **(stated | changed))  # fmt: skip


def test_the_same_seed_gives_the_same_prices_and_another_gives_others():
    one, again, other = (draw_prices(curve(), 50, seed) for seed in (3, 3, 4))
    assert np.array_equal(one, again)
    assert not np.array_equal(one, other)


def test_the_stated_price_is_the_median_and_the_spread_is_as_stated():
    drawn = np.log(draw_prices(curve(), 20_000, 1) / curve().per_kg)
    assert np.median(drawn, axis=0) == pytest.approx(np.zeros(len(WEEKS)), abs=0.01)
    assert drawn.std(axis=0) == pytest.approx(np.full(len(WEEKS), 0.25), rel=0.03)  # 0.2, 0.15


def test_a_week_remembers_the_week_before():
    log = np.log(draw_prices(curve(season_sd=0.0), 20_000, 2))
    for lag in (1, 2, 3):
        found = np.corrcoef(log[:, 5], log[:, 5 + lag])[0, 1]
        assert found == pytest.approx(0.7**lag, abs=0.03)


def test_weeks_of_much_fruit_are_cheaper_where_stated():
    supply = np.random.default_rng(0).lognormal(5.0, 0.5, (20_000, len(WEEKS)))
    supply[:, 0] = 0.0
    drawn = draw_prices(curve(season_sd=0.0, supply_correlation=-0.5), 20_000, 3, supply)
    log = np.log(drawn / curve().per_kg)
    found = np.corrcoef(log[:, 8], np.log(supply[:, 8]))[0, 1]
    assert found == pytest.approx(-0.5, abs=0.03)
    assert log.std(axis=0) == pytest.approx(np.full(len(WEEKS), 0.15), rel=0.05)
    with pytest.raises(InputError, match="supply and prices disagree"):
        draw_prices(curve(supply_correlation=-0.5), 5, 3, supply)


def test_without_spread_every_draw_is_the_curve():
    flat = draw_prices(curve(season_sd=0.0, week_sd=0.0), 5, 1)
    assert np.all(flat == curve().per_kg)


def test_low_and_high_are_one_in_ten():
    made = curve_from_table(WEEKS[:3], [3.0, 3.0, 3.0], "EUR", low=[2.0, 2.0, np.nan],
                            high=[4.5, 4.5, np.nan])  # fmt: skip
    drawn = draw_prices(made, 40_000, 5)[:, 1]
    assert np.quantile(drawn, [0.1, 0.9]) == pytest.approx([2.0, 4.5], rel=0.02)
    assert made.week_sd[2] == shipped_week_sd(WEEKS[2:3])[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [({"weeks": [*WEEKS[:2], *WEEKS[3:5]], "per_kg": [3.0] * 4}, WEEKS[2]),
     ({"weeks": [*WEEKS[:2], WEEKS[1]], "per_kg": [3.0] * 3}, "two prices"),
     ({"weeks": [WEEKS[1], WEEKS[0]], "per_kg": [3.0] * 2}, "out of order"),
     ({"weeks": ["2027-W60"], "per_kg": [3.0]}, "no such ISO week"),
     ({"weeks": WEEKS[:2], "per_kg": [3.0, 0.0]}, "not above zero"),
     ({"weeks": WEEKS[:2], "per_kg": [3.0, np.nan]}, "not above zero"),
     ({"weeks": WEEKS[:2], "per_kg": [3.0] * 2, "currencies": ["EUR", "USD"]}, "EUR, USD"),
     ({"weeks": WEEKS[:2], "per_kg": [3.0] * 2, "currencies": ["USD", "USD"]}, "one currency"),
     ({"weeks": WEEKS[:1], "per_kg": [3.0], "low": [3.5], "high": [4.0]}, "enclose"),
     ({"weeks": WEEKS[:1], "per_kg": [3.0], "low": [2.0]}, "enclose"),
     ({"weeks": [], "per_kg": []}, "no prices")],
    ids=lambda v: str(v)[:40],
)  # fmt: skip
def test_tables_that_are_refused(change, words):
    stated = {"currency": "EUR"} | change
    with pytest.raises(InputError, match=words):
        curve_from_table(stated.pop("weeks"), stated.pop("per_kg"), stated.pop("currency"),
                         **stated)  # fmt: skip


def test_weeks_with_fruit_and_no_price_are_named():
    with pytest.raises(InputError, match="2027-W40"):
        curve().at([WEEKS[0], "2027-W40"])


def test_week_53_is_a_week_of_its_own():
    assert "2026-W53" in WEEKS
    assert len(curve().at(WEEKS)) == len(WEEKS)


def test_months_join_over_new_year_and_over_the_summer():
    made = curve_from_months({"dec": 4.0, "mar": 2.0}, WEEKS, "EUR")
    inside = made.per_kg[made.at(["2027-W03"])[0]]
    assert 2.0 < inside < 4.0
    one = curve_from_months({"mar": 2.0}, WEEKS, "EUR")
    assert one.per_kg == pytest.approx(np.full(len(WEEKS), 2.0))
    with pytest.raises(InputError) as told:
        curve_from_months({"des": 4.0, "mar": 0.0}, WEEKS, "EUR")
    assert len(told.value.faults) == 2
    assert "did you mean 'dec'" in str(told.value)


def test_spread_falls_from_november_to_march():
    weeks, _ = week_labels(date(2026, 11, 2), 7 * 26)
    spread = shipped_week_sd(weeks)
    assert spread[0] == pytest.approx(0.25)
    assert np.all(np.diff(spread) <= 1e-12)
    assert spread[-1] == pytest.approx(0.12)


def test_an_unknown_shape_is_told_the_nearest():
    with pytest.raises(InputError, match="did you mean 'winter-field'"):
        shape_months("winter-fields", 2.0)
