"""AmeriFlux BASE US-Tw3 version 5-5, D. Baldocchi, doi 10.17190/AMF/1246149, two winter slices.

Measured radiometric surface and soil of a fallow field against the bed's balance, as told in
calibration/fits/us_tw3_surface.md. The winter of 2014 was in view when the damping of turbulence
was built in; that of 2015 was not.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

from phenocast.crown import sky_longwave

ROOT = Path(__file__).resolve().parents[2]


def _script():
    path = ROOT / "calibration" / "fits" / "us_tw3_surface.py"
    spec = importlib.util.spec_from_file_location("us_tw3_surface", path)
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look their module up by name.
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


script = _script()
TABLES = {
    name: script.rows(script.read_case(Path(__file__).parent / "data", name))
    for name in script.SLICES
}
MODEL = "balance, stubble as tight cover"


@pytest.mark.parametrize("name", ["2014", "2015"])
@pytest.mark.parametrize("what", ["surface", "soil 10 cm"])
def test_the_balance_beats_air_and_the_line_of_other_days(name, what):
    scores = TABLES[name][what]
    assert scores[MODEL][0] < 0.9 * scores["line, other days"][0]
    assert scores[MODEL][0] < 0.6 * scores["air"][0]
    assert scores["balance, bare soil"][0] < scores["air"][0]


def test_in_2014_it_beats_a_line_fitted_to_the_very_days_scored():
    for what in ("surface", "soil 10 cm"):
        scores = TABLES["2014"][what]
        assert scores[MODEL][0] < 0.75 * scores["line, same days"][0]


@pytest.mark.parametrize("name", ["2014", "2015"])
def test_error_is_what_an_uncalibrated_balance_is_known_to_have(name):
    # Published uncalibrated soil-surface errors are 1.5 to 2.8 degC; bands, not fits.
    assert TABLES[name]["surface"][MODEL][0] < 2.0
    assert abs(TABLES[name]["surface"][MODEL][1]) < 1.5
    assert TABLES[name]["soil 10 cm"][MODEL][0] < 1.0
    assert abs(TABLES[name]["soil 10 cm"][MODEL][1]) < 1.0


def test_the_shallow_soil_under_dry_stubble_is_the_known_miss():
    # Declared on the fit page; when this is bettered, page and test change together.
    scores = TABLES["2014"]["soil 5 cm"]
    assert scores["line, other days"][0] < scores[MODEL][0] < scores["air"][0]


def test_the_fit_page_tells_these_numbers():
    page = (ROOT / "calibration" / "fits" / "us_tw3_surface.md").read_text(encoding="utf-8")
    for scores in TABLES.values():
        for what, by in scores.items():
            for label, (rmse, bias) in by.items():
                assert f"| {what} | {label} | {rmse:.2f} | {bias:+.2f} |" in page


def test_estimated_longwave_against_the_measured():
    # Brutsaert with cloud from the clear-sky ratio, clear sky by pvlib. The reference work found
    # it within 8 W m-2 at five stations and 19 to 24 off at two; band of 25 on the mean.
    for name in script.SLICES:
        t = script.read_case(Path(__file__).parent / "data", name).table
        middle = pd.DatetimeIndex(t.index + pd.Timedelta(minutes=30)).tz_localize("Etc/GMT+8")
        place = pvlib.location.Location(38.1159, -121.6467, altitude=-9)
        clear = place.get_clearsky(middle, model="ineichen")["ghi"].to_numpy()
        vapour = 0.6108 * np.exp(17.27 * t.TA / (t.TA + 237.3)) * t.RH / 100
        got = sky_longwave(
            t.TA.to_numpy(), vapour.to_numpy(), t.SW_IN.clip(lower=0).to_numpy(), clear
        )
        error = got - t.LW_IN.to_numpy()
        # Scatter is 24 and 30 W m-2: too low before dawn under fog and inversions, which the air
        # at 2 m does not show, and too high in the afternoon. Declared on the fit page.
        assert abs(error.mean()) < 25.0
        before_dawn, afternoon = (
            error[np.isin(t.index.hour, h)].mean() for h in ((4, 5, 6), (13, 14, 15))
        )
        assert before_dawn < 0.0 < afternoon
