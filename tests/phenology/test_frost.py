"""Frost by stage: open flowers first, then white buds and green fruit, then tight buds.

Critical temperatures from the Ontario fact sheet after Perry and Poling (1985): tight bud -5.5,
popcorn -2.2, open -1.1, fruit -2.2 degC (read); most blooms dead below 26 degF, -3.3 degC
(Delaware Weekly Crop Update, read).
"""

import numpy as np
import pytest

from phenocast.harvest import grow
from phenocast.parameters import cultivars
from phenocast.phenology.chamber import chamber_days
from phenocast.phenology.daily import FLOWER_MIN
from phenocast.phenology.prefix import frost_log_survival
from tests.phenology.chamber import plant_of

PLANT = plant_of("Basalt", "plug")


def _dead(temperature, stage):
    half_below, width = PLANT["frost_half_below"], PLANT["frost_width"]
    return 1.0 - np.exp(frost_log_survival(temperature, PLANT[stage], half_below, width))


@pytest.mark.parametrize("stage", ["frost_bud", "frost_popcorn", "frost_open", "frost_green"])
def test_injury_begins_at_the_critical_temperature(stage):
    assert 0.01 < _dead(PLANT[stage], stage) < 0.15
    assert _dead(PLANT[stage] + 1.5, stage) < 0.005


def test_most_open_flowers_die_below_26_degrees_fahrenheit():
    assert _dead(-3.4, "frost_open") > 0.9


def _one_truss(night, minimum):
    days = chamber_days(120, 15.0, 16.0, cultivar=cultivars()["Basalt"])
    days[FLOWER_MIN, night] = minimum
    plant = plant_of(
        "Basalt", "cold-stored", trusses_at_planting=1.0, load_largest=1e12, size_decline=0.0
    )
    return grow(days, plant)


@pytest.fixture(scope="module")
def unharmed():
    return _one_truss(0, 10.0)


def test_damage_by_stage(unharmed):
    all_fruit = unharmed.ripe_fruit.sum()
    opening = int(unharmed.anthesis)

    def left(night):
        return _one_truss(night, -3.0).ripe_fruit.sum() / all_fruit

    before_emergence, tight, green = 3, int(unharmed.emergence) + 3, opening + 20
    assert left(before_emergence) == pytest.approx(1.0)
    assert left(tight) > 0.99
    # seven nights on, the tertiary flowers, more than half of the truss, are open or about to be
    assert left(opening + 7) < 0.6
    assert left(opening + 7) < left(green) < 0.75


def test_a_mild_night_does_nothing(unharmed):
    mild = _one_truss(int(unharmed.anthesis), 1.5)
    assert mild.ripe_fruit.sum() == pytest.approx(unharmed.ripe_fruit.sum(), rel=1e-3)
