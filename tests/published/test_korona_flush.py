"""Shape of a single flush in the field.

Sonsteby and Heide (2009), 'Korona', Norway 2006, weekly cumulative harvest in g per plant, as
digitised in an open data set (read there): 0.1, 13.3, 33.2, 45.4, 50.6, 52.1 on days 175 to 210:
shares .00 .26 .64 .87 .97 1.0. Archetype: Basalt after a cold winter, Greensboro typical year (36
N), so only the shape can be compared: the calendar is laid over the model's with the one shift
that fits best, because where the first pick fell within its week is not known. Tolerance .12,
about a pick. Frost is kept away: the trial's flowers were not frosted.
"""

from datetime import date

import numpy as np

from phenocast.harvest import grow
from phenocast.phenology.daily import FLOWER_MIN
from tests.phenology.chamber import plant_of
from tests.phenology.stations import season_at

OBSERVED = np.array([0.1, 13.3, 33.2, 45.4, 50.6, 52.1]) / 52.1


def test_weekly_shares():
    days = season_at("Greensboro", date(2025, 10, 1)).daily.copy()
    days[FLOWER_MIN, 140:] = np.maximum(days[FLOWER_MIN, 140:], 1.0)
    season = grow(days, plant_of("Basalt", "plug"))
    spring = season.ripe_g.copy()
    spring[:150] = 0.0
    share = np.cumsum(spring) / spring.sum()
    end_of_day = np.arange(1, season.n_days + 1)
    worst = [
        np.abs(np.interp(start + 7 * np.arange(6), end_of_day, share) - OBSERVED).max()
        for start in range(150, 240)
    ]
    assert min(worst) < 0.12
