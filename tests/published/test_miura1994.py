"""From the first flower of a truss to its last ripe fruit, and dry mass, at two temperatures.

Miura, H., Yoshida, M. and Yamasaki, A. (1994), J. Japan. Soc. Hort. Sci. 62:769-774, 'Toyonoka':
88 days at 15 degC and 69 days at 19 degC (abstract read): ratio 1.275. Only the ratio is checked:
the model follows three fruit ranks and not the last fruit of a truss. Tolerance 0.10: half a degree
in the base temperature. Mean dry mass of a fruit 0.879 g and 0.774 g: 12 % less.
Archetype: Basalt, transplant cold-stored.
"""

import numpy as np
import pytest

from tests.phenology.chamber import chamber


def _first_flower_to_last_fruit(season):
    """Days from 1 % of the flowers open to 99 % of the fruit ripe."""

    def passing(series, share):
        total = np.cumsum(series) / series.sum()
        return np.interp(share, total, np.arange(1, len(series) + 1))

    return passing(season.ripe_fruit, 0.99) - passing(season.flowers_open, 0.01)


# one truss, and no spread between plants: what the paper followed
ONE = {"trusses_at_planting": 1.0, "ripening_spread": 0.5, "induction_carried": 0.0}


def test_ratio_of_the_two_temperatures():
    at_15, at_19 = (chamber("Basalt", "cold-stored", 200, t, 16.0, plant=ONE) for t in (15.0, 19.0))
    ratio = _first_flower_to_last_fruit(at_15) / _first_flower_to_last_fruit(at_19)
    assert ratio == pytest.approx(88.0 / 69.0, abs=0.10)


def test_fruit_mass_falls_at_least_as_much_as_its_dry_mass():
    # between 12 % (dry mass) and 67 % (Menzel 2019, 16 to 20 degC, confounded with season)
    at_15, at_19 = (chamber("Basalt", "cold-stored", 200, t, 16.0, plant=ONE) for t in (15.0, 19.0))
    mass = [s.ripe_g.sum() / s.ripe_fruit.sum() for s in (at_15, at_19)]
    assert 0.12 <= 1.0 - mass[1] / mass[0] <= 0.67
