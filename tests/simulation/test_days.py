"""Local standard days in hourly UTC series."""

from datetime import date

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.simulation.setup import local_days

HOURS = np.arange("2026-09-01T00", "2026-12-01T00", dtype="datetime64[h]")


def test_a_day_has_24_hours_across_a_clock_change() -> None:
    days = local_days(HOURS, "Europe/Madrid", date(2026, 10, 24), 3)
    assert HOURS[days.first_hour] == np.datetime64("2026-10-23T23")
    assert HOURS[days.hours()][-1] == np.datetime64("2026-10-26T22")


def test_days_outside_the_weather_are_refused_with_both_periods() -> None:
    with pytest.raises(InputError) as told:
        local_days(HOURS, "Europe/Madrid", date(2026, 11, 1), 60, "block A")
    assert "block A" in str(told.value)
    assert "2026-12-30" in str(told.value)
