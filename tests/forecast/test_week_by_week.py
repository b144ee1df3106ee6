"""Rows week by week add up to the season, and the spread is laid at the right door."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from phenocast.forecast.summary import spread_from, week_by_week
from phenocast.simulation.daily_sums import BED_CROWN_HEAT_30, BED_CROWN_MAX, N_BED_DAILY


def test_heat_of_the_weeks_adds_up_and_the_highest_is_kept() -> None:
    rng = np.random.default_rng(3)
    bed = rng.uniform(20.0, 40.0, (1, 1, N_BED_DAILY, 30)).astype(np.float32)
    rows = week_by_week(date(2026, 9, 26), bed, {})
    assert [row["week"] for row in rows][:2] == ["2026-W39", "2026-W40"]
    heat = sum(row["degree_hours_above_30c"]["p50"] for row in rows)
    assert heat == pytest.approx(bed[0, 0, BED_CROWN_HEAT_30].sum(), abs=0.5 * len(rows))
    highest = max(row["crown_max_c"]["p90"] for row in rows)
    assert highest == pytest.approx(bed[0, 0, BED_CROWN_MAX].max(), abs=0.05)


def test_a_stage_counts_from_the_end_of_its_week_and_never_goes_back() -> None:
    bed = np.zeros((2, 1, N_BED_DAILY, 21), dtype=np.float32)
    days = np.array([[0.0, 6.99, 7.0], [13.5, np.inf, np.nan]])
    rows = week_by_week(date(2026, 10, 5), bed, {"first_pick": days})  # a Monday
    assert [row["reached"]["first_pick"] for row in rows] == pytest.approx([2 / 6, 4 / 6, 4 / 6],
                                                                          abs=1e-4)  # fmt: skip


def test_the_spread_is_laid_at_the_right_door() -> None:
    rng = np.random.default_rng(5)
    weather, plants = rng.normal(0.0, 4.0, (40, 1)), rng.normal(0.0, 2.0, (1, 60))
    rest = rng.normal(0.0, 1.0, (40, 60))
    told = spread_from(50.0 + weather + plants + rest)
    assert told is not None
    assert sum(told.values()) == pytest.approx(1.0, abs=0.002)
    total = weather.var() + plants.var() + rest.var()
    assert told["weather"] == pytest.approx(weather.var() / total, abs=0.03)
    assert told["plants"] == pytest.approx(plants.var() / total, abs=0.03)
    assert spread_from(np.full((3, 4), 9.0)) is None
