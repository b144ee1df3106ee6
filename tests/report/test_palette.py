"""Colours are told apart by everybody, and text and lines stand out from their ground.

Contrast: WCAG 2.2, relative luminance and success criteria 1.4.3 (text, 4.5) and 1.4.11 (graphics,
3); recalled from memory. Colour vision deficiencies: matrices of Machado, Oliveira and Fernandes
2009 (IEEE Transactions on Visualization and Computer Graphics 15, table of severity 1.0), recalled
from memory.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from phenocast.report.figures.canvas import ROLES, SERIES

VISION = {
    "normal": np.eye(3),
    "protan": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                        [-0.003882, -0.048116, 1.051998]]),
    "deutan": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                        [-0.011820, 0.042940, 0.968881]]),
    "tritan": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                        [0.004733, 0.691367, 0.303900]]),
}  # fmt: skip
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = np.array([0.9505, 1.0, 1.089])
COLOURS_OF_SERIES = ("tide", "brick", "heather", "moss")


def linear(colour: str) -> np.ndarray:
    part = np.array([int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)])
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    light = sorted(float(TO_XYZ[1] @ linear(colour)) for colour in (one, other))
    return (light[1] + 0.05) / (light[0] + 0.05)


def lab(rgb: np.ndarray) -> np.ndarray:
    xyz = TO_XYZ @ np.clip(rgb, 0.0, 1.0) / WHITE
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16.0 / 116.0)
    return np.array([116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])])


@pytest.mark.parametrize("dress", ["light", "dark"])
@pytest.mark.parametrize("role", ["ink", "quiet", "accent", "caution"])
def test_text_stands_out_from_every_ground(role: str, dress: str) -> None:
    for ground in ("ground", "panel"):
        assert contrast(getattr(ROLES[role], dress), getattr(ROLES[ground], dress)) >= 4.5


@pytest.mark.parametrize("dress", ["light", "dark"])
def test_lines_stand_out_from_the_ground(dress: str) -> None:
    ground = getattr(ROLES["ground"], dress)
    faint = [r for r in COLOURS_OF_SERIES if contrast(getattr(ROLES[r], dress), ground) < 3.0]
    assert faint == []


@pytest.mark.parametrize("dress", ["light", "dark"])
@pytest.mark.parametrize("vision", VISION)
def test_series_stay_apart_for_every_vision(vision: str, dress: str) -> None:
    seen = {
        role: lab(VISION[vision] @ linear(getattr(ROLES[role], dress)))
        for role in COLOURS_OF_SERIES
    }
    # A difference of 2.3 is just noticed; six times that is plain on thin lines.
    close = {
        (one, other): round(float(np.linalg.norm(seen[one] - seen[other])), 1)
        for one, other in combinations(seen, 2)
        if np.linalg.norm(seen[one] - seen[other]) < 14.0
    }
    assert close == {}


def test_no_series_is_told_by_its_colour_alone() -> None:
    assert len({one.colour for one in SERIES}) == len(SERIES)
    assert len({one.dashes for one in SERIES}) == len(SERIES)
    assert len({one.marker for one in SERIES}) == len(SERIES)
    assert {one.colour for one in SERIES} == {ROLES[role].light for role in COLOURS_OF_SERIES}


def test_every_light_colour_names_one_role() -> None:
    assert len({role.light for role in ROLES.values()}) == len(ROLES)
