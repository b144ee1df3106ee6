"""Himelrick, D.G. (1997). HortScience 32(4):596B, abstract read: strawberry in Alabama, 3 seasons.

Soil under films from warm to cool: black, clear, ..., silver, white-on-black, bare. Order only, of
the seasonal mean. The abstract puts black above clear, which no balance with condensed drops gives,
and bare soil last, which here holds in a warm winter (Miami) and not in a cold one; neither is
checked.
"""

from __future__ import annotations

from tests.crown.stations import days_of, season


def test_order_of_black_silver_white_on_black_over_a_season():
    means = [
        days_of(season("greensboro", film, "2001-10-01").soil_10cm_c, "2001-10-01", 240).mean()
        for film in ("black", "silver", "white-on-black")
    ]
    assert means == sorted(means, reverse=True)
    assert means[0] - means[2] > 0.5
