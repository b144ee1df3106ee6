"""Options under prices that lean to early or to late fruit."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.forecast.options import Option
from phenocast.forecast.packout import Packout, Tray
from phenocast.planning.comparison.document import tilt_document
from phenocast.planning.comparison.judge import judge
from phenocast.planning.comparison.money import TILTS, money_of, tilted, week_lean
from phenocast.planning.prices import PriceCurve
from phenocast.season import Costs

NOTHING_LOST = Packout(Tray("kilogram", 1.0, 0.0), np.zeros(1), 0.0)
WEEKS = ("2026-W50", "2026-W51", "2026-W52", "2026-W53")


def seasons_of(weekly_g):
    """Two plantings of a block of 1000 plants over one future and one draw."""
    grid = np.asarray(weekly_g, dtype=np.float32)[:, None, None, :]
    days = [date(2026, 10, 1 + row) for row in range(len(grid))]
    options = tuple(Option(day, "black", "Marl", "plug") for day in days)
    return SimpleNamespace(
        options=options, weeks=WEEKS, weekly_g=grid, season_g=grid.sum(axis=-1, dtype=float),
        block=SimpleNamespace(plants=1000.0, plants_per_ha=1000.0, area_ha=1.0),
    )  # fmt: skip


def money(weekly_g, per_kg=(2.0, 2.0, 2.0, 2.0), **costs):
    curve = PriceCurve(WEEKS, np.asarray(per_kg), "EUR")
    return money_of(seasons_of(weekly_g), NOTHING_LOST, curve, Costs("EUR", **costs), 0, 0)


def test_a_tilt_is_a_price_that_was_stated_so() -> None:
    # By hand: weeks 51 to 53 bear, so half a tilt makes 2 EUR a kg 3, 2 and 1 in them.
    fruit = [[0.0, 100.0, 50.0, 20.0], [0.0, 0.0, 90.0, 90.0]]
    flat = money(fruit, harvest_per_kg=0.5)
    stated = money(fruit, (9.0, 3.0, 2.0, 1.0), harvest_per_kg=0.5)
    (half,) = tilted(flat.revenue, flat.lean, flat.margins(), tilts=(0.5,))
    # one scenario: every quantile is it
    assert half.revenue[:, 1] == pytest.approx([3 * 100 + 2 * 50 + 20, 2 * 90 + 90])
    assert half.revenue[:, 0] == pytest.approx(stated.revenue.ravel())
    assert half.told.expected == pytest.approx(stated.margins().ravel())
    assert flat.fruit_weeks == WEEKS[1:]


def test_early_fruit_wins_where_it_is_dearer_and_loses_where_it_is_cheaper() -> None:
    fruit = [[80.0, 10.0, 10.0, 0.0], [0.0, 10.0, 10.0, 82.0]]
    seasons, earned = seasons_of(fruit), money(fruit)
    top, options = tilt_document(seasons, earned, earned.margins(), [(), ()])
    best = {one["tilt"]: one["best"]["planting_date"] for one in top["tilts"]}
    assert best[0.5] == "2026-10-01"
    assert best[-0.5] == best[0.0] == "2026-10-02"
    assert (top["first_week"], top["last_week"]) == ("2026-W50", "2026-W53")
    assert [one["tilt"] for one in options[0]] == list(TILTS)


def test_without_a_tilt_nothing_changes_by_a_single_bit() -> None:
    earned = money([[80.0, 10.3, 10.7, 0.1], [0.0, 10.0, 10.0, 82.0]], (2.1, 2.2, 2.7, 1.9))
    (none,) = tilted(earned.revenue, earned.lean, earned.margins(), tilts=(0.0,))
    told = judge(earned.margins())
    assert np.array_equal(none.revenue[:, 1], earned.revenue.ravel())
    for name in ("expected", "levels", "worst_tenth", "behind_best"):
        assert np.array_equal(getattr(none.told, name), getattr(told, name)), name


def test_a_block_without_fruit_has_no_weeks_to_tilt() -> None:
    nothing = [[0.0, 0.0, 0.0, 0.0]]
    earned = money(nothing)
    top, options = tilt_document(seasons_of(nothing), earned, earned.margins(), [()])
    assert top["first_week"] is top["last_week"] is None
    assert {one["revenue"]["p50"] for one in options[0]} == {0.0}


@given(st.lists(st.integers(0, 80), min_size=2, max_size=20, unique=True).map(sorted))
def test_the_lean_falls_from_one_to_minus_one_with_the_calendar(places: list[int]) -> None:
    lean = week_lean(places)
    assert (lean[0], lean[-1]) == (1.0, -1.0)
    assert np.diff(lean) / np.diff(places) == pytest.approx(-2.0 / (places[-1] - places[0]))
