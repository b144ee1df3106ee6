"""What records and past seasons make of the seasons that the engine ran for a block."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from phenocast.forecast.conditioning import PastOfFarm, conditioned
from phenocast.forecast.discrepancy import (
    ASSUMED,
    MODEL,
    NONE,
    WITH_PAST,
    Windows,
    departures,
    expected,
    learn,
)
from phenocast.forecast.past_seasons import alike, past_seasons, planting_slope
from phenocast.forecast.seen import seen_of, times_wanted
from phenocast.harvest.weeks import week_labels
from phenocast.phenology.work import ANTHESIS, FIRST_PICK, FLOWER_INITIATION, N_DATES
from phenocast.season import Block
from phenocast.simulation.engine import BlockSeasons, PlantStates

PLANTED = date(2026, 9, 21)  # a Monday
N_DAYS, N_TRACES, DRAWS = 210, 5, 40
BLOCK = Block("Quay", "Marl", "black", "bare-root", PLANTED, 50_000.0, 1.0)


TO_10_G = 6.0 + 3.0 * np.log(np.exp(10.0 / 15.0) - 1.0)
"""Days from the start of a course of level 1 to 10 g a plant."""


def bell(days, first: float, level: float = 1.0):
    """Fruit so far of a course that begins about ``first`` and lasts, g per plant."""
    return level * 5.0 * np.logaddexp(0.0, (days - first - 6.0) / 3.0) * 3.0


def engine(times=(), spread: float = 4.0, level: float = 0.2) -> BlockSeasons:
    """Seasons of a block whose draws differ in date and level alone."""
    rng = np.random.default_rng(1)
    first = 70.0 + spread * rng.standard_normal((N_TRACES, DRAWS))
    of_draw = np.exp(level * rng.standard_normal((N_TRACES, DRAWS)))
    weeks, week_of_day = week_labels(PLANTED, N_DAYS)
    edges = np.searchsorted(week_of_day, np.arange(len(weeks) + 1)).astype(float)
    so_far = np.stack([bell(edges, f, v) for f, v in zip(first.ravel(), of_draw.ravel(),
                                                         strict=True)])  # fmt: skip
    at = np.stack([bell(np.array(times, dtype=float), f, v)
                   for f, v in zip(first.ravel(), of_draw.ravel(), strict=True)])  # fmt: skip
    dates = np.full((N_TRACES, DRAWS, N_DATES), 1.0)
    dates[..., FLOWER_INITIATION] = first - 50.0
    dates[..., ANTHESIS], dates[..., FIRST_PICK] = first - 30.0, first + TO_10_G
    weekly = np.diff(so_far).reshape(N_TRACES, DRAWS, -1).astype(np.float32)
    states = at.reshape(N_TRACES, DRAWS, -1)
    return BlockSeasons(
        dates=dates, weeks=tuple(weeks), weekly_g=weekly, spared_g=weekly,
        early_g=np.zeros((N_TRACES, DRAWS)), bed=np.zeros((N_TRACES, 1, 1, 1), np.float32),
        frost=None, initiation_heat=np.zeros((2, N_TRACES, 0)),
        states=PlantStates(states * 0.0, states * 0.0 + 10.0, states),
    )  # fmt: skip


def told(records: pd.DataFrame, issue_d: float, farm: PastOfFarm | None = None):
    """Seasons given records, and what they lean on."""
    seen = seen_of(records, 10.0)
    return conditioned(
        engine(times_wanted(seen, issue_d)), BLOCK, N_DAYS, seen, farm or PastOfFarm(),
        issue_d=issue_d, early_d=120.0, seed=3,
    )  # fmt: skip


def picks(first: float, days, level: float = 1.0, **more) -> pd.DataFrame:
    """Weekly picks of a course."""
    days = np.asarray(days, dtype=float)
    fruit = np.diff(bell(np.append(days[0] - 7.0, days) + 0.5, first, level))
    return pd.DataFrame({"day": days, "marketable_g": fruit, "picked": True, **more})


def ahead(made: BlockSeasons, issue_d: float, weeks: int = 4):
    """Fruit of the weeks after the day of issue, ``[members]``."""
    at = int(issue_d // 7) + 1
    return made.weekly_g.reshape(-1, len(made.weeks))[:, at : at + weeks].sum(axis=1)


@pytest.mark.parametrize(("first", "level"), [(64.0, 1.0), (78.0, 0.7), (72.0, 1.6)])
def test_picks_bring_dates_and_level_near_the_truth(first, level) -> None:
    days = np.arange(first + 6.0, first + 42.0, 7.0)
    made, leaning = told(picks(first, days, level), days[-1])
    start = 7.0 * (days[-1] // 7 + 1)
    real = np.diff(bell(np.array([start, start + 28.0]), first, level))[0]
    plain = ahead(engine(), days[-1])
    found = ahead(made, days[-1])
    assert abs(np.median(found) - real) < max(0.5 * abs(np.median(plain) - real), 0.15 * real)
    assert np.quantile(found, 0.1) < real < np.quantile(found, 0.9)
    assert leaning.past_share == 0.0  # nothing but the model is at hand


def test_what_is_picked_is_picked() -> None:
    days = np.arange(76.0, 105.0, 7.0)
    records = picks(70.0, days)
    made, leaning = told(records, 104.0)
    past = made.weekly_g[..., : int(days[-1] // 7)]
    assert np.ptp(past, axis=(0, 1)).max() == 0.0
    taken = records["marketable_g"].to_numpy()
    at = (days // 7).astype(int)
    assert past[0, 0, at[:-1]] == pytest.approx(taken[:-1], rel=1e-5)
    assert np.unique(made.dates[..., FIRST_PICK]) == pytest.approx([leaning.seen.first_pick_d])


def test_one_pick_of_ten_times_does_not_move_the_forecast_alone() -> None:
    days = np.arange(76.0, 118.0, 7.0)
    honest = picks(70.0, days)
    slipped = honest.copy()
    slipped.loc[3, "marketable_g"] *= 10.0
    usual, moved = (np.median(ahead(told(one, 111.0)[0], 111.0)) for one in (honest, slipped))
    assert moved == pytest.approx(usual, rel=0.15)
    richer = honest.assign(marketable_g=2.0 * honest["marketable_g"])
    assert np.median(ahead(told(richer, 111.0)[0], 111.0)) > 1.5 * usual  # a level that is real


def test_a_stated_loss_moves_it_at_once() -> None:
    days = np.arange(76.0, 105.0, 7.0)
    whole = picks(70.0, days, lost_share=0.0)
    hailed = whole.copy()
    hailed.loc[4, "lost_share"] = 0.4
    hailed.loc[4, "marketable_g"] *= 0.6
    usual, less = (np.median(ahead(told(one, 104.0)[0], 104.0)) for one in (whole, hailed))
    assert less == pytest.approx(0.6 * usual, rel=0.02)


def test_two_bare_visits_in_a_row_end_the_season() -> None:
    days = np.arange(76.0, 118.0, 7.0)
    records = picks(70.0, days, open_flowers=3.0, green_fruit=8.0, ripe_fruit=2.0)
    records.loc[4:, ["open_flowers", "green_fruit", "ripe_fruit", "marketable_g"]] = 0.0
    once = records.drop(index=4).reset_index(drop=True)
    assert ahead(told(records, 111.0)[0], 111.0).max() == 0.0
    assert np.median(ahead(told(once, 111.0)[0], 111.0)) > 0.0


def test_visits_without_flowers_put_the_dates_off() -> None:
    visit = pd.DataFrame(
        {"day": [30, 37, 44], "plants_seen": 20, "plants_in_bloom": 0, "picked": False}
    )
    made, leaning = told(visit, 45.0)
    bloom = made.dates[..., ANTHESIS]
    assert bloom.min() >= 44.5
    assert np.median(made.dates[..., FIRST_PICK]) > np.median(engine().dates[..., FIRST_PICK]) + 2.0
    assert np.isnan(leaning.later_d)


def test_a_bloom_that_was_seen_tells_first_pick_and_how_late_the_plants_are() -> None:
    visit = pd.DataFrame(
        {"day": [41, 48], "plants_seen": 20, "plants_in_bloom": [5, 15], "picked": False}
    )
    made, leaning = told(visit, 50.0)
    assert leaning.seen.bloom_d == pytest.approx(45.0)  # half way between the odds 1:3 and 3:1
    assert leaning.later_d == pytest.approx(5.0, abs=0.5)
    assert np.median(made.dates[..., FIRST_PICK]) == pytest.approx(75.0 + TO_10_G, abs=1.0)


def test_without_records_picking_is_put_off_only_while_half_of_the_draws_wait() -> None:
    nothing = pd.DataFrame()
    early, told_early = told(nothing, 66.0 + TO_10_G)
    assert early.dates[..., FIRST_PICK].min() >= 67.0 + TO_10_G
    assert (told_early.no_pick_assumed, told_early.overdue) == (True, False)
    late, told_late = told(nothing, 80.0 + TO_10_G)
    assert (told_late.no_pick_assumed, told_late.overdue) == (False, True)
    # the uncut dates are told
    plain = engine().dates[..., FIRST_PICK]
    assert np.median(late.dates[..., FIRST_PICK]) == pytest.approx(np.median(plain), abs=0.1)


def test_fruit_left_on_the_plants_is_no_zero() -> None:
    table = pd.DataFrame(
        {"day": [70, 77, 84, 91], "marketable_g": [5.0, 20.0, np.nan, 60.0],
         "picked": [True, True, False, True], "fruit_left": [False, False, True, False]}
    )  # fmt: skip
    seen = seen_of(table, 10.0)
    assert seen.windows.start.tolist() == [63.5, 70.5, 77.5]
    assert seen.windows.stop.tolist() == [70.5, 77.5, 91.5]


def past_table(first=(62.0, 66.0, 64.0, 60.0), expected_first: float = 72.0) -> pd.DataFrame:
    """Past seasons of a block that is earlier than the model expects, and bears half as much."""
    rows = []
    for number, own in enumerate(first):
        planted = pd.Timestamp(PLANTED) - pd.DateOffset(years=number + 1)
        common = {"season": str(planted.year), "block": "Quay", "cultivar": "Marl",
                  "film": "black", "transplant": "bare-root", "planting_date": planted}  # fmt: skip
        moved = expected_first + own - np.mean(first)
        rows.append({**common, "kind": "first flower", "start_d": own - 33.5, "stop_d": own - 26.5,
                     "value": own - 26.5, "left_out_expected": moved - 30.0})  # fmt: skip
        for stop in np.arange(60.5, 200.0, 7.0):
            fruit, model = (np.diff(bell(np.array([stop - 7.0, stop]), one, level))[0]
                            for one, level in ((own, 0.5), (moved, 1.0)))  # fmt: skip
            if fruit > 1.0:
                rows.append({**common, "kind": "marketable_g_per_plant", "start_d": stop - 7.0,
                             "stop_d": stop, "value": fruit,
                             "left_out_expected": model})  # fmt: skip
    return pd.DataFrame(rows)


def test_past_seasons_are_read_as_courses_and_dates() -> None:
    past = past_seasons(past_table(), 10.0)
    first = past[0]
    assert len(past) == 4
    assert first.dates[0] == pytest.approx(60.0 - 30.0)
    assert first.picked[-1] == pytest.approx(bell(first.stop[-1], 60.0, 0.5), rel=0.02)
    others, weights = alike(first.key, past, without=first.season)
    assert len(others) == 3
    assert weights == pytest.approx(1.0 / 3.0)
    assert alike(("Quay", "Marl", "black", "plug"), past)[0] == []
    assert planting_slope(past) == pytest.approx(-0.3, abs=0.2)  # dates hardly differ


def test_a_constant_error_of_the_model_is_taken_off() -> None:
    farm = PastOfFarm(past_seasons(past_table(), 10.0))
    made, leaning = told(pd.DataFrame(), -1.0, farm)
    # 10 g come 5.2 days earlier than the model expects of these seasons, with half of the fruit
    later = np.mean([np.diff([one.dates[1], one.expected_dates[1]]) for one in farm.past])
    assert later == pytest.approx(5.2, abs=0.2)
    assert np.median(made.dates[..., FIRST_PICK]) == pytest.approx(70.0 + TO_10_G - 5.2, abs=1.5)
    plain, less = (np.median(one.weekly_g.sum(axis=-1)) for one in (engine(), made))
    assert less / plain == pytest.approx(0.55, abs=0.08)
    assert leaning.past_seasons == 4


def test_a_member_that_trusts_nothing_expects_the_mean_of_past_seasons() -> None:
    past = past_seasons(past_table((64.0, 64.0)), 10.0)
    windows = Windows(np.array([74.5, 81.5]), np.array([81.5, 88.5]))
    model = np.array([40.0, 70.0, 3.0, 4.0])
    found = expected(WITH_PAST[-1], model, windows, past, np.array([0.5, 0.5]),
                     past[0].day_of_year, 0.0)  # fmt: skip
    grown = np.diff(bell(np.array([74.5, 81.5, 88.5]), 64.0, 0.5))
    assert found[2:] == pytest.approx(np.sqrt(grown + 0.5), rel=0.02)
    assert expected(MODEL, model, windows, past, np.ones(2), 264, 0.0) is model


def test_departures_by_hand() -> None:
    """Roots 2 and 4 a week apart rise by 2/7 a day: a day later is 2/7 less in both."""
    mean = np.array([40.0, 70.0, 2.0, 4.0])
    windows = Windows(np.array([70.0, 77.0]), np.array([77.0, 84.0]))
    scales = NONE._replace(shift_d=3.0, level=0.1)
    found = departures(mean, windows, scales).covariance
    assert found[0, 1] == pytest.approx(9.0)
    assert found[0, 2] == pytest.approx(-9.0 * 2.0 / 7.0)
    assert found[2, 3] == pytest.approx(9.0 * 4.0 / 49.0 + 0.01 * 8.0)
    assert found[2, 2] == pytest.approx(9.0 * 4.0 / 49.0 + 0.01 * 4.0 + 0.25**2)


def test_scales_are_learnt_from_seasons_left_out() -> None:
    alike_seasons = past_seasons(past_table((64.0, 64.5, 63.5, 64.0)), 10.0)
    apart = past_seasons(past_table((55.0, 73.0, 64.0, 68.0)), 10.0)
    near, far = (learn(WITH_PAST[-1], one, own=True).scales.shift_d for one in (alike_seasons,
                                                                               apart))  # fmt: skip
    assert near <= 1.5
    assert far >= 5.0
    assert learn(MODEL, (), own=True).scales == ASSUMED


def test_no_record_says_nothing() -> None:
    assert seen_of(pd.DataFrame(), 10.0).visits == 0
