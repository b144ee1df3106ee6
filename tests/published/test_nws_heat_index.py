"""National Weather Service: heat index chart and the equation page of its prediction centre.

After Rothfusz (1990), SR 90-23, and Steadman (1979). Two copies of the chart were read. The bare
regression, rounded, gives every printed cell but 90 degF / 45 % (92.49, printed 93). 90/70 is
printed 105 or 106 by copy (105.92). One copy misprints 94/50 as 102 and 94/85 as 136 (regression
102.89 and 135.15); the other copy's 103 and 135 stand here. Tolerance: exact whole degrees.
Operational cases are computed from the text of the page by hand; tolerance 0.01, their digits.
Cases marked NCL were read in the documentation of a library that gives the same equation.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.planning.labour.heat_stress import heat_index_f, heat_index_regression_f

# air degF: whole degrees for 40, 45, 50, ... % humidity
CHART = {
    110: [136], 108: [130, 137], 106: [124, 130, 137], 104: [119, 124, 131, 137],
    102: [114, 119, 124, 130, 137], 100: [109, 114, 118, 124, 129, 136],
    98: [105, 109, 113, 117, 123, 128, 134], 96: [101, 104, 108, 112, 116, 121, 126, 132],
    94: [97, 100, 103, 106, 110, 114, 119, 124, 129, 135],
    92: [94, 96, 99, 101, 105, 108, 112, 116, 121, 126, 131],
    90: [91, 93, 95, 97, 100, 103, 106, 109, 113, 117, 122, 127, 132],
    88: [88, 89, 91, 93, 95, 98, 100, 103, 106, 110, 113, 117, 121],
    86: [85, 87, 88, 89, 91, 93, 95, 97, 100, 102, 105, 108, 112],
    84: [83, 84, 85, 86, 88, 89, 90, 92, 94, 96, 98, 100, 103],
    82: [81, 82, 83, 84, 84, 85, 86, 88, 89, 90, 91, 93, 95],
    80: [80, 80, 81, 81, 82, 82, 83, 84, 84, 85, 86, 86, 87],
}  # fmt: skip
CELLS = [(air, 40 + 5 * n, index) for air, row in CHART.items() for n, index in enumerate(row)]
ODD = {(90, 45)}  # 92.49, printed 93: see above


def test_every_cell_of_the_chart():
    assert len(CELLS) == 135
    wrong = [
        (air, humidity, printed)
        for air, humidity, printed in CELLS
        if round(float(heat_index_regression_f(air, humidity))) != printed
    ]
    assert {(air, humidity) for air, humidity, _ in wrong} == ODD
    assert float(heat_index_regression_f(90, 45)) == pytest.approx(92.49, abs=0.01)


@pytest.mark.parametrize(
    ("air", "humidity", "index"),
    [(86, 95, 108.53), (84, 95, 100.88), (84, 100, 103.56), (82, 90, 91.99), (82, 95, 93.97),
     (82, 100, 96.04), (80, 95, 87.80), (80, 100, 89.29), (70, 50, 69.53), (79, 50, 78.97),
     (80, 40, 79.79), (80, 75, 83.58), (86, 90, 105.39), (90, 50, 94.60), (92, 60, 104.68),
     (92, 90, 131.26), (95, 10, 89.45), (100, 40, 109.26), (104, 55, 137.36)],
)  # fmt: skip
def test_operational_cases(air, humidity, index):
    assert float(heat_index_f(air, humidity)) == pytest.approx(index, abs=0.01)


@pytest.mark.parametrize(
    ("air", "humidity", "index"),
    [(80, 75, 83.5751), (92, 60, 104.684), (92, 90, 131.256), (104, 55, 137.361)],
)
def test_cases_of_ncl(air, humidity, index):
    assert float(heat_index_f(air, humidity)) == pytest.approx(index, abs=0.001)


def test_other_copies_of_the_chart_differ_where_the_source_says():
    assert round(float(heat_index_regression_f(94, 50)), 2) == 102.89
    assert round(float(heat_index_regression_f(94, 85)), 2) == 135.15
    assert round(float(heat_index_regression_f(90, 70)), 2) == 105.92


def test_arrays_in_any_shape():
    assert heat_index_f(np.full((2, 3), 90.0), 50.0).shape == (2, 3)
