"""Sizes that a field seldom has are told, with the number that was most likely meant."""

import tomllib
from dataclasses import replace

import pytest

from phenocast.errors import CAUTION, InputError
from phenocast.io import template
from phenocast.season import season_from_mapping
from phenocast.season.parse import scale_doubts


def season(**changes):
    mapping = tomllib.loads(template("season")) | changes.pop("top", {})
    for table in (mapping["block"][0], mapping["bed"]):
        table.update({key: value for key, value in changes.items() if key in table})
    return season_from_mapping(mapping)


@pytest.mark.parametrize(
    ("key", "value", "meant", "kind"),
    [
        ("plants_per_ha", 344.0, 34400, "plants"),
        ("plants_per_ha", 34.4, 34400, "plants"),
        ("plants_per_ha", 430_000.0, 43000, "plants"),
        ("area_ha", 1200.0, 120, "area"),
        ("area_ha", 0.0002, 0.002, "area"),
        ("row_spacing_m", 4.9, None, "row spacing"),
    ],
)
def test_a_size_out_of_scale_is_told_and_not_changed(key, value, meant, kind):
    found = season(**{key: value})
    (told,) = found.warnings
    assert told.startswith(CAUTION)
    assert f"{key} = {value:.10g} is outside the usual" in told
    assert ("meant" in told) == (meant is not None)
    if meant is not None:
        assert f"(was {meant} meant?)" in told
    assert getattr(found.bed if key == "row_spacing_m" else found.blocks[0], key) == value
    right = season(**{key: value}, top={"checked": [kind]})
    assert right.warnings[0].startswith(f"stated as right ({kind}): ")


@pytest.mark.parametrize("plants", [12_000.0, 34_400.0, 60_000.0, 200_000.0])
def test_usual_sizes_are_not_told(plants):
    found = season(plants_per_ha=plants)
    assert found.warnings == ()
    plot = replace(found.blocks[0], area_ha=0.001)  # a plot of a trial, 10 m2
    assert scale_doubts(replace(found, blocks=(plot,))) == []


def test_only_known_kinds_can_be_called_right():
    with pytest.raises(InputError, match=r"checked.*not one of the choices.*'sun'"):
        season(top={"checked": ["sky"]})
