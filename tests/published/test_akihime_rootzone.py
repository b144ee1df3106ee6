"""A warmer root zone in winter: trusses follow the crown, fruit follows the air.

'Akihime', Hort. Res. (Japan) 8(2) (abstract read; authors not shown): root zone 16.2 to 21.0 degC
shortened the interval between axillary trusses and gave one truss more; ripening time of the fruit
was unchanged. Archetype: Gneiss, conditioned plug, air 16 degC, crown 16.2 and 21.0 degC.
Tolerance for "unchanged": one day.
"""

from tests.phenology.chamber import chamber


def _winter(crown):
    return chamber("Gneiss", "conditioned-plug", 150, crown, 11.5, air_c=16.0)


def test_more_trusses_with_a_warm_root_zone():
    cool, warm = _winter(16.2), _winter(21.0)
    assert warm.flowers_initiated.sum() > 1.1 * cool.flowers_initiated.sum()
    assert warm.emergence < cool.emergence


def test_ripening_time_unchanged():
    cool, warm = (_winter(c) for c in (16.2, 21.0))
    days = [s.first_ripe - s.anthesis for s in (cool, warm)]
    assert abs(days[1] - days[0]) < 1.0
