"""Overtime: every hour is paid once, and rules that make no sense are refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.errors import InputError
from phenocast.planning.labour.overtime import OvertimeRules, example_rules, extra_hours

RULES = OvertimeRules("ours", day=((9.0, 1.25), (11.0, 2.0)), week=((42.0, 1.5),))


@given(st.lists(st.floats(0.0, 16.0), min_size=1, max_size=7))
def test_pay_lies_between_plain_and_the_highest_multiplier(days):
    paid = RULES.pay_hours(days)
    assert sum(days) - 1e-9 <= paid <= 2.0 * sum(days) + 1e-9


@given(st.lists(st.floats(0.0, 15.0), min_size=1, max_size=7), st.integers(0, 6),
       st.floats(0.0, 1.0))  # fmt: skip
def test_another_hour_never_lowers_the_pay(days, which, more):
    longer = list(days)
    longer[which % len(days)] += more
    assert RULES.pay_hours(longer) >= RULES.pay_hours(days) - 1e-9


@given(st.floats(20.0, 45.0), st.floats(45.0, 70.0), st.integers(5, 7))
def test_steps_of_extra_hours_rise_and_add_up_to_the_pay_of_the_week(contract, most, days):
    steps = extra_hours(RULES, 10.0, contract, days, most)
    assert [s.cost for s in steps] == sorted(s.cost for s in steps)
    total = sum(s.hours * s.cost for s in steps)
    paid = RULES.pay_hours([most / days] * days) - RULES.pay_hours([contract / days] * days)
    assert total == pytest.approx(10.0 * paid)
    assert sum(s.hours for s in steps) == pytest.approx(most - contract)


@pytest.mark.parametrize(
    ("stated", "words"),
    [({"day": ((10.0, 1.5), (8.0, 2.0))}, "do not rise"),
     ({"week": ((40.0, 0.5),)}, "out of range"),
     ({"day": ((30.0, 1.5),)}, "no number of hours of a day"),
     ({"longest_week_h": 0.0}, "longest week")],
)  # fmt: skip
def test_rules_that_make_no_sense(stated, words):
    with pytest.raises(InputError, match=words):
        OvertimeRules("ours", **stated)


def test_days_and_weeks_longer_than_the_rules_allow():
    rules = OvertimeRules("ours", longest_day_h=10.0, longest_week_h=48.0)
    with pytest.raises(InputError) as told:
        rules.pay_hours([11.0] * 6)
    assert len(told.value.faults) == 2
    with pytest.raises(InputError, match="contract is longer"):
        extra_hours(rules, 10.0, 50.0, 6, 60.0)


def test_an_unknown_example_is_told_the_nearest():
    with pytest.raises(InputError, match="did you mean 'example-long-day'"):
        example_rules("example-longday")
    assert example_rules("example-plain").example is True
    assert example_rules("example-plain").pay_hours([14.0] * 7) == pytest.approx(98.0)
    assert np.isfinite(example_rules("example-day-and-week").pay_hours([24.0] * 7))
