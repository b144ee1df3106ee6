"""Days to anthesis of a short-day type with 18 degC days and four night temperatures.

Sonsteby, A. and Heide, O.M. (2009), probably Acta Hort. 838:93-97, 'Florence' in 12 h days,
figure 1 as digitised in an open data set (read there; title and origin of the days inferred).
Median days 60, 55, 52 and 48 with nights of 9, 12, 15 and 18 degC. Archetype: Basalt,
unconditioned plug. Tolerance 5 days: plants spread by 6 days and cultivars by 10.
"""

import pytest

from tests.phenology.chamber import chamber


@pytest.mark.parametrize(("night", "days"), [(9.0, 60.0), (12.0, 55.0), (15.0, 52.0), (18.0, 48.0)])
def test_median_days_to_anthesis(night, days):
    season = chamber("Basalt", "plug", 120, 18.0, 12.0, night_c=night)
    assert season.anthesis == pytest.approx(days, abs=5.0)


def test_warmer_nights_are_earlier():
    nights = (9.0, 12.0, 15.0, 18.0)
    dates = [chamber("Basalt", "plug", 120, 18.0, 12.0, night_c=n).anthesis for n in nights]
    assert dates == sorted(dates, reverse=True)
