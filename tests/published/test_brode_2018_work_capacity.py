"""Broede, P. et al. (2018). Int. J. Biometeorology 62:331-345: work capacity under heat.

Values of the curves computed by pythermalcomfort 4.8.1, moderate work of 300 W, rest 117 W, in per
cent. Tolerance: half of the last digit. At 30 degC WBGT they run from 54 to 86 %: a plan must show
the range.
"""

from __future__ import annotations

import pytest

from phenocast.planning.labour.heat_stress import work_share_curves, work_share_range

TABLE = {  # WBGT: NIOSH 300 W, ISO 300 W, Dunne moderate, Hothaps moderate
    26: (100.0, 100.0, 100.0, 98.7),
    28: (100.0, 100.0, 96.0, 95.3),
    30: (62.0, 59.2, 53.8, 85.6),
    32: (19.5, 9.0, 17.0, 66.2),
}


@pytest.mark.parametrize("wbgt", TABLE)
def test_curves(wbgt):
    found = work_share_curves(float(wbgt))
    named = tuple(100.0 * float(found[name]) for name in ("limits", "iso", "dunne", "hothaps"))
    assert named == pytest.approx(TABLE[wbgt], abs=0.051)


def test_heavy_work_by_limits():
    assert 100 * work_share_curves(28.0, 415.0)["limits"] == pytest.approx(77.7, abs=0.051)
    assert 100 * work_share_curves(30.0, 415.0)["limits"] == pytest.approx(46.1, abs=0.051)


def test_the_range_holds_every_published_curve_and_is_never_one_number_in_heat():
    for wbgt, published in TABLE.items():
        low, high = work_share_range(float(wbgt))
        assert 100 * low <= min(published) + 0.051
        assert 100 * high >= max(published) - 0.051
        if wbgt >= 30:
            assert high - low > 0.3
