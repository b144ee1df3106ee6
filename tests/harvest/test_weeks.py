from datetime import date, timedelta

import numpy as np

from phenocast.harvest import iso_week, week_labels


def test_weeks_across_new_year_and_a_53rd_week():
    labels, index = week_labels(date(2026, 12, 24), 14)
    assert labels == ["2026-W52", "2026-W53", "2027-W01"]
    assert np.bincount(index).tolist() == [4, 7, 3]


def test_every_week_begins_on_monday():
    start = date(2027, 1, 1)
    labels, index = week_labels(start, 400)
    for day in range(1, 400):
        monday = (start + timedelta(days=day)).weekday() == 0
        assert (index[day] != index[day - 1]) == monday
    assert labels[index[3]] == iso_week(date(2027, 1, 4)) == "2027-W01"
