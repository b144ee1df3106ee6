"""A day-neutral type in hot chambers: where long days become obligatory.

Nishiyama, M. and Kanahama, K. (2002), Acta Hort. 567, 'Summerberry' (abstract read): at 20/15 and
25/20 degC flowers in 8 h and in 24 h, more in 24 h; at 30/25 degC none in 8 to 12 h, 13 h
inhibited, 14 h and more promoted: critical day between 13 and 14 h. Archetype: Tuff, unconditioned
plug, flowers initiated in 60 days. The cut-offs .45 and .5 of the 16 h value are ours: the abstract
has words, no numbers.
"""

import pytest

from tests.phenology.chamber import chamber


def _flowers(day, night, photoperiod):
    season = chamber("Tuff", "plug", 60, day, photoperiod, night_c=night)
    return season.flowers_initiated.sum()


def test_critical_day_at_30_25():
    best = _flowers(30.0, 25.0, 16.0)
    assert _flowers(30.0, 25.0, 12.0) <= 0.05 * best
    assert _flowers(30.0, 25.0, 13.0) <= 0.45 * best
    assert _flowers(30.0, 25.0, 14.0) >= 0.5 * best


@pytest.mark.parametrize(("day", "night"), [(20.0, 15.0), (25.0, 20.0)])
def test_cooler_chambers_flower_in_both_and_more_in_light(day, night):
    short, continuous = _flowers(day, night, 8.0), _flowers(day, night, 24.0)
    assert short > 3.5  # half a truss
    assert continuous > short
