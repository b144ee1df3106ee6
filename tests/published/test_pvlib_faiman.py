"""pvlib.temperature.faiman: a panel warmed by the sun and cooled by u0 + u1 wind (Faiman 2008).

An independent code path for the film's wind term: with radiation and soil switched off, a black
film with u0 25 and u1 6.84 is such a panel. Values computed by pvlib.
"""

from __future__ import annotations

import pvlib
import pytest

from phenocast.crown import FILM_SURFACE
from tests.crown.bedside import record, run, weather


@pytest.mark.parametrize(("sun", "air", "wind"), [(900, 20, 5), (300, 10, 1), (1000, 35, 0)])
def test_a_black_film_is_a_faiman_panel(sun, air, wind):
    expected = pvlib.temperature.faiman(sun, air, wind, u0=25.0, u1=6.84)
    bed = record(
        solar_reflectance=0.0,
        solar_transmittance=0.0,
        longwave_emittance=0.0,
        longwave_transmittance=0.0,
        contact_conductance=0.0,
        wind_calm=25.0,
        wind_slope=6.84,
    )
    out, _ = run(weather(2, air=float(air), solar=float(sun), wind=float(wind)), bed)
    # Tolerance: rounding only, both are one division.
    assert out[FILM_SURFACE, -1] == pytest.approx(expected, abs=1e-9)


def test_the_documented_example():
    # 900 W m-2, 20 degC, 5 m/s with pvlib's defaults: 35.20 degC.
    assert pvlib.temperature.faiman(900, 20, 5) == pytest.approx(35.20, abs=0.01)
