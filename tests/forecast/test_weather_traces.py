"""Observed weather that begins shortly before planting is used, not put aside."""

from datetime import date

import numpy as np
import pytest

from phenocast.forecast.weather_traces import weather_traces
from phenocast.season import Site
from phenocast.weather import SeasonWeather, constant_weather

SITE = Site("Home Field", 29.3, -15.6, 35.0, "Atlantic/Canary")
PLANTED = date(2026, 10, 14)


def weather(observed_from, air_c=20.0):
    history = constant_weather(SITE, 24 * 365 * 6, 10.0).restamped("2019-01-01")
    observed = constant_weather(SITE, 24 * 30, air_c).restamped(observed_from)
    return SeasonWeather(observed=observed, history=history)


@pytest.mark.parametrize(
    ("observed_from", "first_day"),
    [
        ("2026-09-25T00", "2026-09-30"),  # before the spin-up: the traces begin with it
        ("2026-10-12T00", "2026-10-12"),  # within it: the traces begin with the observations
        ("2026-10-11T05", "2026-10-12"),  # a part of a day is no day
        ("2026-10-14T00", "2026-10-14"),  # on the planting day itself
    ],
)
def test_observations_from_before_planting_are_used(observed_from, first_day):
    traces = weather_traces(
        weather(observed_from), SITE, date(2026, 9, 30), date(2027, 7, 1), date(2026, 11, 1),
        PLANTED,
    )  # fmt: skip
    one = traces.traces[0].weather
    assert one.time_utc[0] == np.datetime64(first_day, "h")
    planting = (np.datetime64(PLANTED, "h") - one.time_utc[0]).astype(int)
    assert one.air_c[planting] == 20.0
    assert traces.observed_until is not None
    told = [text for text in traces.warnings if "to settle" in text]
    assert len(told) == (first_day != "2026-09-30")


def test_observations_that_begin_after_planting_are_told_as_unused():
    traces = weather_traces(
        weather("2026-10-20"), SITE, date(2026, 9, 30), date(2027, 7, 1), date(2026, 11, 1), PLANTED
    )
    assert traces.observed_until is None
    assert any("it is not used" in text for text in traces.warnings)


def test_what_was_not_yet_observed_does_not_move_the_start():
    traces = weather_traces(
        weather("2026-10-12"), SITE, date(2026, 9, 30), date(2027, 7, 1), date(2026, 10, 1), PLANTED
    )
    assert traces.traces[0].weather.time_utc[0] == np.datetime64("2026-09-30", "h")
    assert (traces.traces[0].weather.air_c == 10.0).all()
