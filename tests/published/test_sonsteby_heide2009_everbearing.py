"""Day-neutral types at 9 to 27 degC.

Sonsteby, A. and Heide, O.M. (2009), Acta Hort. 842:777-780 (abstract read): at 27 degC flowers
only in long days, about four weeks after the transfer to them; long days advance flowering at 15
and 21 degC; at 9 degC much later, and no effect of photoperiod. Archetypes Tuff and Schist,
unconditioned plug. "First flowers" is read as one plant in ten. Tolerances: 6 days, a cultivar's
spread; 15 % for "no effect".
"""

import numpy as np
import pytest

from tests.phenology.chamber import chamber


def _anthesis(temperature, photoperiod, cultivar="Tuff", **plant):
    return chamber(cultivar, "plug", 160, temperature, photoperiod, plant=plant).anthesis


@pytest.mark.parametrize("cultivar", ["Tuff", "Schist"])
def test_first_flowers_four_weeks_after_transfer_at_27(cultivar):
    first = _anthesis(27.0, 24.0, cultivar, first_anthesis_flowers=0.1)
    assert first == pytest.approx(28.0, abs=6.0)


def test_short_days_at_27_give_none():
    assert not np.isfinite(_anthesis(27.0, 10.0))


@pytest.mark.parametrize("temperature", [15.0, 21.0])
def test_long_days_advance_flowering(temperature):
    assert _anthesis(temperature, 24.0) < _anthesis(temperature, 10.0)


def test_photoperiod_neutral_and_late_at_9():
    short, long = _anthesis(9.0, 10.0), _anthesis(9.0, 24.0)
    assert long / short == pytest.approx(1.0, abs=0.15)
    assert min(short, long) > 1.5 * _anthesis(15.0, 10.0)
