"""Day length model of Forsythe, Rykiel, Stahl, Wu and Schoolfield (1995), Ecol. Modelling 80:87-95.

An independent closed form (equations read in four transcriptions, two of them with misplaced
brackets; the check values below, computed, tell those apart). It follows the calendar day and
drifts through the leap cycle: against the Solar Position Algorithm it errs by up to 2.5 min at 28,
3.8 at 40 and 5.7 at 52 degrees of latitude, most around the equinoxes. The tolerances are those
errors.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.thermal_time import photoperiod_h


def forsythe_h(latitude, day_of_year, angle):
    theta = 0.2163108 + 2 * np.arctan(0.9671396 * np.tan(0.00860 * (day_of_year - 186)))
    declination = np.arcsin(0.39795 * np.cos(theta))
    lat = np.radians(latitude)
    cosine = (np.sin(np.radians(angle)) + np.sin(lat) * np.sin(declination)) / (
        np.cos(lat) * np.cos(declination)
    )
    return 24 - 24 / np.pi * np.arccos(np.clip(cosine, -1, 1))


def test_transcription_of_the_equations():
    assert forsythe_h(28, 79, 0.8333) == pytest.approx(12.092, abs=0.0006)
    assert forsythe_h(52, 172, 6.0) == pytest.approx(18.366, abs=0.0006)
    assert forsythe_h(-36, 355, 0.8333) == pytest.approx(14.6066, abs=0.0001)
    assert forsythe_h(70, 172, 0.8333) == 24.0


@pytest.mark.parametrize(
    ("latitude", "minutes"), [(-40, 3.8), (-28, 2.5), (28, 2.5), (40, 3.8), (52, 5.7)]
)
@pytest.mark.parametrize("angle", [0.8333, 6.0])
def test_four_years_of_the_leap_cycle(latitude, minutes, angle):
    dates = np.arange("2021-01-01", "2025-01-01", dtype="datetime64[D]")
    day_of_year = (dates - dates.astype("datetime64[Y]")).astype(int) + 1
    ours = photoperiod_h(dates, latitude, angle)
    apart = np.abs(ours - forsythe_h(latitude, day_of_year, angle)) * 60
    assert apart.max() < minutes * (1.0 if angle < 1 else 1.2)  # twilight lengthens the error too


def test_solstices_within_a_minute():
    # declination stands still there, so the calendar matters little: 0.02 h
    got = photoperiod_h(["2025-06-21", "2025-12-21"], 38.0, 0.8333)
    assert got == pytest.approx(forsythe_h(38.0, np.array([172, 355]), 0.8333), abs=0.02)


@pytest.mark.parametrize("latitude", [70.0, -70.0])
def test_polar_day_and_night(latitude):
    june, december = photoperiod_h(["2025-06-21", "2025-12-21"], latitude, 0.8333)
    assert {float(june), float(december)} == {0.0, 24.0}
    assert (june > december) == (latitude > 0)
