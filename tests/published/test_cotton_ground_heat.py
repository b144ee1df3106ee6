"""Mulched cotton in the Tarim basin, abstract read (title not noted): more than 20 % of the net
radiation goes into the soil at the seedling stage. One-sided, black film, hours of sun.
"""

from __future__ import annotations

import numpy as np

from phenocast.crown import starting_state
from tests.crown.bedside import SIGMA, run
from tests.crown.stations import bed_of, hour_of, station


def test_share_of_net_radiation_into_the_soil():
    forcing, _ = station("greensboro")
    first = hour_of("2002-05-01")
    bed = bed_of("black")
    n = 24 * 30
    hours = {
        "air": forcing.air_c,
        "vapour": forcing.vapour_pressure_kpa,
        "wind": forcing.wind_m_s,
        "solar": forcing.solar_w_m2,
        "sky": forcing.longwave_down_w_m2,
        "deep": forcing.deep_c,
    }
    hours = {k: v[first : first + n] for k, v in hours.items()}
    hours |= {k: np.zeros(n) for k in ("estimated", "sprinkling")} | {"cover": np.full(n, 0.05)}
    state = starting_state(hours["air"], float(hours["deep"][0]))
    into, net = [], []
    for i in range(n):
        _, state = run({k: v[i : i + 1] for k, v in hours.items()}, bed, state=state)
        first_layer, film, surface = state[0, 0], state[0, 3], state[0, 4]
        into.append(bed.conductivity / 0.02 * (surface - first_layer))
        light = hours["solar"][i] * (1 - 0.85 * 0.05)
        net.append(
            (1 - bed.solar_reflectance) * light
            + bed.longwave_emittance * (hours["sky"][i] - SIGMA * (film + 273.15) ** 4)
            + bed.longwave_transmittance
            * bed.soil_emittance
            * (hours["sky"][i] - SIGMA * (surface + 273.15) ** 4)
        )
    into, net = np.array(into), np.array(net)
    sunny = (hours["solar"] > 100.0) & (np.arange(n) > 120)
    assert into[sunny].sum() / net[sunny].sum() > 0.20
    # and less than half: it is a film in the open, not a solar pond
    assert into[sunny].sum() / net[sunny].sum() < 0.50
