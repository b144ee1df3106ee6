"""Public notice of overtime for agricultural workers, California, 2022 on (large farms).

Read: 8 h a day and 40 h a week at the plain wage, 1.5 times above, 2 times above 12 h a day. Before
2019: 1.5 times above 10 h a day. The pays below follow by arithmetic; exact. The rule sets are
shipped as examples under names of our own and are nobody's law.
"""

from __future__ import annotations

import pytest

from phenocast.planning.labour.overtime import example_rules, extra_hours


@pytest.mark.parametrize(("day", "paid"), [(8.0, 8.0), (11.0, 12.5), (12.0, 14.0), (13.0, 16.0)])
def test_pay_of_one_day(day, paid):
    assert example_rules("example-day-and-week").pay_hours([day]) == paid


def test_an_hour_of_day_overtime_is_not_counted_again_for_the_week():
    # 5 x 9 h: 40 plain, 5 at 1.5. 6 x 8 h: 40 plain, 8 at 1.5. 6 x 9 h: 40 + 8 x 1.5 + 6 x 1.5
    rules = example_rules("example-day-and-week")
    assert rules.pay_hours([9.0] * 5) == 47.5
    assert rules.pay_hours([8.0] * 6) == 52.0
    assert rules.pay_hours([9.0] * 6) == 61.0


def test_the_older_rule_of_ten_hours_a_day():
    assert example_rules("example-long-day").pay_hours([11.0, 10.0]) == 21.5


def test_steps_of_extra_hours_cost_what_the_week_costs():
    # 5 x 8 h contract, up to 5 x 13 h: 20 h at 1.5 (to 12 h a day), 5 h at 2
    steps = extra_hours(example_rules("example-day-and-week"), 20.0, 40.0, 5, 65.0)
    assert [(s.hours, s.cost) for s in steps] == [(20.0, 30.0), (5.0, 40.0)]
