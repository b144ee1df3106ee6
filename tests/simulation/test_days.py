"""Local standard days in hourly UTC series."""

from datetime import date

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.simulation.days import local_days, midnight_utc, standard_offset_h

HOURS = np.arange("2026-09-01T00", "2026-12-01T00", dtype="datetime64[h]")


@pytest.mark.parametrize(
    ("zone", "hours"),
    [
        ("Europe/Dublin", 0.0),  # the zone database gives Dublin a negative saving in winter
        ("Australia/Brisbane", 10.0),
        ("America/Santiago", -4.0),
        ("Australia/Adelaide", 9.5),
    ],
)
def test_standard_time_ignores_daylight_saving_in_both_hemispheres(zone: str, hours: float) -> None:
    if zone == "Europe/Dublin":
        assert standard_offset_h(zone, 2026) in (0.0, 1.0)
    else:
        assert standard_offset_h(zone, 2026) == hours


def test_a_day_has_24_hours_across_a_clock_change() -> None:
    days = local_days(HOURS, "Europe/Madrid", date(2026, 10, 24), 3)
    assert HOURS[days.first_hour] == np.datetime64("2026-10-23T23")
    assert HOURS[days.hours()][-1] == np.datetime64("2026-10-26T22")


def test_half_hour_zone_starts_at_the_first_full_hour_inside_the_day() -> None:
    assert midnight_utc(date(2026, 10, 1), "Asia/Kolkata") == np.datetime64("2026-09-30T19", "h")


def test_days_outside_the_weather_are_refused_with_both_periods() -> None:
    with pytest.raises(InputError) as told:
        local_days(HOURS, "Europe/Madrid", date(2026, 11, 1), 60, "block A")
    assert "block A" in str(told.value) and "2026-12-30" in str(told.value)
