"""Degree-days of a day for the six positions of its extremes to two thresholds.

Methods: Baskerville and Emin (1969), Ecology 50:514-517 (sine); Allen (1976), Environ. Entomol.
5:388-396 (double sine); Lindsey and Newman (1956), Ecology 37:812-823 (triangle); cut-off
definitions of a University of California extension glossary (read in transcription); case numbering
of Zalom et al. (1983), UC leaflet 21373 (recalled from memory).

The values were computed from the published formulas by code independent of this package, and agree
with numerical integration of the curves to 7.5e-6; no printed worked example with the intermediate
or vertical cut-off was found. Thresholds 10 and 30 degC. Tolerance 1e-6 where the six digits of the
table allow it: half of its last digit.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.thermal_time import degree_days, degree_hours

LOWER, UPPER = 10.0, 30.0
CUTOFFS = ("none", "horizontal", "intermediate", "vertical")

# case, minimum, maximum, average 1, average 2, sine with the four cut-offs, triangle with the four
CASES = [
    ("1 above both", 32, 40, 26, 20, (26, 20, 14, 0), (26, 20, 14, 0)),
    ("2 below both", 2, 8, 0, 0, (0, 0, 0, 0), (0, 0, 0, 0)),
    ("3 between", 15, 25, 10, 10, (10, 10, 10, 10), (10, 10, 10, 10)),
    (
        "4 lower crossed",
        *(5, 25, 5, 7.5),
        (6.089978, 6.089978, 6.089978, 6.089978),
        (5.625, 5.625, 5.625, 5.625),
    ),
    (
        "5 upper crossed",
        *(15, 35, 15, 12.5),
        (15, 13.910022, 12.820044, 7.243356),
        (15, 14.375, 13.75, 9.375),
    ),
    (
        "6 both crossed",
        *(5, 35, 10, 10),
        (10.881608, 10, 9.118392, 4.645591),
        (10.416667, 10, 9.583333, 6.666667),
    ),
    (
        "5 again",
        *(20, 32, 16, 15),
        (16, 15.647357, 15.294714, 10.292947),
        (16, 15.833333, 15.666667, 12.5),
    ),
    (
        "6 again",
        *(8, 40, 14, 10),
        (14.21356, 11.758118, 9.302676, 4.205264),
        (14.0625, 12.5, 10.9375, 6.25),
    ),
]


def _limit(cutoff):
    return None if cutoff == "none" else UPPER


@pytest.mark.parametrize("case", CASES, ids=lambda case: case[0])
@pytest.mark.parametrize("k", range(4), ids=CUTOFFS)
def test_single_sine_and_triangle(case, k):
    _, low, high, _, _, sine, triangle = case
    for method, expected in (("single-sine", sine), ("single-triangle", triangle)):
        got = degree_days(low, high, LOWER, _limit(CUTOFFS[k]), method=method, cutoff=CUTOFFS[k])
        assert float(got) == pytest.approx(expected[k], abs=1e-6), method


@pytest.mark.parametrize("case", CASES, ids=lambda case: case[0])
def test_averages(case):
    _, low, high, first, second, _, _ = case
    assert float(degree_days(low, high, LOWER, method="average-1")) == pytest.approx(first)
    clipped = degree_days(low, high, LOWER, UPPER, method="average-2", cutoff="horizontal")
    assert float(clipped) == pytest.approx(second)


@pytest.mark.parametrize(
    ("method", "expected"),
    [
        ("double-sine", (12.190804, 11.243699, 10.296593, 5.478571)),
        ("double-triangle", (11.958333, 11.478261, 10.998188, 7.637681)),
    ],
)
def test_double_methods_from_5_to_35_and_down_to_12(method, expected):
    got = [
        float(degree_days(5, 35, LOWER, _limit(c), method=method, cutoff=c, next_tmin=12))
        for c in CUTOFFS
    ]
    assert got == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case[0])
@pytest.mark.parametrize("cutoff", CUTOFFS)
def test_closed_forms_are_the_integrals_of_their_curves(case, cutoff):
    # 86 400 midpoints: the vertical cut-off jumps, which costs 20 degC over one midpoint, 2.3e-4
    _, low, high, *_ = case
    share = (np.arange(86400) + 0.5) / 86400
    mean, half = (low + high) / 2, (high - low) / 2
    sine = mean - half * np.cos(2 * np.pi * share)
    triangle = low + (high - low) * (1 - np.abs(2 * share - 1))
    for method, curve in (("single-sine", sine), ("single-triangle", triangle)):
        hours = degree_hours(curve, LOWER, _limit(cutoff), cutoff, step_h=24 / 86400)
        days = degree_days(low, high, LOWER, _limit(cutoff), method=method, cutoff=cutoff)
        assert float(hours) / 24 == pytest.approx(float(days), abs=5e-4), method


# Fahrenheit, thresholds 50 and 88, single sine, horizontal: comparable with printed extension
# tables, which round to 1 degF day; computed, to the two digits given.
@pytest.mark.parametrize(
    ("high", "expected"),
    [
        (70, (6.37, 7.54, 10.0, 15.0)),
        (80, (10.62, 12.18, 15.0, 20.0)),
        (90, (14.93, 16.77, 19.81, 24.78)),
        (100, (17.53, 19.44, 22.44, 27.12)),
    ],
)
def test_table_in_fahrenheit(high, expected):
    got = degree_days([30, 40, 50, 60], high, 50, 88, method="single-sine", cutoff="horizontal")
    assert got == pytest.approx(expected, abs=0.005)
