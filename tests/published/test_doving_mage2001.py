"""How much earlier the season is per degree.

Doving, A. and Mage, F. (2001), Acta Agric. Scand. B 51:28-34, Norway 1967 to 1999 (abstract
read): the season began 4.1 days earlier per degree of the mean of June, the weeks before harvest,
near 13 to 14 degC. Archetype: Basalt, transplant cold-stored, in a spring that warms by 0.1 degC
a day, five weeks before harvest warmer or cooler by one degree. Accepted 2 to 5 days: warm Junes
follow warm Mays, which the regression includes and the test does not.
"""

import numpy as np

from phenocast.harvest import grow
from phenocast.parameters import cultivars
from phenocast.phenology.chamber import day_table
from tests.phenology.chamber import plant_of


def _first_pick(warmer):
    own = cultivars()["Basalt"]
    wave = 5.0 * np.cos((np.arange(24) - 14.0) * np.pi / 12.0)
    days = []
    for i in range(160):
        hours = 5.0 + 0.1 * i + wave + (warmer if 62 <= i < 97 else 0.0)
        days.append(day_table(hours, hours, 16.0, 15.0, 0.5, own))
    return grow(np.column_stack(days), plant_of("Basalt", "cold-stored")).first_pick


def test_days_per_degree():
    shift = (_first_pick(-1.0) - _first_pick(1.0)) / 2.0
    assert 2.0 <= shift <= 5.0
