"""AmeriFlux BASE US-Tw3 version 5-5, D. Baldocchi, doi 10.17190/AMF/1246149: sensors of a field.

Radiometric surface and soil at 5 and 10 cm of a fallow field under stubble in two winters, read as
in calibration/fits/us_tw3_surface.py. The estimator is fitted to one part of the days and scored on
the other. It is told the shipped bare soil, its soil type, and nothing of the site's albedo or
water.

Bar: on days it never saw, no sensor's RMSE rises, whichever part is fitted. Both winters were in
view when the contact of cover and soil and the level of the deep soil were made part of the fit:
without that level the soil at 10 cm got worse in 2015 (first half: 0.90 to 1.45 degC).
So this checks the fit as it stands; it is no independent check of that choice.
"""

from __future__ import annotations

import importlib.util
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from sklearn.model_selection import GroupKFold, cross_val_score

from phenocast.calibration import CrownSensorCalibrator
from phenocast.crown import bed_forcing, bed_records, bed_temperatures
from phenocast.parameters import ParameterSet, bed, films, soils
from phenocast.season import Site
from phenocast.weather.hourly import HourlyWeather

ROOT = Path(__file__).resolve().parents[2]
SETTLING_D = 3


def _script():
    path = ROOT / "calibration" / "fits" / "us_tw3_surface.py"
    spec = importlib.util.spec_from_file_location("us_tw3_surface_for_sensors", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up by name
    spec.loader.exec_module(module)
    return module


script = _script()
# Stubble lies on the soil like a cover of unknown contact: the bed's own prior, not bare soil's.
STUBBLE = ParameterSet(
    "stubble",
    {key: p for key, p in films()["bare-soil"].items() if key != "contact_conductance"},
)


@cache
def winter(name):
    """Weather, readings and day number of one winter."""
    case = script.read_case(Path(__file__).parent / "data", name)
    t = case.table
    n = len(t)
    weather = HourlyWeather(
        t.index.to_numpy().astype("datetime64[h]") + np.timedelta64(8, "h"),
        t.TA.to_numpy(),
        (0.6108 * np.exp(17.27 * t.TA / (t.TA + 237.3)) * t.RH / 100).to_numpy(),
        t.WS.to_numpy(), t.SW_IN.clip(lower=0).to_numpy(), t.LW_IN.to_numpy(), np.zeros(n),
        np.zeros(n, dtype=np.uint8), Site("US-Tw3", 38.1159, -121.6467, -9.0, "Etc/GMT+8"),
    )  # fmt: skip
    readings = pd.DataFrame(
        {"film_surface_c": case.measured["surface"], "soil_5cm_c": case.measured["soil 5 cm"],
         "soil_10cm_c": case.measured["soil 10 cm"]}
    )  # fmt: skip
    return weather, readings, np.arange(n) // 24


def unfitted(weather):
    """Temperatures of the shipped numbers."""
    n = len(weather)
    record = bed_records(STUBBLE, bed(), soils()["clay loam"])[0]
    forcing = bed_forcing(weather, np.zeros(n))  # all longwave is measured: no cloud to work out
    return bed_temperatures(forcing, np.zeros(n), np.zeros(n), record)


def fitted_days(part, day):
    half = (day.max() + 1) / 2
    return {"first half": day < half, "second half": day >= half, "even days": day % 2 == 0,
            "odd days": day % 2 == 1}[part]  # fmt: skip


@pytest.mark.parametrize("name", ["2014", "2015"])
@pytest.mark.parametrize("part", ["first half", "second half", "even days", "odd days"])
def test_fit_to_one_part_of_the_days_betters_the_other(name, part):
    weather, readings, day = winter(name)
    hours = weather.time_utc[:, None]
    fit = fitted_days(part, day)
    model = CrownSensorCalibrator(weather, film=STUBBLE, soil="clay loam", held_out_share=0.0,
                                  settling_d=SETTLING_D)  # fmt: skip
    model.fit(hours[fit], readings[fit])
    other = ~fit & (day >= SETTLING_D)
    before, after = unfitted(weather), model.predict(hours)
    for column, sensor in ((0, "film_surface_c"), (3, "soil_5cm_c"), (4, "soil_10cm_c")):
        measured = readings[sensor].to_numpy()[other]
        was = np.sqrt(np.mean((getattr(before, sensor)[other] - measured) ** 2))
        now = np.sqrt(np.mean((after[other, column] - measured) ** 2))
        assert now <= was, sensor


def test_dry_stubble_touches_the_soil_loosely_and_numbers_at_bounds_are_named():
    # The winter of 2014 was dry; the fit page told from its residuals that stubble insulates more
    # than a tight film (20 W m-2 K-1).
    weather, readings, _ = winter("2014")
    model = CrownSensorCalibrator(weather, film=STUBBLE, soil="clay loam", settling_d=SETTLING_D)
    model.fit(weather.time_utc, readings)
    assert model.values_["contact_conductance"] < 10.0
    assert model.held_["sky_offset"] == "the longwave of the sky was measured"
    for name, bound in model.at_bound_.items():
        assert f"{name} " in model.report()
        assert f"AT ITS BOUND {bound:g}" in model.report()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["2014", "2015"])
def test_cross_validation_by_whole_days(name):
    weather, readings, day = winter(name)
    model = CrownSensorCalibrator(weather, film=STUBBLE, soil="clay loam", held_out_share=0.0,
                                  settling_d=SETTLING_D)  # fmt: skip
    own = day >= SETTLING_D
    scores = cross_val_score(
        model, weather.time_utc[own][:, None], readings[own], groups=day[own], cv=GroupKFold(4)
    )
    before = unfitted(weather)
    off = np.column_stack([getattr(before, s) - readings[s] for s in readings])[own]
    assert -scores.mean() < np.sqrt(np.mean(off**2))
