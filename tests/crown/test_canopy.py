import numpy as np
import pytest

from phenocast.crown import canopy_cover, canopy_degree_days, measured_cover
from phenocast.errors import InputError


def test_warmth_counts_between_base_and_ceiling_after_rooting():
    air = np.concatenate([np.full(24, 40.0), np.full(24, 0.0), np.full(24, 15.0)])
    warmth = canopy_degree_days(air, base_c=5.0, ceiling_c=26.0, delay_h=0)
    assert warmth[[23, 47, 71]] == pytest.approx([21.0, 21.0, 31.0])
    late = canopy_degree_days(air, base_c=5.0, ceiling_c=26.0, delay_h=24)
    assert late[[23, 71]] == pytest.approx([0.0, 10.0])
    assert air[0] == 40.0


def test_cover_starts_at_planting_cover_grows_and_stays_under_the_maximum():
    cover = canopy_cover(
        np.linspace(0, 3000, 500),
        initial=0.05,
        maximum=0.7,
        midpoint_degree_days=850.0,
        scale_degree_days=140.0,
    )
    assert cover[0] == 0.05
    assert np.all(np.diff(cover) > 0)
    assert cover[-1] < 0.7 + 1e-12
    # Half the growth is done at the midpoint.
    middle = canopy_cover(
        np.array([850.0]),
        initial=0.05,
        maximum=0.7,
        midpoint_degree_days=850.0,
        scale_degree_days=140.0,
    )
    assert middle == pytest.approx([0.375], abs=0.002)


def test_readings_are_joined_by_straight_lines_and_bad_ones_refused():
    at = np.array([0.0, 100.0, 200.0])
    assert measured_cover(np.array([-5.0, 50.0, 150.0, 900.0]), at, np.array([0.0, 0.2, 0.6])) == (
        pytest.approx([0.0, 0.1, 0.4, 0.6])
    )
    with pytest.raises(InputError, match="not in order of time"):
        measured_cover(at, at[::-1].copy(), np.array([0.0, 0.2, 0.6]))
    with pytest.raises(InputError, match=r"out of range \(value 20"):
        measured_cover(at, at, np.array([0.0, 20.0, 0.6]))
    with pytest.raises(InputError, match="one cover for each time"):
        measured_cover(at, at, np.array([0.1]))
