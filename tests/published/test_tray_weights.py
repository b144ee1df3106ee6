"""Trays and rates of picking: definitions and published abstracts.

The pound is 0.45359237 kg exactly (1959). Arikapudi, Vougioukas et al. (arXiv, instrumented carts,
Santa Maria): 73.56 % of harvest time is picking and a tray fills in 6.22 min, so 7.1 to 9.6 trays
an hour, as the abstract does not say which time it means. Tolerance 1e-3: the digits.
"""

from __future__ import annotations

import pytest

from phenocast.forecast.packout import tray
from phenocast.planning.picking import shipped_rates


def test_eight_one_pound_boxes():
    assert tray("8 x 1 lb").net_mass_kg == pytest.approx(8 * 0.45359237, abs=1e-3)
    assert tray("8 x 1 lb", over_pack=0.0).trays(36.287) == pytest.approx(10.0, abs=1e-3)


def test_punnets():
    assert tray("8 x 500 g").net_mass_kg == 4.0
    assert tray("12 x 250 g").net_mass_kg == 3.0


def test_trays_an_hour_from_the_time_to_fill_one():
    assert pytest.approx(9.646, abs=1e-3) == 60.0 / 6.22
    assert pytest.approx(7.096, abs=1e-3) == 60.0 / 6.22 * 0.7356
    # At peak, 1.5 to 2.5 t/ha a pick, the shipped law lies within that published range.
    eight_lb = 8 * 0.45359237
    low, high = shipped_rates().rate_kg_h([1.5, 2.5]) / eight_lb
    assert 7.096 < low < high < 9.646


@pytest.mark.parametrize(
    ("yield_t_ha", "low", "high"),
    [(0.3, 10.0, 12.0), (0.5, 10.0, 18.0), (0.8, 18.0, 22.0), (1.5, 26.0, 35.0),
     (2.5, 26.0, 35.0)],
)  # fmt: skip
def test_shipped_law_between_published_rates(yield_t_ha, low, high):
    # Germany 11 kg/h; Florida 5 units an hour at least; United States 5 to 6 flats an hour mid
    # season and 7 to 9.6 at peak. The law's two numbers were chosen to hit these: not a check of
    # the law, but of the numbers that are shipped.
    assert low <= float(shipped_rates().rate_kg_h(yield_t_ha)) <= high
