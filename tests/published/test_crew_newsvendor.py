"""Cachon, G. and Terwiesch, C. Matching Supply with Demand, chapter 12, question 12.1.

The statement, the critical ratio and the table answer (235.2, from a z rounded to 0.44) were read;
the exact z of 0.4307 gives 234.46. The second problem's statement was read and its answer computed
from the closed form by another program. Tolerance 0.01: the digits given.
"""

from __future__ import annotations

import pytest

from phenocast.errors import InputError
from phenocast.planning.newsvendor import critical_share, newsvendor


def test_question_12_1():
    # price 20, cost 12, worth 8 afterwards: 8 too few, 4 too many
    found = newsvendor(200.0, 80.0, 20.0 - 12.0, 12.0 - 8.0)
    assert found.critical_share == pytest.approx(0.6667, abs=1e-4)
    assert found.amount == pytest.approx(234.46, abs=0.01)
    assert found.amount == pytest.approx(200.0 + 0.44 * 80.0, abs=0.01 * 80.0)  # table z
    assert found.expected_lost == pytest.approx(17.60, abs=0.01)
    assert found.expected_profit == pytest.approx(1250.94, abs=0.01)


def test_normal_demand_1000_200():
    found = newsvendor(1000.0, 200.0, 140.0 - 100.0, 100.0 - 90.0)
    assert found.amount == pytest.approx(1168.32, abs=0.01)
    assert found.expected_lost == pytest.approx(22.33, abs=0.01)
    assert found.expected_profit == pytest.approx(37200.38, abs=0.01)


def test_too_few_must_cost_something():
    with pytest.raises(InputError, match="above zero"):
        critical_share(0.0, 4.0)
