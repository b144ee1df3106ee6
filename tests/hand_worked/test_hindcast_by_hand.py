"""Three past seasons of a block, scored by hand against the calendar and the warmth of the air."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

from phenocast.forecast.hindcast import Hindcast
from phenocast.forecast.hindcast_document import hindcast_document
from phenocast.forecast.picked import PickedBlock


def season(year, seen, forecast, own_sum, taken, weekly):
    """A season whose first pick was seen on a day and forecast by one member."""
    picked = PickedBlock(np.array([60.5]), np.array([taken]), (f"{year}-W49",), seen, seen)
    block = SimpleNamespace(
        name="A", cultivar="Marl", film="black", planting_date=date(year, 10, 1)
    )
    past = SimpleNamespace(label=str(year), block=block, picked=picked)
    return Hindcast(
        past, date(year, 9, 30), 0, np.array([forecast]), picked.weeks, picked.taken,
        np.array([[weekly]]), 200, (), (), air_sums=10.0 * np.arange(201.0)[None, :],
        own_sum=own_sum,
    )  # fmt: skip


def test_skill_against_calendar_and_warmth():
    made = [
        season(2013, 50.0, 53.0, 500.0, 10.0, 12.0),
        season(2014, 60.0, 58.0, 600.0, 20.0, 18.0),
        season(2015, 64.0, 63.0, 640.0, 30.0, 33.0),
    ]
    told = hindcast_document(
        made, [], source="picks.csv", records=3, draws=1, seed=0, past_years="earlier"
    )
    dates, weekly = told["leads"][0]["first_pick"], told["leads"][0]["weekly"]
    # Errors 3, -2, -1. The dates of the other two years as a forecast: for 2013 60 and 64, 12 away
    # on average less 1 for their own distance: 11; for 2014 50 and 64: 7 - 3.5; for 2015 50 and 60:
    # 9 - 2.5. Mean 7 against 2 of the forecast: 1 - 2/7
    assert dates["crps_d"] == 2.0
    assert dates["mae_d"] == 2.0
    assert dates["bias_d"] == 0.0
    assert dates["rmse_d"] == pytest.approx(2.16)  # root of 14/3
    assert dates["calendar"]["crps_d"] == 7.0
    assert dates["calendar"]["skill"] == 0.714
    # Their means 62, 57, 55 are off by 12, 3 and 9
    assert dates["calendar"]["mae_d"] == 8.0
    # The air warmth of the others, 620, 570 and 550, at 10 a day: the same days, so 1 - 2/8
    assert dates["air_warmth"]["crps_d"] == 8.0
    assert dates["air_warmth"]["skill"] == 0.75
    # Fruit of the week: (2 + 2 + 3) / 60; of the other years, 25, 20, 15: (15 + 0 + 15) / 60
    assert weekly["wape"] == 0.117
    assert weekly["bias_share"] == 0.05
    assert weekly["crps_g"] == 2.33
    assert weekly["calendar"]["wape"] == 0.5
    assert weekly["calendar"]["forecast_wape"] == 0.117
