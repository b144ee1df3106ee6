"""Planting to first ripe fruit of plants that come with buds.

Le Miere, P., Hadley, P., Darby, J. and Battey, N.H. (1998), J. Hort. Sci. Biotechnol. 73:786-795,
'Elsanta': 831 degC d above 2.4 degC for cold-stored plants. The abstract was read; the days below
are the sum over the constant temperature. Archetype: Basalt, transplant cold-stored, long days.

The progress of the cold-stored truss was tuned to the row of 15 degC, which is therefore no check.
The others are: they say whether the response to temperature is right. Tolerance 10 %: the paper's
base temperature is uncertain by about 1 degC, which is 10 % of the days at 10 degC.
"""

import pytest

from tests.phenology.chamber import chamber

DEGREE_DAYS = 831.0
BASE_C = 2.4


@pytest.mark.parametrize("temperature", [10.0, 12.0, 18.0, 20.0])
def test_days_to_first_ripe_fruit(temperature):
    season = chamber("Basalt", "cold-stored", 200, temperature, 16.0)
    assert season.first_ripe == pytest.approx(DEGREE_DAYS / (temperature - BASE_C), rel=0.10)


def test_the_row_it_was_tuned_to():
    season = chamber("Basalt", "cold-stored", 200, 15.0, 16.0)
    assert season.first_ripe == pytest.approx(DEGREE_DAYS / (15.0 - BASE_C), rel=0.03)


def test_fruit_is_smaller_when_warm():
    cool = chamber("Basalt", "cold-stored", 200, 14.0, 16.0)
    warm = chamber("Basalt", "cold-stored", 200, 20.0, 16.0)
    assert warm.ripe_g.sum() / warm.ripe_fruit.sum() < cool.ripe_g.sum() / cool.ripe_fruit.sum()
